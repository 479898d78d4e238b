"""Which pairs of patches, or of points and patches, a body can come between."""

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel


@inline
def meets_box(a, b, low, high, at_a, at_b):
    """Whether the shaft from a to b, that far around it at either end, can meet a box."""
    enter = 0.0
    leave = 1.0
    for k in range(3):
        way = b[k] - a[k]
        wider = at_b - at_a
        # s (way + wider) >= least and s (way - wider) <= most, each a bound on s
        for side in range(2):
            slope = way + wider if side == 0 else wider - way
            least = low[k] - a[k] - at_a if side == 0 else a[k] - high[k] - at_a
            if abs(slope) < 1e-9:
                if least > 0.0:
                    return False
            elif slope > 0.0:
                enter = max(enter, least / slope)
            else:
                leave = min(leave, least / slope)
        if enter > leave:
            return False
    return True


@kernel
def mark_between(starts, radii, ends, end_radii, low, high, out):
    """Mark pairs whose joining segments can meet a box.

    starts (P, 3), ends (Q, 3) float32: centres [m]; radii (P,), end_radii (Q,) float32: how far
    start and end reach around them [m]; low, high (B, 3) float32: boxes [m]; out (P, Q) bool.
    """
    for p in numba.prange(starts.shape[0]):
        for q in range(ends.shape[0]):
            found = False
            for b in range(low.shape[0]):
                if meets_box(starts[p], ends[q], low[b], high[b], radii[p], end_radii[q]):
                    found = True
                    break
            out[p, q] = found


@kernel
def segment_ends(pairs, starts, ends, first, out_start, out_way, out_length):
    """Rays between listed pairs, each shortened a little at both ends.

    pairs (N, 2) int32; starts (P, R, 3), ends (Q, R, 3) float32 [m]: ray r joins start point
    (r + first) mod R of the one to end point r of the other; first int32; out_start, out_way
    (N, R, 3) and out_length (N, R) float32: start [m], unit direction and length [m].
    """
    rays = starts.shape[1]
    for i in numba.prange(pairs.shape[0]):
        for r in range(rays):
            # a different partner for each pair: no common pattern of misses
            s = (r * 5 + first + pairs[i, 0] + pairs[i, 1]) % rays
            total = np.float32(0.0)
            for k in range(3):
                way = ends[pairs[i, 1], r, k] - starts[pairs[i, 0], s, k]
                out_way[i, r, k] = way
                total += way * way
            length = np.float32(np.sqrt(total))
            trim = min(np.float32(1e-4), np.float32(0.1) * length)
            out_length[i, r] = length - np.float32(2.0) * trim
            for k in range(3):
                out_way[i, r, k] /= max(length, np.float32(1e-9))
                out_start[i, r, k] = starts[pairs[i, 0], s, k] + trim * out_way[i, r, k]
