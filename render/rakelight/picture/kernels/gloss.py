"""The glossy part of direct light: a microfacet lobe toward the eye, summed over an opening."""

# mypy: allow-untyped-defs
import math

import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt

ALONG = 24  # places along a run that fills the half turn seen from before the lobe's middle
ACROSS = 9  # and across an opening that is wide beside the lobe
SHARED_FROM = 0.3  # width of lobe from which neighbouring samples share a sum


@inline
def _on(values, x, y):
    """Bilinear value and its cell, for a place in steps."""
    rows, columns = values.shape
    x = min(max(x, 0.0), columns - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    i = min(int(x), columns - 2)
    j = min(int(y), rows - 2)
    f = x - i
    g = y - j
    low = values[j, i] + f * (values[j, i + 1] - values[j, i])
    high = values[j + 1, i] + f * (values[j + 1, i + 1] - values[j + 1, i])
    return low + g * (high - low)


@inline
def _diamond(p, q):
    size = abs(p) + abs(q)
    if size == 0.0:
        return 0.0
    a = q / size
    if p >= 0.0:
        return a
    return 2.0 - a if q >= 0.0 else -2.0 - a


@inline
def _candela(table, margin, along, p, q):
    """Candela per metre toward a unit direction: along the axis, nadir and across."""
    row = (along + 1.0) * 0.5 * (table.shape[0] - 1)
    i = min(max(int(row), 0), table.shape[0] - 2)
    f = row - i
    column = (_diamond(p, q) + 2.0) * ((table.shape[1] - 1 - 2 * margin) / 4.0) + margin
    j = min(max(int(column), 0), table.shape[1] - 2)
    g = column - j
    low = table[i, j] + g * (table[i, j + 1] - table[i, j])
    high = table[i + 1, j] + g * (table[i + 1, j + 1] - table[i + 1, j])
    return low + f * (high - low)


@inline
def lobe(ni, no, nh, ih, alpha, f0):
    """Bidirectional reflectance: D V F of Trowbridge and Reitz with Smith's shadowing. [1/sr]"""
    a2 = alpha * alpha
    k = nh * nh * (a2 - 1.0) + 1.0
    d = a2 / (math.pi * k * k)
    v = 0.5 / (
        no * math.sqrt(a2 + (1.0 - a2) * ni * ni) + ni * math.sqrt(a2 + (1.0 - a2) * no * no)
    )
    c = 1.0 - ih
    c2 = c * c
    return d * v * (f0 + (1.0 - f0) * c2 * c2 * c)


@inline
def _seen_from(u, v, heights, slopes, per_u, per_v, local_eye):
    """Place, unit normal and unit direction to the eye, in the surface's own frame."""
    h = 0.0
    nu = 0.0
    nv = 0.0
    nn = 1.0
    if heights.shape[0] > 1:
        x = u * per_u
        y = v * per_v
        h = _on(heights, x, y)
        nu = _on(slopes[0], x, y)
        nv = _on(slopes[1], x, y)
        nn = _on(slopes[2], x, y)
        size = math.sqrt(nu * nu + nv * nv + nn * nn)
        nu /= size
        nv /= size
        nn /= size
    eu = local_eye[0] - u
    ev = local_eye[1] - v
    en = local_eye[2] - h
    size = math.sqrt(eu * eu + ev * ev + en * en)
    return h, nu, nv, nn, eu / size, ev / size, en / size


@kernel
def add_surround(
    ids,  # int16 (all rows, columns)
    u,  # float32, m
    v,  # float32, m
    first,  # first row of the band
    owner,
    heights,  # float32 (grid rows, columns), m; (1, 1) where flat
    slopes,  # float32 (3, grid rows, columns): unit normals
    per_u,
    per_v,
    local_eye,  # float64 (3,), in the surface's frame
    albedo,  # float64 (n,): the lobe's share of light by cosine to the eye, 0 to 1
    diffuse_lx,  # float32 (grid rows, columns): light that comes from all over
    colour,  # float64 (3,): its colour
    out,  # float32 (band rows, columns, 3): dull luminance in, changed
):
    """Take the lobe's share from the dull part, and let the lobe show the surroundings."""
    rows, columns = out.shape[0], out.shape[1]
    last = albedo.size - 1
    for card in prange(rows):
        row = dealt(card, rows)
        for column in range(columns):
            r = first + row
            if ids[r, column] != owner:
                continue
            a = np.float64(u[r, column])
            b = np.float64(v[r, column])
            _, nu, nv, nn, eu, ev, en = _seen_from(a, b, heights, slopes, per_u, per_v, local_eye)
            cosine = min(max(nu * eu + nv * ev + nn * en, 0.0), 1.0) * last
            k = min(int(cosine), last - 1)
            share = albedo[k] + (cosine - k) * (albedo[k + 1] - albedo[k])
            around = share * _on(diffuse_lx, a * per_u, b * per_v) / math.pi
            for c in range(3):
                out[row, column, c] = out[row, column, c] * (1.0 - share) + around * colour[c]


@inline
def _mirrored(
    a, b, heights, slopes, per_u, per_v, local_eye, run, lit, width, table, margin, alpha, f0
):
    """What the lobe at a place sends of a run to the eye, with nothing in between."""
    half = 0.5 * width
    # a wide lobe is smooth, and needs fewer
    places = ALONG * (1.0 - 0.6 * alpha)
    h, nu, nv, nn, eu, ev, en = _seen_from(a, b, heights, slopes, per_u, per_v, local_eye)
    no = nu * eu + nv * ev + nn * en
    if no <= 0.0:
        return 0.0
    no = max(no, 1e-3)
    # the mirrored ray, and from the run's start to the place, in the run's axes
    ru = 2.0 * no * nu - eu
    rv = 2.0 * no * nv - ev
    rn = 2.0 * no * nn - en
    pu = a - run[0, 0]
    pv = b - run[0, 1]
    pn = h - run[0, 2]
    px = pu * run[1, 0] + pv * run[1, 1] + pn * run[1, 2]
    pq = pu * run[3, 0] + pv * run[3, 1] + pn * run[3, 2]
    before = pu * run[4, 0] + pv * run[4, 1] + pn * run[4, 2]
    if before <= 0.0:
        return 0.0  # behind the opening's plane
    rx = ru * run[1, 0] + rv * run[1, 1] + rn * run[1, 2]
    rq = ru * run[3, 0] + rv * run[3, 1] + rn * run[3, 2]
    toward = -(ru * run[4, 0] + rv * run[4, 1] + rn * run[4, 2])
    steep = max(toward, 0.05)
    far = before / steep
    hit_q = pq + rq * far
    hit_q = min(max(hit_q, -half), half)
    wide_x = 2.0 * alpha * far / math.sqrt(steep)
    wide_q = wide_x
    hit_x = px + rx * far
    q0 = math.atan((-half - hit_q) / wide_q)
    q1 = math.atan((half - hit_q) / wide_q)
    across = 1 if width < 0.3 * wide_q else (3 if width < wide_q else ACROSS)
    total = 0.0
    for segment in range(lit.shape[0]):
        at = min(max(hit_x, lit[segment, 0]), lit[segment, 1])
        x0 = math.atan((lit[segment, 0] - at) / wide_x)
        x1 = math.atan((lit[segment, 1] - at) / wide_x)
        along = max(4, math.ceil(places * (x1 - x0) / math.pi))
        for s in range(along):
            t = math.tan(x0 + (s + 0.5) * (x1 - x0) / along)
            x = at + wide_x * t
            dx = wide_x * (1.0 + t * t) * (x1 - x0) / along
            for m in range(across):
                t = math.tan(q0 + (m + 0.5) * (q1 - q0) / across)
                q = hit_q + wide_q * t
                dq = wide_q * (1.0 + t * t) * (q1 - q0) / across
                # from the place to the source
                lu = run[0, 0] + x * run[1, 0] + q * run[3, 0] - a
                lv = run[0, 1] + x * run[1, 1] + q * run[3, 1] - b
                ln = run[0, 2] + x * run[1, 2] + q * run[3, 2] - h
                d2 = lu * lu + lv * lv + ln * ln
                d = math.sqrt(d2)
                lu /= d
                lv /= d
                ln /= d
                ni = nu * lu + nv * lv + nn * ln
                if ni <= 0.0:
                    continue
                hu = lu + eu
                hv = lv + ev
                hn = ln + en
                size = math.sqrt(hu * hu + hv * hv + hn * hn)
                if size < 1e-9:
                    continue
                nh = min((nu * hu + nv * hv + nn * hn) / size, 1.0)
                ih = min((lu * hu + lv * hv + ln * hn) / size, 1.0)
                cd = _candela(
                    table,
                    margin,
                    -(lu * run[1, 0] + lv * run[1, 1] + ln * run[1, 2]),
                    -(lu * run[2, 0] + lv * run[2, 1] + ln * run[2, 2]),
                    -(lu * run[3, 0] + lv * run[3, 1] + ln * run[3, 2]),
                )
                total += lobe(ni, no, nh, ih, alpha, f0) * ni * cd / width / d2 * dx * dq
    return total


@kernel
def add_gloss(
    ids,
    u,
    v,
    first,
    owner,
    heights,
    slopes,
    per_u,
    per_v,
    local_eye,
    seen,  # float32 (grid rows, columns): share of the run's light that arrives
    run,  # float64 (5, 3): start, axis, nadir, across and front, in the surface's frame
    lit,  # float64 (k, 2): lit lengths along the axis, m
    width,  # of the opening, m
    table,  # float32: candela per metre, see `light.table`
    margin,
    alpha,
    f0,
    colour,  # float64 (3,): of the light, times its level
    in_pairs,  # whether two samples beside each other share one pixel
    out,
):
    """Add one run's reflection.

    The places along and across the opening lie closest where the eye's mirrored ray meets its
    plane: equal steps of the angle seen from as far before that point as the lobe is wide.
    A wide lobe is summed for one of two neighbouring samples, by turns the left and the right,
    and serves both if they lie on the same surface.
    """
    rows, columns = out.shape[0], out.shape[1]
    shared = in_pairs and alpha > SHARED_FROM
    for card in prange(rows):
        row = dealt(card, rows)
        r = first + row
        turn = r & 1 if shared else 0
        total, summed = 0.0, -1
        for k in range(columns):
            column = k ^ turn
            if column >= columns or ids[r, column] != owner:
                continue
            a = np.float64(u[r, column])
            b = np.float64(v[r, column])
            share = _on(seen, a * per_u, b * per_v)
            if share <= 0.0:
                continue
            if not (shared and k & 1 and summed == k - 1):
                summed = k
                total = _mirrored(
                    a,
                    b,
                    heights,
                    slopes,
                    per_u,
                    per_v,
                    local_eye,
                    run,
                    lit,
                    width,
                    table,
                    margin,
                    alpha,
                    f0,
                )
            for c in range(3):
                out[row, column, c] += total * share * colour[c]


@kernel
def add_unhindered(
    heights,  # float32 (rows, columns), m
    slopes,  # float32 (3, rows, columns): unit normals
    step_u,  # m
    step_v,
    run,  # float64 (5, 3): start, axis, nadir, across and front, in the surface's frame
    lit,  # float64 (k, 2), m
    table,  # float32: candela per metre
    margin,
    steps,  # of the sum along a lit length
    out,  # float32 (rows, columns): added to, lx
):
    """What a thin run sends to a relief's vertices with nothing in between, to some percent."""
    for card in prange(heights.shape[0]):
        row = dealt(card, heights.shape[0])
        for column in range(heights.shape[1]):
            pu = run[0, 0] - column * step_u
            pv = run[0, 1] - row * step_v
            pn = run[0, 2] - heights[row, column]
            nu = slopes[0, row, column]
            nv = slopes[1, row, column]
            nn = slopes[2, row, column]
            # from the vertex to the run's start, in the run's axes
            x0 = pu * run[1, 0] + pv * run[1, 1] + pn * run[1, 2]
            p = pu * run[2, 0] + pv * run[2, 1] + pn * run[2, 2]
            q = pu * run[3, 0] + pv * run[3, 1] + pn * run[3, 2]
            rho2 = p * p + q * q
            rho = max(math.sqrt(rho2), 1e-4)
            along = nu * run[1, 0] + nv * run[1, 1] + nn * run[1, 2]
            beside = nu * (pu - x0 * run[1, 0]) + nv * (pv - x0 * run[1, 1])
            beside += nn * (pn - x0 * run[1, 2])
            total = 0.0
            for segment in range(lit.shape[0]):
                low = math.atan((x0 + lit[segment, 0]) / rho)
                high = math.atan((x0 + lit[segment, 1]) / rho)
                for k in range(steps):
                    t = math.tan(low + (k + 0.5) * (high - low) / steps)
                    x = rho * t
                    facing = along * x + beside
                    if facing <= 0.0:
                        continue
                    far = math.sqrt(x * x + rho2)
                    cd = _candela(table, margin, -x / far, -p / far, -q / far)
                    dx = rho * (1.0 + t * t) * (high - low) / steps
                    total += cd * facing / (far * far * far) * dx
            out[row, column] += total
