"""Which pairs of places something can come between, and rays between them."""

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt

#: A place is in front of a plane, or behind it, with this much to spare. [m]
SPARE_M = np.float32(1e-5)
#: Pairs nearer than this many times the end's half diagonal get all their segments.
NEAR = np.float32(6.0)


@inline
def set_shaft(starts, start_sizes, p, ends, end_sizes, q, base, inverse):
    """Note the shaft between the boxes of two places, for `meets_box`.

    A point between them is s of the way, 0 to 1; along each axis a box's low side, and its high
    side with the sign changed, bounds s by (side - base) inverse. base, inverse (6,) float64.
    """
    for k in range(3):
        way = np.float64(ends[q, k] - starts[p, k])
        wider = np.float64(end_sizes[q, k] - start_sizes[p, k])
        base[k] = starts[p, k] + start_sizes[p, k]
        base[k + 3] = start_sizes[p, k] - starts[p, k]
        one = way + wider
        other = wider - way
        # where nothing changes along the way, either all of s is left or none
        inverse[k] = 1.0 / one if abs(one) > 1e-9 else 1e9
        inverse[k + 3] = 1.0 / other if abs(other) > 1e-9 else 1e9


@inline
def meets_box(base, inverse, sides, t):
    """Whether a shaft meets box t; sides (T, 6): low sides, and high ones with signs changed."""
    enter = 0.0
    leave = 1.0
    for k in range(6):
        at = (sides[t, k] - base[k]) * inverse[k]
        if inverse[k] > 0.0:
            enter = at if at > enter else enter
        else:
            leave = at if at < leave else leave
    return enter <= leave


@inline
def beside(starts, start_sizes, p, ends, end_sizes, q, planes, t):
    """Whether both boxes lie on one side of plane t, (n, d) with n . x = d; never if n is 0."""
    x = -planes[t, 3]
    y = -planes[t, 3]
    at_x = np.float32(0.0)
    at_y = np.float32(0.0)
    size = np.float32(0.0)
    for k in range(3):
        x += planes[t, k] * starts[p, k]
        y += planes[t, k] * ends[q, k]
        n = abs(planes[t, k])
        size += n
        at_x += n * start_sizes[p, k]
        at_y += n * end_sizes[q, k]
    if size == 0.0:
        return False
    before = x - at_x >= -SPARE_M and y - at_y >= -SPARE_M
    return before or (x + at_x <= SPARE_M and y + at_y <= SPARE_M)


@inline
def set_sides(low, high, sides):
    """Sides of boxes as `meets_box` takes them; the last row is the box around all of them."""
    count = low.shape[0]
    for k in range(6):
        sides[count, k] = np.inf
        for t in range(count):
            sides[t, k] = low[t, k] if k < 3 else -high[t, k - 3]
            sides[count, k] = min(sides[count, k], sides[t, k])


@kernel
def mark_groups(
    starts, start_sizes, start_owners, ends, end_sizes, end_owners, low, high, planes, owners, out
):  # fmt: skip
    """Mark, for pairs of groups of places, the things that can come between.

    starts (A, 3), start_sizes (A, 3), ends (B, 3), end_sizes (B, 3) float32: centres and half
    sizes of the groups' boxes [m]; low, high (T, 3) float32: boxes of the things [m]; planes
    (T, 4) float32: normal and distance of flat ones, else 0; start_owners (A,), end_owners (B,),
    owners (T,) int32: surface of each, which never hides its own; out (A, B, T) bool.
    """
    sides = np.empty((low.shape[0] + 1, 6))
    set_sides(low, high, sides)
    for a in numba.prange(starts.shape[0]):
        base = np.empty(6)
        inverse = np.empty(6)
        for b in range(ends.shape[0]):
            set_shaft(starts, start_sizes, a, ends, end_sizes, b, base, inverse)
            for t in range(low.shape[0]):
                own = owners[t] == start_owners[a] or owners[t] == end_owners[b]
                out[a, b, t] = (
                    not own
                    and meets_box(base, inverse, sides, t)
                    and not beside(starts, start_sizes, a, ends, end_sizes, b, planes, t)
                )


@inline
def stops(a, b, plane, drop, edges, begin, end, trim):
    """Whether a polygon stops the segment from a to b, less its share `trim` at either end.

    plane (4,); drop: the axis along which the polygon is looked at; edges (E, 4): its edges
    `begin` to `end` in the other two, holes among them (even-odd rule).
    """
    before = plane[0] * a[0] + plane[1] * a[1] + plane[2] * a[2] - plane[3]
    behind = plane[0] * b[0] + plane[1] * b[1] + plane[2] * b[2] - plane[3]
    if before * behind >= 0.0:
        return False
    t = before / (before - behind)
    if t <= trim or t >= 1.0 - trim:
        return False
    i = 1 if drop == 0 else 0
    j = 1 if drop == 2 else 2
    x = a[i] + t * (b[i] - a[i])
    y = a[j] + t * (b[j] - a[j])
    inside = False
    for e in range(begin, end):
        y0 = edges[e, 1]
        y1 = edges[e, 3]
        if (y0 > y) != (y1 > y):
            if x < edges[e, 0] + (y - y0) * (edges[e, 2] - edges[e, 0]) / (y1 - y0):
                inside = not inside
    return inside


@inline
def trim_of(start, facing, end, other):
    """Share that a segment loses at either end; 0 where it leaves or arrives from behind.

    facing, other (3,) are the normals at start and end. What comes from behind is no part of a form
    factor and says nothing of what is hidden of it: counted, it hid 3 % of all that housings see.
    Segments that count by their cosines and length too were no better: near by, one of sixteen
    then decides.
    """
    out_of, into, square = 0.0, 0.0, 0.0
    for axis in range(3):
        way = np.float64(end[axis] - start[axis])
        out_of += facing[axis] * way
        into -= other[axis] * way
        square += way * way
    if out_of <= 0.0 or into <= 0.0:
        return 0.0
    length = np.sqrt(square)
    return 0.1 if length < 5e-4 else 5e-5 / length


@kernel
def hide_flow(
    starts, start_sizes, start_groups, start_points, start_normals,
    ends, end_sizes, end_groups, end_points, end_normals,
    low, high, planes, drops, edge_starts, edges, groups, some, few, upper, flow, rest,
):  # fmt: skip
    """Multiply flow by the share of segments that no thing stops, where one can.

    A few segments decide; near pairs, and those that these find partly hidden, get all: those that
    do not come from behind, see `trim_of`. Pairs with something between that is not flat are left
    alone and marked in `rest`.

    As `mark_groups`, for places; start_groups (P,), end_groups (Q,) int32: group of each;
    start_points (P, S, 3), S a divisor of R, and end_points (Q, R, 3) float32: points spread over
    each [m]; start_normals (P, 3), end_normals (Q, 3) float32; drops (T,)
    int32, edge_starts (T + 1,) int32, edges (E, 4) float64: see `stops`; groups (A, B, T) bool:
    from `mark_groups`; some (A, B) bool: any of these; few (F,) int32: which of R to begin with;
    upper: whether only pairs p < q count, each set both ways; flow (P, Q) float32; rest (P, Q)
    bool.
    """
    rays = end_points.shape[1]
    spread = start_points.shape[1]
    sides = np.empty((low.shape[0] + 1, 6))
    set_sides(low, high, sides)
    # a different partner for each pair: no common pattern of misses
    partner = np.empty(6 * rays, np.int32)
    for k in range(partner.size):
        partner[k] = k % rays % spread
    for card in numba.prange(starts.shape[0]):
        p = dealt(card, starts.shape[0])
        found = np.empty(low.shape[0], np.int32)
        base = np.empty(6)
        inverse = np.empty(6)
        for q in range(p + 1 if upper else 0, ends.shape[0]):
            a = start_groups[p]
            b = end_groups[q]
            if not (some[a, b] and flow[p, q] > 0.0):
                continue
            set_shaft(starts, start_sizes, p, ends, end_sizes, q, base, inverse)
            # what misses the box around all things misses each of them
            if not meets_box(base, inverse, sides, low.shape[0]):
                continue
            count = 0
            flat = True
            for t in range(low.shape[0]):
                if (
                    groups[a, b, t]
                    and meets_box(base, inverse, sides, t)
                    and not beside(starts, start_sizes, p, ends, end_sizes, q, planes, t)
                ):
                    found[count] = t
                    count += 1
                    flat = flat and edge_starts[t + 1] > edge_starts[t]
            if count == 0:
                continue
            if not flat:
                rest[p, q] = True
                continue
            clear = 0
            asked = 0
            far = np.float32(0.0)
            reach = np.float32(0.0)
            for axis in range(3):
                far += (ends[q, axis] - starts[p, axis]) ** 2
                reach += end_sizes[q, axis] ** 2
            begin = 0 if far > NEAR * NEAR * reach else few.size
            shift = (p + q) % rays
            for k in range(begin, few.size + rays):
                if k == few.size and begin == 0 and asked > 0 and (clear == 0 or clear == asked):
                    break
                if k == few.size:
                    clear = 0
                    asked = 0
                r = few[k] if k < few.size else k - few.size
                s = partner[r * 5 + shift]
                start = start_points[p, s]
                end = end_points[q, r]
                trim = trim_of(start, start_normals[p], end, end_normals[q])
                if trim == 0.0:
                    continue
                stopped = False
                for k_t in range(count):
                    t = found[k_t]
                    if stops(
                        start, end, planes[t], drops[t], edges, edge_starts[t],
                        edge_starts[t + 1], trim,
                    ):  # fmt: skip
                        stopped = True
                        break
                asked += 1
                if not stopped:
                    clear += 1
            if clear < asked:
                share = np.float32(clear) / np.float32(asked)
                flow[p, q] *= share
                if upper:
                    flow[q, p] *= share


@kernel
def listed_shares(
    points, facing, owner, corners, normals, end_owners, pairs, planes, drops, edge_starts, edges,
    owners, share,
):  # fmt: skip
    """Share of each listed pair of a point and a quadrangle that nothing flat stops.

    Four segments a pair, as in `hide_flow`. points (P, 3), facing (3,) float32, owner
    int: of the points; corners (Q, 4, 3), normals (Q, 3) float32, end_owners (Q,) int32; pairs
    (N, 2) int32; planes .. edges as `hide_flow`, owners (T,) int32 as `mark_groups`; share (N,)
    float32.
    """
    for i in numba.prange(pairs.shape[0]):
        start = points[pairs[i, 0]]
        q = pairs[i, 1]
        end = np.empty(3, np.float32)
        clear, asked = 0, 0
        for k in range(4):
            x = np.float32(0.25 if k & 1 else 0.75)
            y = np.float32(0.25 if k & 2 else 0.75)
            for axis in range(3):
                low = corners[q, 0, axis] + x * (corners[q, 1, axis] - corners[q, 0, axis])
                high = corners[q, 3, axis] + x * (corners[q, 2, axis] - corners[q, 3, axis])
                end[axis] = low + y * (high - low)
            trim = trim_of(start, facing, end, normals[q])
            if trim == 0.0:
                continue
            stopped = False
            for t in range(planes.shape[0]):
                if owners[t] == owner or owners[t] == end_owners[q]:
                    continue
                if stops(
                    start, end, planes[t], drops[t], edges, edge_starts[t], edge_starts[t + 1],
                    trim,
                ):  # fmt: skip
                    stopped = True
                    break
            asked += 1
            if not stopped:
                clear += 1
        share[i] = np.float32(clear) / np.float32(max(asked, 1))


@kernel
def segment_ends(
    pairs, starts, start_normals, ends, end_normals, first, out_start, out_way, out_length,
    out_counts,
):  # fmt: skip
    """Rays between listed pairs, each shortened a little at both ends.

    pairs (N, 2) int32; starts (P, R, 3), ends (Q, R, 3) float32 [m]: ray r joins start point
    (r + first) mod R of the one to end point r of the other; first int32; start_normals (P, 3),
    end_normals (Q, 3) float32; out_start, out_way (N, R, 3) and out_length (N, R) float32: start
    [m], unit direction and length [m]; out_counts (N, R) bool: whether it does
    not come from behind.
    """
    rays = starts.shape[1]
    for i in numba.prange(pairs.shape[0]):
        p, q = pairs[i, 0], pairs[i, 1]
        for r in range(rays):
            # a different partner for each pair: no common pattern of misses
            s = (r * 5 + first + p + q) % rays
            trim = trim_of(starts[p, s], start_normals[p], ends[q, r], end_normals[q])
            out_counts[i, r] = trim > 0.0
            total = np.float32(0.0)
            for k in range(3):
                way = ends[q, r, k] - starts[p, s, k]
                out_way[i, r, k] = way
                total += way * way
            length = np.float32(np.sqrt(total))
            less = min(np.float32(1e-4), np.float32(0.1) * length)
            out_length[i, r] = length - np.float32(2.0) * less
            for k in range(3):
                out_way[i, r, k] /= max(length, np.float32(1e-9))
                out_start[i, r, k] = starts[p, s, k] + less * out_way[i, r, k]
