"""Direct light of a run at any angle to a relief, with self-shadowing.

As `relief_line`, but nothing is shared along a row: every vertex has its own distance, its own
angles along the run and its own azimuths. Vertices are taken in short blocks, the steps along
the run outside and the vertices inside; angles advance by a rotation, and the azimuth is found
with a polynomial, so that no loop over vertices needs trigonometry or a branch.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel
from rakelight.light.kernels.deal import dealt

F0 = np.float32(0.0)
F1 = np.float32(1.0)
F2 = np.float32(2.0)
HALF = np.float32(0.5)
TINY = np.float32(1e-12)
GAUSS = np.float32(0.5 / math.sqrt(3.0))
TO_LEAN = np.float32(math.sqrt(3.0))
TWELFTH = np.float32(1.0 / 12.0)
# atan(y) / pi for y from -1 to 1, to 4e-6 (fitted here)
QUARTER = np.float32(0.25)
A1 = np.float32(0.31826733)
A3 = np.float32(-0.10513923)
A5 = np.float32(0.05734630)
A7 = np.float32(-0.02710586)
A9 = np.float32(0.00663509)
#: Vertices in a block.
BLOCK = 64


@quick
def sine_of(a):
    """Sine of an angle under a quarter turn, to float32."""
    b = a * a
    return a * (
        F1
        - b * np.float32(1 / 6) * (
            F1 - b * np.float32(1 / 20) * (F1 - b * np.float32(1 / 42) * (F1 - b / np.float32(72)))
        )
    )  # fmt: skip


@quick
def cosine_of(a):
    """Cosine of an angle under a quarter turn, to float32."""
    b = a * a
    return F1 - b * HALF * (
        F1
        - b * np.float32(1 / 12) * (
            F1 - b * np.float32(1 / 30) * (F1 - b * np.float32(1 / 56) * (F1 - b / np.float32(90)))
        )
    )  # fmt: skip


@quick
def half_turns(u, v):
    """Azimuth from +v toward +u over half a turn, -1/2 to 1/2, for v >= 0."""
    side = abs(u)
    y = (side - v) / (side + v + TINY)
    b = y * y
    a = QUARTER + y * (A1 + b * (A3 + b * (A5 + b * (A7 + b * A9))))
    return a if u > F0 else -a


@quick
def diamond_of(p, q):
    """Angle of (p, q) as -2..2, one a quarter turn; no branch."""
    a = q / (abs(p) + abs(q) + np.float32(1e-9))
    far = F2 - a if q >= F0 else -F2 - a
    return a if p >= F0 else far


@quick
def advance(co, si, turn_co, turn_si, n):
    """Turn every vertex's angle along the run by its own step."""
    for c in range(n):
        a = co[c] * turn_co[c] - si[c] * turn_si[c]
        si[c] = si[c] * turn_co[c] + co[c] * turn_si[c]
        co[c] = a


@quick
def find_azimuths(co, si, rho, u_0, v_0, n_0, axis, lean, azimuths, place, plan_a, plan_b, high, n):
    """Direction of the source point over the wall, scaled by the cosine of its angle."""
    most = np.float32(azimuths - 1)
    for c in range(n):
        x = rho[c] * si[c]
        k = co[c]
        u = u_0[c] * k + x * axis[0]
        v = v_0[c] * k + x * axis[1]
        high[c] = n_0[c] * k + x * axis[2]
        at = (half_turns(u, v if v > F0 else F0) + HALF) * np.float32(azimuths) - HALF
        at = at if at > F0 else F0
        place[c] = at if at < most else most
        a = u - lean[0] * k
        b = v - lean[1] * k
        plan_a[c] = np.float32(math.sqrt(a * a + b * b))
        a = u + lean[0] * k
        b = v + lean[1] * k
        plan_b[c] = np.float32(math.sqrt(a * a + b * b))


@quick
def look_over(
    horizons, plane, first, azimuths, place, plan_a, plan_b, high, lean_n, co, seen, y, n
):
    """Share of the strip over two stored horizons, mixed, and the middle of what is seen."""
    last = np.int64(max(azimuths - 2, 0))
    next_plane = plane if azimuths > 1 else np.int64(0)
    for c in range(n):
        k = np.int64(place[c])
        k = k if k < last else last
        mix = place[c] - np.float32(k)
        cell = k * plane + first + c
        one = horizons[cell]
        two = horizons[cell + next_plane]
        n_a = high[c] - lean_n * co[c]
        n_b = high[c] + lean_n * co[c]
        over_a = n_a - one * plan_a[c]
        over_b = n_b - one * plan_b[c]
        most = over_a if over_a > over_b else over_b
        least = over_b if over_a > over_b else over_a
        low = most / (most - least + TINY)
        low = low if low < F1 else F1
        low = low if low > F0 else F0
        lower = over_b > over_a
        over_a = n_a - two * plan_a[c]
        over_b = n_b - two * plan_b[c]
        most = over_a if over_a > over_b else over_b
        least = over_b if over_a > over_b else over_a
        share = most / (most - least + TINY)
        share = share if share < F1 else F1
        share = share if share > F0 else F0
        share = low + mix * (share - low)
        seen[c] = share
        outer = HALF if lower else -HALF
        y[c] = outer * (F1 - share)


@quick
def look_up(table, wide, psi_cells, psi_last, phi, si, candela, n):
    """Candela per metre toward each vertex along one line of the strip."""
    for c in range(n):
        i = (F1 - si[c]) * psi_cells
        row = np.int32(i)
        row = row if row < psi_last else psi_last
        row = row if row > 0 else np.int32(0)
        f = i - np.float32(row)
        column = np.int32(phi[c])
        g = phi[c] - np.float32(column)
        cell = row * wide + column
        low = table[cell] + g * (table[cell + 1] - table[cell])
        cell += wide
        high = table[cell] + g * (table[cell + 1] - table[cell])
        candela[c] = low + f * (high - low)


@quick
def add_up(co, si, rho, facing_0, along, tip, low, high, seen, y, weight, total, n):
    """Integral over the visible part of the strip, candela and facing linear across it."""
    for c in range(n):
        share = seen[c]
        facing = facing_0[c] * co[c] + along[c] * rho[c] * si[c]
        tilt = tip[c] * co[c]
        lean = (high[c] - low[c]) * TO_LEAN
        facing += tilt * y[c]
        facing = facing if facing > F0 else F0
        light = (HALF * (low[c] + high[c]) + lean * y[c]) * facing
        light += lean * tilt * share * share * TWELFTH
        light = light if light > F0 else F0
        total[c] += light * share * weight[c]


@quick_kernel
def relief_any(
    heights, normals, rows_v, step_u, horizons, origin, spin, lit, width, chords, table, margin,
    near_widths, steps, out,
):  # fmt: skip
    """Add one run's illuminance to the vertices of a relief that lie at smaller v.

    heights (R, C) float32 [m]; normals (3, R, C) float32 unit (u, v, n); rows_v (R,) float32
    [m]; step_u float32 [m]; horizons (K, R, C) float32 tangents at azimuths
    -90 + (k + 1/2) 180 / K degrees from +v toward +u; origin (3,), spin (3, 3) float64: the
    opening's centre and the run's axis, nadir and across vectors as (u, v, n); lit (L, 2)
    float64 [m] along the axis; width float64 [m]; chords: True for round openings; table
    (P, F) float32 [cd/m] over sin(psi) and the diamond angle, -2 at column `margin`;
    near_widths (2,) float64: distance over width within which 3 and 7 strips are seen; steps
    over 180 degrees of psi; out (R, C) float32 [lx].
    """
    columns = heights.shape[1]
    azimuths = horizons.shape[0]
    plane = np.int64(heights.shape[0]) * columns
    flat_horizons = horizons.ravel()
    flat = table.ravel()
    wide = np.int32(table.shape[1])
    psi_cells = np.float32(table.shape[0] - 1) * HALF
    psi_last = np.int32(table.shape[0] - 2)
    phi_cells = np.float32((table.shape[1] - 1 - 2 * margin) / 4)
    edge = np.float32(margin)
    axis = spin[0].astype(np.float32)
    for card in numba.prange(heights.shape[0]):
        r = dealt(card, heights.shape[0])
        x = np.empty(BLOCK)
        p = np.empty(BLOCK)
        q = np.empty(BLOCK)
        rho = np.empty(BLOCK, np.float32)
        u_0 = np.empty(BLOCK, np.float32)
        v_0 = np.empty(BLOCK, np.float32)
        n_0 = np.empty(BLOCK, np.float32)
        facing_0 = np.empty(BLOCK, np.float32)
        along = np.empty(BLOCK, np.float32)
        tip = np.empty(BLOCK, np.float32)
        phi_a = np.empty(BLOCK, np.float32)
        phi_b = np.empty(BLOCK, np.float32)
        angle = np.empty(BLOCK, np.float32)
        co = np.empty(BLOCK, np.float32)
        si = np.empty(BLOCK, np.float32)
        turn_co = np.empty(BLOCK, np.float32)
        turn_si = np.empty(BLOCK, np.float32)
        place = np.empty(BLOCK, np.float32)
        plan_a = np.empty(BLOCK, np.float32)
        plan_b = np.empty(BLOCK, np.float32)
        high = np.empty(BLOCK, np.float32)
        seen = np.empty(BLOCK, np.float32)
        y = np.empty(BLOCK, np.float32)
        low_candela = np.empty(BLOCK, np.float32)
        high_candela = np.empty(BLOCK, np.float32)
        weight = np.empty(BLOCK, np.float32)
        lean = np.empty(3, np.float32)
        d_v = origin[1] - rows_v[r]
        for begin in range(0, columns, BLOCK):
            n = min(BLOCK, columns - begin)
            nearest = 1e30
            for c in range(n):
                d_u = origin[0] - (begin + c) * step_u
                d_n = origin[2] - heights[r, begin + c]
                x[c] = -(d_u * spin[0, 0] + d_v * spin[0, 1] + d_n * spin[0, 2])
                p[c] = -(d_u * spin[1, 0] + d_v * spin[1, 1] + d_n * spin[1, 2])
                q[c] = -(d_u * spin[2, 0] + d_v * spin[2, 1] + d_n * spin[2, 2])
                beside = max(lit[0, 0] - x[c], x[c] - lit[-1, 1], 0.0)
                nearest = min(nearest, p[c] * p[c] + q[c] * q[c] + beside * beside)
                along[c] = (
                    normals[0, r, begin + c] * axis[0]
                    + normals[1, r, begin + c] * axis[1]
                    + normals[2, r, begin + c] * axis[2]
                )
            nearest = math.sqrt(nearest)
            strips = 7
            if nearest > near_widths[0] * width:
                strips = 1
            elif nearest > near_widths[1] * width:
                strips = 3
            scale = 0.0
            for s in range(strips):
                t = (2 * s + 1) / strips - 1.0
                scale += math.sqrt(1.0 - t * t) / strips
            for s in range(strips):
                t = ((s + 0.5) / strips - 0.5) * width
                d_t = width / strips
                for i in range(3):
                    lean[i] = np.float32(0.5 * d_t * spin[2, i])
                for c in range(n):
                    d_p = -p[c]
                    d_q = t - q[c]
                    rho[c] = np.float32(max(math.sqrt(d_p * d_p + d_q * d_q), 1e-5))
                    u_0[c] = np.float32(d_p * spin[1, 0] + d_q * spin[2, 0])
                    v_0[c] = np.float32(d_p * spin[1, 1] + d_q * spin[2, 1])
                    n_0[c] = np.float32(d_p * spin[1, 2] + d_q * spin[2, 2])
                    phi_a[c] = np.float32(d_t)  # placeholders, so that the next loop is plain
                for c in range(n):
                    n_u = normals[0, r, begin + c]
                    n_v = normals[1, r, begin + c]
                    n_n = normals[2, r, begin + c]
                    facing_0[c] = n_u * u_0[c] + n_v * v_0[c] + n_n * n_0[c]
                    tip[c] = F2 * (n_u * lean[0] + n_v * lean[1] + n_n * lean[2])
                    at_p = np.float32(p[c])
                    at_q = np.float32(q[c] - t)
                    off = GAUSS * np.float32(d_t)
                    phi_a[c] = (diamond_of(at_p, at_q + off) + F2) * phi_cells + edge
                    phi_b[c] = (diamond_of(at_p, at_q - off) + F2) * phi_cells + edge
                chord = 1.0
                share = 1.0 / strips
                if chords:
                    chord = math.sqrt(1.0 - (2.0 * t / width) ** 2)
                    share /= scale
                for segment in range(lit.shape[0]):
                    middle = 0.5 * (lit[segment, 0] + lit[segment, 1])
                    half = 0.5 * (lit[segment, 1] - lit[segment, 0]) * chord
                    widest = 0.0
                    for c in range(n):
                        a = middle - half - x[c]
                        b = middle + half - x[c]
                        rest = np.float64(v_0[c])
                        if abs(spin[0, 1]) < 1e-9:
                            if rest <= 0.0:
                                b = a
                        elif spin[0, 1] > 0.0:
                            a = max(a, -rest / spin[0, 1])
                        else:
                            b = min(b, -rest / spin[0, 1])
                        angle[c] = F0
                        co[c] = F1
                        si[c] = F0
                        if b > a:
                            own = np.float64(rho[c])
                            r_a = math.sqrt(own * own + a * a)
                            co[c] = np.float32(own / r_a)
                            si[c] = np.float32(a / r_a)
                            turn = math.atan2(own * (b - a), own * own + a * b)
                            angle[c] = np.float32(turn)
                            widest = max(widest, turn)
                    if widest <= 0.0:
                        continue
                    count = max(4, math.ceil(steps * widest / math.pi))
                    for c in range(n):
                        step = angle[c] / np.float32(count)
                        # half a step to the first one's middle
                        turn_co[c] = cosine_of(HALF * step)
                        turn_si[c] = sine_of(HALF * step)
                        weight[c] = np.float32(share) * step / (rho[c] * rho[c])
                    advance(co, si, turn_co, turn_si, n)
                    for c in range(n):
                        step = angle[c] / np.float32(count)
                        turn_co[c] = cosine_of(step)
                        turn_si[c] = sine_of(step)
                    for _ in range(count):
                        find_azimuths(
                            co, si, rho, u_0, v_0, n_0, axis, lean, azimuths, place, plan_a,
                            plan_b, high, n,
                        )  # fmt: skip
                        look_over(
                            flat_horizons, plane, r * columns + begin, azimuths, place, plan_a,
                            plan_b, high, lean[2], co, seen, y, n,
                        )  # fmt: skip
                        look_up(flat, wide, psi_cells, psi_last, phi_a, si, low_candela, n)
                        look_up(flat, wide, psi_cells, psi_last, phi_b, si, high_candela, n)
                        add_up(
                            co, si, rho, facing_0, along, tip, low_candela, high_candela, seen,
                            y, weight, out[r, begin : begin + n], n,
                        )  # fmt: skip
                        advance(co, si, turn_co, turn_si, n)
