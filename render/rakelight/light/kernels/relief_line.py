"""Direct light of a straight run on a relief, row by row, with self-shadowing.

The run is parallel to the rows. All vertices of one row are served by the same offsets x along
the run, so each offset has one azimuth for the whole row, and the visible share there is that
of two neighbouring stored azimuths mixed with constant weights. The loops over the columns have
no branch and no trigonometry, and each is a function of its own over the columns served, from
their first one on: only then does the compiler run eight columns at once.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel
from rakelight.light.kernels.deal import dealt
from rakelight.light.kernels.lit_share import lit_share

F0 = np.float32(0.0)
F1 = np.float32(1.0)
F2 = np.float32(2.0)
TINY = np.float32(1e-9)
TWELFTH = np.float32(1.0 / 12.0)
#: Places between a row's lowest and highest vertex, -1 to 1: Chebyshev's three, and four to check.
NODES = np.array([-math.sqrt(0.75), 0.0, math.sqrt(0.75), -1.0, -0.5, 0.5, 1.0], np.float32)
#: Candela over distance cubed may stray by this share from a quadratic in the height, and its
#: lean across the strip, which counts in penumbrae only, by ten times as much.
SMOOTH = np.float32(5e-4)
SMOOTH_LEAN = np.float32(5e-3)


@quick
def diamond(p, q):
    """Angle of (p, q) as -2..2: monotone in atan2(q, p), one a quarter turn."""
    a = q / (abs(p) + abs(q) + TINY)
    if p >= F0:
        return a
    return F2 - a if q >= F0 else -F2 - a


@quick
def strip_share(tangent, h, plan_a, plan_b, n_a, n_b):
    """Share of a strip that clears one horizon: linear across the strip, so penumbrae are exact.

    At the strip's edges, n_a and n_b in front of the mean plane, the horizon hides what lies
    lower than h + tangent x plan distance.
    """
    over_a = n_a - h - tangent * plan_a
    over_b = n_b - h - tangent * plan_b
    most = over_a if over_a > over_b else over_b
    least = over_b if over_a > over_b else over_a
    seen = most / (most - least + TINY)
    seen = seen if seen < F1 else F1
    return seen if seen > F0 else F0


@quick
def clear_share(h, one, two, mix, plan_a, plan_b, n_a, n_b, seen):
    """Visible share of a strip, mixed between two stored azimuths.

    The shares are mixed, not the horizons: a mean of two horizons hides the narrow views that
    one of them has, and a grazed foot came out 3 % too dark.
    """
    for c in range(seen.size):
        low = strip_share(one[c], h[c], plan_a, plan_b, n_a, n_b)
        high = strip_share(two[c], h[c], plan_a, plan_b, n_a, n_b)
        seen[c] = low + mix * (high - low)


@quick
def spread(table, column, count, half, sign, part):
    """What one strip's width blends: mean candela, and how it leans across the strip.

    Fills part (2, P, count) around columns column .. column + count - 1 with the mean over
    `half` columns to either side, and with the slope of the straight line fitted to them, from
    the strip's first edge to its second. A narrow beam changes by tens of per cent over the
    angle that the opening subtends, even ten widths away, and so does the angle of incidence on
    a grazed wall: without the slope a run that touches the wall came out 13 % too dark.
    """
    reach = math.floor(half)
    rest = half - reach  # the outermost column on each side counts by this share
    scale = 1.0 / (2.0 * half + 1.0)
    spread2 = 0.0
    for k in range(1, reach + 1):
        spread2 += 2.0 * k * k
    spread2 = (spread2 + 2.0 * rest * (reach + 1) ** 2) * scale
    to_lean = sign * scale * (2.0 * half + 1.0) / spread2 if spread2 > 0.0 else 0.0
    for row in range(table.shape[0]):
        total = 0.0
        moment = 0.0
        for j in range(column - reach, column + reach + 1):
            total += table[row, j]
            moment += table[row, j] * (j - column)
        for j in range(column, column + count):
            left = table[row, j - reach - 1]
            right = table[row, j + reach + 1]
            part[0, row, j - column] = np.float32((total + rest * (left + right)) * scale)
            lean = moment + rest * (right - left) * (reach + 1)
            part[1, row, j - column] = np.float32(lean * to_lean)
            # slide the window by one column, and measure from its new middle
            leaving = table[row, j - reach]
            total += right - leaving
            moment += right * (reach + 1) + leaving * reach - total


@quick
def look_up(part, block, count, psi_cells, phi, x, near, candela, lean, first, last):
    """Candela per metre toward each column and its lean, bilinear in sin(psi) and the angle."""
    psi_last = np.int32(F2 * psi_cells) - np.int32(1)
    for c in range(first, last + 1):
        # light from a source at +x travels toward -u
        i = (F1 - x * near[c]) * psi_cells
        row = np.int32(i)
        row = row if row < psi_last else psi_last
        col = np.int32(phi[c])
        f = i - np.float32(row)
        g = phi[c] - np.float32(col)
        cell = row * count + col
        low = part[cell] + g * (part[cell + 1] - part[cell])
        up = cell + count
        high = part[up] + g * (part[up + 1] - part[up])
        candela[c] = low + f * (high - low)
        cell += block
        low = part[cell] + g * (part[cell + 1] - part[cell])
        cell += count
        high = part[cell] + g * (part[cell + 1] - part[cell])
        lean[c] = low + f * (high - low)


@quick
def fit(candela, lean, first, found):
    """Quadratics in t through three nodes; False if one misses the others by too much.

    candela, lean: by node from `first` on; found (6,): coefficients of the one and the other.
    """
    c = NODES[2]
    worst = F0
    for k in range(2):
        values = candela if k == 0 else lean
        tolerance = SMOOTH if k == 0 else SMOOTH_LEAN
        low, middle, high = values[first], values[first + 1], values[first + 2]
        bend = (high + low - F2 * middle) / (F2 * c * c)
        slope = (high - low) / (F2 * c)
        for i in range(3, NODES.size):
            miss = abs(middle + NODES[i] * (slope + NODES[i] * bend) - values[first + i])
            worst = max(worst, miss - tolerance * candela[first + i])
        found[3 * k] = middle
        found[3 * k + 1] = slope
        found[3 * k + 2] = bend
    return worst <= F0


@quick
def follow(t, curve, candela, lean):
    """Values of the quadratics of `fit` at every t."""
    m_0, m_1, m_2 = curve[0], curve[1], curve[2]
    b_0, b_1, b_2 = curve[3], curve[4], curve[5]
    for c in range(t.size):
        candela[c] = m_0 + t[c] * (m_1 + t[c] * m_2)
    for c in range(t.size):
        lean[c] = b_0 + t[c] * (b_1 + t[c] * b_2)


@quick
def add_light(candela, lean, seen, share, n_u, ahead, tip, x, outer, total):
    """Add one step's illuminance of what each column sees of a strip.

    Candela and facing are both linear across the strip, and what is visible of it is a part
    with its middle at `y`: the integral in closed form.
    """
    for c in range(total.size):
        part_seen = seen[c]
        y = outer * (F1 - part_seen)
        facing = n_u[c] * x + ahead[c] + tip[c] * y
        facing = facing if facing > F0 else F0
        light = (candela[c] + lean[c] * y) * facing
        light += lean[c] * tip[c] * part_seen * part_seen * TWELFTH
        light = light if light > F0 else F0
        total[c] += light * (part_seen * share[c])


@quick
def add_sent(candela, lean, seen, share, x, outer, across, along_u):
    """Add what the same part sends, per metre of each column's way to the strip."""
    for c in range(across.size):
        sent = candela[c] + lean[c] * (outer * (F1 - seen[c]))
        sent *= seen[c] * share[c]
        across[c] += sent
        along_u[c] += sent * x


@quick_kernel
def relief_line(
    heights, normals, places_u, horizons, begins, rows_v, width, start, stop, strips, lit, table,
    margin, aim, steps, toward, out,
):  # fmt: skip
    """Add one run's illuminance to the points of a relief that lie below it.

    The points lie in rows along the run, (N,) in all: row r holds begins[r] to begins[r + 1] - 1
    (int64, (R + 1,)), in the order of their places_u (N,) float32 [m], 0 to `width` float32 [m].
    heights (N,) float32 [m]; normals (3, N) float32 unit (u, v, n); rows_v (R,) float32
    [m]; horizons (K, N) float32 tangents at azimuths
    -90 + (k + 1/2) 180 / K degrees from +v toward +u, or (0, 0) for an unshadowed wall;
    start, stop int32: the rows served; strips (S, 6) float32: v, n of each strip's middle and
    of its two edges across the opening [m]; lit (L, 2) float32 [m] along u; table (P, F)
    float32 [cd/m of the whole opening] over sin(psi) from -1 to 1 along +u and over the diamond
    angle, -2 at column `margin` (int32); aim (2, 2) float32: the run's nadir and across vectors
    as (v, n); steps int32 over psi from -90 to 90 degrees; toward (3, N) float32 [lx]: what
    arrives across its own direction, times that direction as (u, v, n), is added too, (3, 0)
    where nobody asks; out (N,) float32 [lx].
    """
    azimuths = horizons.shape[0]
    shadowed = azimuths > 0
    wanted = toward.shape[1] > 0
    along = table.shape[0]
    psi_cells = np.float32(along - 1) * np.float32(0.5)
    phi_cells = np.float32((table.shape[1] - 1 - 2 * margin) / 4)
    lit_low = lit[0, 0]
    lit_high = lit[lit.shape[0] - 1, 1]
    each = F1 / np.float32(strips.shape[0])
    for card in numba.prange(stop - start):
        r = start + np.int32(dealt(card, stop - start))
        begin_row = begins[r]
        end_row = begins[r + 1]
        columns = end_row - begin_row
        if columns == 0:
            continue
        share = np.empty(columns, np.float32)
        seen = np.ones(columns, np.float32)
        phi = np.empty(columns + NODES.size, np.float32)
        ahead = np.empty(columns, np.float32)
        depth2 = np.empty(columns + NODES.size, np.float32)
        near = np.empty(columns + NODES.size, np.float32)
        candela = np.empty(columns + NODES.size, np.float32)
        lean = np.empty(columns + NODES.size, np.float32)
        tip = np.empty(columns, np.float32)
        across = np.empty(columns, np.float32)
        along_u = np.empty(columns, np.float32)
        t = np.empty(columns, np.float32)
        curve = np.empty(6, np.float32)
        total = out[begin_row:end_row]
        h = heights[begin_row:end_row]
        places = places_u[begin_row:end_row]
        lowest = h[0]
        highest = h[0]
        for c in range(columns):
            lowest = min(lowest, h[c])
            highest = max(highest, h[c])
        middle = np.float32(0.5) * (lowest + highest)
        reach = np.float32(0.5) * (highest - lowest) + TINY
        for c in range(columns):
            t[c] = (h[c] - middle) / reach
        n_u = normals[0, begin_row:end_row]
        n_v = normals[1, begin_row:end_row]
        n_n = normals[2, begin_row:end_row]
        for s in range(strips.shape[0]):
            d_v = strips[s, 0] - rows_v[r]
            if d_v <= 0.0:
                continue
            s_n = strips[s, 1]
            a_v = strips[s, 2] - rows_v[r]
            n_a = strips[s, 3]
            b_v = strips[s, 4] - rows_v[r]
            n_b = strips[s, 5]
            rho = math.sqrt(d_v * d_v + s_n * s_n)
            low = np.float32(4.0) * phi_cells
            high = F0
            for c in range(columns):
                across[c] = F0
                along_u[c] = F0
            for c in range(columns):
                d_n = s_n - h[c]
                p = -(d_v * aim[0, 0] + d_n * aim[0, 1])
                q = -(d_v * aim[1, 0] + d_n * aim[1, 1])
                phi[c] = (diamond(p, q) + F2) * phi_cells
                low = min(low, phi[c])
                high = max(high, phi[c])
                depth2[c] = d_n * d_n
                ahead[c] = n_v[c] * d_v + n_n[c] * d_n
                # what the strip's second edge adds to the facing over its first
                tip[c] = n_v[c] * (b_v - a_v) + n_n[c] * (n_b - n_a)
            # the part of the table that this row looks at, averaged over the strip's width
            first_phi = math.floor(low)
            count_phi = math.floor(high) + 2 - first_phi
            edge_a = diamond(
                -(a_v * aim[0, 0] + n_a * aim[0, 1]), -(a_v * aim[1, 0] + n_a * aim[1, 1])
            )
            edge_b = diamond(
                -(b_v * aim[0, 0] + n_b * aim[0, 1]), -(b_v * aim[1, 0] + n_b * aim[1, 1])
            )
            turn = edge_b - edge_a
            turn = turn - 4.0 if turn > 2.0 else (turn + 4.0 if turn < -2.0 else turn)
            sign = 1.0 if turn > 0.0 else -1.0
            turn = abs(turn)
            half = max(0.0, min(0.5 * turn * phi_cells - 0.5, margin - 3.0))
            part = np.empty((2, along, count_phi), np.float32)
            spread(table, margin + first_phi, count_phi, half, sign, part)
            flat = part.ravel()
            block = np.int32(along * count_phi)
            wide = np.int32(count_phi)
            # the visible part of a strip is what lies farther from the wall
            outer = np.float32(0.5) if n_b > n_a else np.float32(-0.5)
            for c in range(columns):
                phi[c] -= np.float32(first_phi)
            for c in range(NODES.size):
                d_n = s_n - middle - NODES[c] * reach
                p = -(d_v * aim[0, 0] + d_n * aim[0, 1])
                q = -(d_v * aim[1, 0] + d_n * aim[1, 1])
                at_phi = (diamond(p, q) + F2) * phi_cells
                phi[columns + c] = min(max(at_phi, low), high) - np.float32(first_phi)
                depth2[columns + c] = d_n * d_n
            psi_low = math.atan((lit_low - width) / rho)
            psi_high = math.atan(lit_high / rho)
            count = math.ceil(steps * (psi_high - psi_low) / math.pi)
            d_psi = (psi_high - psi_low) / count
            for k in range(count):
                # x = rho tan(psi): equal steps in psi, seen from the mean plane of this row
                psi = psi_low + (k + 0.5) * d_psi
                x = np.float32(rho * math.tan(psi))
                x_low = np.float32(rho * math.tan(psi - 0.5 * d_psi))
                x_high = np.float32(rho * math.tan(psi + 0.5 * d_psi))
                d_x = np.float32(rho * d_psi / math.cos(psi) ** 2) * each
                first, last = lit_share(lit, x_low, x_high, places, share)
                served = slice(first, last + 1)
                plan2 = x * x + d_v * d_v
                if shadowed:
                    at = (math.atan2(x, d_v) / math.pi + 0.5) * azimuths - 0.5
                    k_low = min(max(math.floor(at), 0), max(azimuths - 2, 0))
                    k_high = min(k_low + 1, azimuths - 1)
                    mix = np.float32(min(max(at - k_low, 0.0), 1.0))
                    plan_a = np.float32(math.sqrt(x * x + a_v * a_v))
                    plan_b = np.float32(math.sqrt(x * x + b_v * b_v))
                    one = horizons[k_low, begin_row:end_row]
                    two = horizons[k_high, begin_row:end_row]
                    clear_share(
                        h[served], one[served], two[served], mix, plan_a, plan_b, n_a, n_b,
                        seen[served],
                    )  # fmt: skip
                # the nodes first; where a quadratic does not meet them all, the columns
                for attempt in range(2):
                    begin = columns if attempt == 0 else first
                    end = columns + NODES.size - 1 if attempt == 0 else last
                    for c in range(begin, end + 1):
                        near[c] = F1 / np.float32(math.sqrt(plan2 + depth2[c]))
                    look_up(flat, block, wide, psi_cells, phi, x, near, candela, lean, begin, end)
                    for c in range(begin, end + 1):
                        weight = near[c] * near[c] * near[c] * d_x
                        candela[c] *= weight
                        lean[c] *= weight
                    if attempt == 0 and fit(candela, lean, columns, curve):
                        follow(t[served], curve, candela[served], lean[served])
                        break
                add_light(
                    candela[served], lean[served], seen[served], share[served], n_u[served],
                    ahead[served], tip[served], x, outer, total[served],
                )  # fmt: skip
                if wanted:
                    add_sent(
                        candela[served], lean[served], seen[served], share[served], x, outer,
                        across[served], along_u[served],
                    )  # fmt: skip
            if wanted:
                for c in range(columns):
                    toward[0, begin_row + c] += along_u[c]
                    toward[1, begin_row + c] += across[c] * d_v
                    toward[2, begin_row + c] += across[c] * (s_n - h[c])
