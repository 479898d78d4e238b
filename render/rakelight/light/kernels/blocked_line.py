"""Direct light of a straight run on points, past faces that stand in between.

The opening is cut into lines at every place where an edge parallel to the run begins or ends to
hide it, so that a fascia's lit edge is as soft as the opening is wide, without steps. On each
line a face hides one interval, found by clipping the face with the plane of point and line:
nothing is sampled, and an edge across the run is exact as well.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel
from rakelight.light.kernels.deal import dealt
from rakelight.light.kernels.relief_any import half_turns
from rakelight.light.kernels.relief_line import diamond

F0 = np.float32(0.0)
#: Faces nearer than this to the opening or to the point do not hide it: it lies in them. [m]
TOUCHING = 2e-5
#: Gauss's two points on a strip of width 1: exact for candela of the third degree across it.
GAUSS = 0.5 / math.sqrt(3.0)
#: Lines across the opening at least, near by and far, where a face's edges are not parallel to
#: the run: what such a face hides on each line is exact, and changes evenly across them.
LEAST_LINES = 4
FAR_LINES = 2
FAR_WIDTHS = 15.0
#: Points served by one task.
CHUNK = 128
BLANK = 1e30


@quick
def hidden_interval(face, x, p, q, dp, dq, found):
    """Part of the line that one convex face hides; False if none.

    face (4, 3): along the axis, nadir, across; x, p, q: the point; dp, dq: from it to the line
    in the section. found (2,): start and end along the axis.
    """
    rho2 = dp * dp + dq * dq
    rho = math.sqrt(rho2)
    count = 0
    x_one = 0.0
    x_two = 0.0
    at_one = 0.0
    at_two = 0.0
    b_x = face[3, 0] - x
    b_p = face[3, 1] - p
    b_q = face[3, 2] - q
    b_side = dp * b_q - dq * b_p
    for i in range(4):
        a_x = b_x
        a_p = b_p
        a_q = b_q
        a_side = b_side
        b_x = face[i, 0] - x
        b_p = face[i, 1] - p
        b_q = face[i, 2] - q
        b_side = dp * b_q - dq * b_p
        if (a_side >= 0.0) != (b_side >= 0.0):
            mix = a_side / (a_side - b_side)
            along = a_x + mix * (b_x - a_x)
            at = ((a_p + mix * (b_p - a_p)) * dp + (a_q + mix * (b_q - a_q)) * dq) / rho2
            if count == 0:
                x_one = along
                at_one = at
            else:
                x_two = along
                at_two = at
            count += 1
    if count < 2:
        return False
    low = TOUCHING / rho
    high = 1.0 - low
    if at_one > at_two:
        x_one, x_two = x_two, x_one
        at_one, at_two = at_two, at_one
    if at_two <= low or at_one >= high:
        return False
    if at_one < low:
        x_one += (x_two - x_one) * (low - at_one) / (at_two - at_one)
        at_one = low
    if at_two > high:
        x_two += (x_one - x_two) * (at_two - high) / (at_two - at_one)
        at_two = high
    one = x + x_one / at_one
    two = x + x_two / at_two
    found[0] = min(one, two)
    found[1] = max(one, two)
    return True


@quick
def merge(hidden, count):
    """Sort `count` intervals and join those that overlap; how many are left."""
    for i in range(1, count):
        a = hidden[i, 0]
        b = hidden[i, 1]
        j = i
        while j > 0 and hidden[j - 1, 0] > a:
            hidden[j, 0] = hidden[j - 1, 0]
            hidden[j, 1] = hidden[j - 1, 1]
            j -= 1
        hidden[j, 0] = a
        hidden[j, 1] = b
    left = 0
    for i in range(count):
        if left > 0 and hidden[i, 0] <= hidden[left - 1, 1] + 1e-9:
            hidden[left - 1, 1] = max(hidden[left - 1, 1], hidden[i, 1])
        else:
            hidden[left, 0] = hidden[i, 0]
            hidden[left, 1] = hidden[i, 1]
            left += 1
    return left


@quick
def cut_opening(cuts, lines, least, width, p, q, faces, parallel, listed, first, last):
    """Where the opening is cut: even strips, and where parallel edges hide it; how many cuts."""
    count = 0
    # half a tenth of a micrometre apart is no strip
    apart = 1e-5 * width
    even = lines
    for f in range(first, last):
        if not parallel[listed[f], 4]:
            even = max(lines, least)
    for s in range(even + 1):
        cuts[count] = (s / even - 0.5) * width
        count += 1
    if p != 0.0:
        for f in range(first, last):
            face = faces[listed[f]]
            for i in range(4):
                if not parallel[listed[f], i]:
                    continue
                at = (p - face[i, 1]) / p
                if at <= 1e-6 or at >= 1.0 or count >= cuts.size:
                    continue
                t = q + (face[i, 2] - q) / at
                if abs(t) < 0.5 * width - apart:
                    j = count
                    while cuts[j - 1] > t:
                        cuts[j] = cuts[j - 1]
                        j -= 1
                    cuts[j] = t
                    count += 1
    return count


@quick
def seen_share(one, two, mix, plan_a, plan_b, n_a, n_b):
    """Share of a strip over two stored horizons, mixed."""
    total = 0.0
    for tangent, weight in ((one, 1.0 - mix), (two, mix)):
        over_a = n_a - tangent * plan_a
        over_b = n_b - tangent * plan_b
        most = max(over_a, over_b)
        least = min(over_a, over_b)
        total += weight * min(max(most / (most - least + 1e-12), 0.0), 1.0)
    return total


@quick
def candela_at(flat, wide, phi, row, f):
    """Bilinear look into the table; phi in columns."""
    column = int(phi)
    g = phi - column
    cell = row * wide + column
    low = flat[cell] + g * (flat[cell + 1] - flat[cell])
    cell += wide
    high = flat[cell] + g * (flat[cell + 1] - flat[cell])
    return low + f * (high - low)


@quick
def mean_between(clear, row, low, high):
    """Mean of a row of bins between two places, in bins; beyond the ends that of the end."""
    last = clear.shape[1]
    low = min(max(low, 0.0), last - 1e-3)
    high = min(max(high, low + 1e-3), float(last))
    total = 0.0
    for k in range(int(low), min(math.ceil(high), last)):
        total += clear[row, k] * (min(high, k + 1.0) - max(low, float(k)))
    return total / (high - low)


@quick
def piece(
    x0, x1, x, dp, dq, dt, n, spin, horizons, cell, flat, wide, cells, phi_a, phi_b, steps,
    clear, clear_row, whole,
):  # fmt: skip
    """Illuminance by one visible length of one line, for 1 cd/m spread over the whole line."""
    rho = max(math.sqrt(dp * dp + dq * dq), 1e-6)
    a = x0 - x
    b = x1 - x
    wide_psi = math.atan2(rho * (b - a), rho * rho + a * b)
    if wide_psi < 1e-12:
        # a length so far along the axis that the angles coincide
        return 0.0
    count = max(4, math.ceil(steps * wide_psi / math.pi))
    d_psi = wide_psi / count
    psi_cells = (cells - 1) * 0.5
    azimuths = horizons.shape[0]
    total = 0.0
    facing_0 = n[1] * dp + n[2] * dq
    tip = n[2] * dt
    u_0 = dp * spin[1, 0] + dq * spin[2, 0]
    v_0 = dp * spin[1, 1] + dq * spin[2, 1]
    n_0 = dp * spin[1, 2] + dq * spin[2, 2]
    lean_u = 0.5 * dt * spin[2, 0]
    lean_v = 0.5 * dt * spin[2, 1]
    lean_n = 0.5 * dt * spin[2, 2]
    # the angle along the run advances by a rotation; all lengths are scaled by its cosine
    start = math.atan2(a, rho) + 0.5 * d_psi
    cosine = math.cos(start)
    sine = math.sin(start)
    turn_cosine = math.cos(d_psi)
    turn_sine = math.sin(d_psi)
    first = (start - whole[0]) / (whole[1] - whole[0]) * clear.shape[1]
    each = d_psi / (whole[1] - whole[0]) * clear.shape[1]
    for k in range(count):
        co = cosine
        si = sine
        cosine = co * turn_cosine - si * turn_sine
        sine = si * turn_cosine + co * turn_sine
        along = rho * si
        facing = n[0] * along + facing_0 * co
        tilt = tip * co
        if facing + 0.5 * abs(tilt) <= 0.0:
            continue
        share = 1.0
        y = 0.0
        if azimuths > 0:
            u = along * spin[0, 0] + u_0 * co
            v = along * spin[0, 1] + v_0 * co
            high = along * spin[0, 2] + n_0 * co
            place = (half_turns(u, max(v, 0.0)) + 0.5) * azimuths - 0.5
            place = min(max(place, 0.0), azimuths - 1.0)
            k_low = min(int(place), max(azimuths - 2, 0))
            mix = place - k_low
            plan_a = math.sqrt((u - lean_u * co) ** 2 + (v - lean_v * co) ** 2)
            plan_b = math.sqrt((u + lean_u * co) ** 2 + (v + lean_v * co) ** 2)
            one = horizons[k_low, cell]
            two = horizons[min(k_low + 1, azimuths - 1), cell]
            rise = lean_n * co
            share = seen_share(one, two, mix, plan_a, plan_b, high - rise, high + rise)
            if share <= 0.0:
                continue
            tangent = one + mix * (two - one)
            outer = 2.0 * rise - tangent * (plan_b - plan_a)
            y = (0.5 if outer > 0.0 else -0.5) * (1.0 - share)
        if clear_row >= 0:
            at_bin = first + (k - 0.5) * each
            share *= mean_between(clear, clear_row, at_bin, at_bin + each)
        at = (1.0 - si) * psi_cells
        row = min(max(int(at), 0), cells - 2)
        f = at - row
        low = candela_at(flat, wide, phi_a, row, f)
        high_candela = candela_at(flat, wide, phi_b, row, f)
        lean = (high_candela - low) / (2.0 * GAUSS)
        light = (0.5 * (low + high_candela) + lean * y) * max(facing + tilt * y, 0.0)
        light += lean * tilt * share * share / 12.0
        total += max(light, 0.0) * share
    return total * d_psi / (rho * rho)


@quick_kernel
def blocked_line(
    points, normals, cells, horizons, spin, upper, tie, lit, width, chords, table, margin, faces,
    parallel, starts, listed, tiles, clear, clear_rows, near_widths, steps, out,
):  # fmt: skip
    """Add one run's illuminance to points given in the run's own frame.

    points, normals (N, 3) float64: along the axis, nadir, across [m]; cells (N,) int32: place
    of each point in a horizon plane; horizons (K, cells) float32 tangents at azimuths
    -90 + (k + 1/2) 180 / K degrees from v toward u, or (0, 0); spin (3, 3) float64: the axis,
    nadir and across vectors as (u, v, n) of the receiving surface; upper: True to count only
    what lies at larger v than the point, less `tie` [m]; lit (L, 2) float64 [m]; width
    float64: of the opening [m]; chords: True for a round opening, whose lit lengths are its
    diameters; table (P, F) float32 [cd/m] over sin(psi) and the diamond angle, -2 at column
    `margin`; faces (B, 4, 3) float64: convex, in the run's frame; parallel (B, 5) bool: whether
    each corner begins an edge parallel to the axis, and whether the whole face is bounded so;
    starts (tiles + 1,), listed, tiles (N,) int32: the faces to look at, by tile; clear (Q, bins)
    float32: visible share over equal steps of psi where rays were cast, clear_rows (N,) int32:
    its row, or -1; near_widths (2,) float64: distance over width within which 3 and 7 strips
    are seen; steps: over 180 degrees of psi; out (N,) float32 [lx].
    """
    flat = table.ravel()
    wide = table.shape[1]
    phi_cells = (wide - 1 - 2 * margin) / 4
    longest = 0.0
    for segment in range(lit.shape[0]):
        longest = max(longest, lit[segment, 1] - lit[segment, 0])
    most = 0
    for t in range(starts.size - 1):
        most = max(most, starts[t + 1] - starts[t])
    chunks = (points.shape[0] + CHUNK - 1) // CHUNK
    for card in numba.prange(chunks):
        chunk = dealt(card, chunks)
        cuts = np.empty(16 + 4 * most)
        hidden = np.empty((most + 1, 2))
        found = np.empty(2)
        whole = np.empty(2)
        for i in range(chunk * CHUNK, min((chunk + 1) * CHUNK, points.shape[0])):
            x = points[i, 0]
            p = points[i, 1]
            q = points[i, 2]
            n = normals[i]
            beside = max(lit[0, 0] - x, x - lit[-1, 1], 0.0)
            distance = math.sqrt(p * p + q * q + beside * beside)
            lines = 7
            if distance > near_widths[0] * width:
                lines = 1
            elif distance > near_widths[1] * width:
                lines = 3
            least = LEAST_LINES
            if distance > FAR_WIDTHS * width and longest > FAR_WIDTHS * width:
                least = FAR_LINES
            first = starts[tiles[i]]
            last = starts[tiles[i] + 1]
            count = cut_opening(
                cuts, lines, least, width, p, q, faces, parallel, listed, first, last
            )
            scale = 0.0  # of a round opening's chords, so that they sum to its flux
            if chords:
                for s in range(count - 1):
                    t = (cuts[s] + cuts[s + 1]) / width
                    scale += math.sqrt(max(1.0 - t * t, 0.0)) * (cuts[s + 1] - cuts[s]) / width
            total = 0.0
            for s in range(count - 1):
                dt = cuts[s + 1] - cuts[s]
                if dt <= 1e-9 * width:
                    continue
                t = 0.5 * (cuts[s] + cuts[s + 1])
                dp = -p
                dq = t - q
                if dp * dp + dq * dq < 1e-12:
                    dp = -1e-6
                low = -BLANK
                high = BLANK
                if upper:
                    rest = dp * spin[1, 1] + dq * spin[2, 1] + tie
                    if abs(spin[0, 1]) < 1e-9:
                        if rest <= 0.0:
                            continue
                    elif spin[0, 1] > 0.0:
                        low = x - rest / spin[0, 1]
                    else:
                        high = x - rest / spin[0, 1]
                blocked = 0
                for f in range(first, last):
                    if hidden_interval(faces[listed[f]], x, p, q, dp, dq, found):
                        hidden[blocked, 0] = found[0]
                        hidden[blocked, 1] = found[1]
                        blocked += 1
                blocked = merge(hidden, blocked)
                phi_a = (diamond(p, q - t + GAUSS * dt) + 2.0) * phi_cells + margin
                phi_b = (diamond(p, q - t - GAUSS * dt) + 2.0) * phi_cells + margin
                rho = math.sqrt(dp * dp + dq * dq)
                whole[0] = math.atan((lit[0, 0] - x) / rho)
                whole[1] = math.atan((lit[-1, 1] - x) / rho)
                chord = 1.0
                weight = dt / width
                if chords:
                    tau = 2.0 * t / width
                    chord = math.sqrt(max(1.0 - tau * tau, 0.0))
                    weight /= scale
                for segment in range(lit.shape[0]):
                    middle = 0.5 * (lit[segment, 0] + lit[segment, 1])
                    half = 0.5 * (lit[segment, 1] - lit[segment, 0]) * chord
                    at = max(middle - half, low)
                    end = min(middle + half, high)
                    for b in range(blocked + 1):
                        if at >= end:
                            break
                        stop = end
                        if b < blocked:
                            stop = min(hidden[b, 0], end)
                        if stop > at:
                            total += weight * piece(
                                at, stop, x, dp, dq, dt, n, spin, horizons, cells[i], flat,
                                wide, table.shape[0], phi_a, phi_b, steps, clear,
                                clear_rows[i], whole,
                            )  # fmt: skip
                        if b < blocked:
                            at = max(at, hidden[b, 1])
            out[i] += np.float32(total)
