"""Direct light of a straight run on free points with normals, nothing in between."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick_kernel
from rakelight.light.kernels.deal import dealt
from rakelight.light.kernels.relief_line import diamond

F0 = np.float32(0.0)
F1 = np.float32(1.0)
F2 = np.float32(2.0)
#: Points served by one task: fewer would share the cache lines that they write to.
BLOCK = 64


@quick_kernel
def point_line(points, normals, lit, width, table, margin, steps, out):
    """Add one run's illuminance to points given in the run's own frame.

    points, normals (N, 3) float32: along the axis, along nadir, across [m]; lit (L, 2) float32
    [m]; width float32: of the opening [m]; table (P, F) float32 [cd/m] over sin(psi) and the
    diamond angle, -2 at column `margin` (int32); steps int32 over 180 degrees of psi; out (N,)
    float32 [lx]. Points nearer than six opening widths see several lines across the opening:
    one line would be over 1 % off there. Farther away one line carries the mean candela over
    the angle that the opening subtends.
    """
    wide = table.shape[1]
    psi_cells = np.float32(table.shape[0] - 1) * np.float32(0.5)
    psi_last = table.shape[0] - 2
    phi_cells = np.float32((wide - 1 - 2 * margin) / 4)
    flat = table.ravel()
    segments = lit.shape[0]
    blocks = (points.shape[0] + BLOCK - 1) // BLOCK
    for card in numba.prange(blocks):
        block = dealt(card, blocks)
        for i in range(block * BLOCK, min((block + 1) * BLOCK, points.shape[0])):
            u = points[i, 0]
            total = F0
            distance = math.sqrt(points[i, 1] ** 2 + points[i, 2] ** 2)
            lines = 1 if distance > 6.0 * width else (3 if distance > 2.5 * width else 7)
            strip = width / lines
            for line in range(lines):
                shift = np.float32(((line + 0.5) / lines - 0.5) * width)
                p = points[i, 1]
                q = points[i, 2] - shift
                rho = max(math.sqrt(p * p + q * q), 1e-4)
                phi = (diamond(p, q) + F2) * phi_cells + np.float32(margin)
                # columns that the strip's width spans, seen from here
                turn = abs(
                    diamond(p, q - np.float32(0.5 * strip))
                    - diamond(p, q + np.float32(0.5 * strip))
                )
                span = min(min(turn, 4.0 - turn) * phi_cells, margin * 1.5)
                looks = min(1 + 2 * int(0.5 * span), 31)
                ahead = -(normals[i, 1] * p + normals[i, 2] * q)
                psi_low = math.atan((lit[0, 0] - u) / rho)
                psi_high = math.atan((lit[segments - 1, 1] - u) / rho)
                count = max(4, math.ceil(steps * (psi_high - psi_low) / math.pi))
                d_psi = (psi_high - psi_low) / count
                left = rho * math.tan(psi_low)
                segment = 0
                # half a step at a time: a rotation instead of a tangent and a cosine each
                cosine = math.cos(psi_low)
                sine = math.sin(psi_low)
                turn_cosine = math.cos(0.5 * d_psi)
                turn_sine = math.sin(0.5 * d_psi)
                for _ in range(count):
                    co = cosine * turn_cosine - sine * turn_sine
                    si = sine * turn_cosine + cosine * turn_sine
                    cosine = co * turn_cosine - si * turn_sine
                    sine = si * turn_cosine + co * turn_sine
                    right = rho * sine / cosine
                    share = 0.0
                    while segment < segments and lit[segment, 1] - u <= left:
                        segment += 1
                    for s in range(segment, segments):
                        if lit[s, 0] - u >= right:
                            break
                        share += max(0.0, min(right, lit[s, 1] - u) - max(left, lit[s, 0] - u))
                    share /= right - left
                    left = right
                    x = np.float32(rho * si / co)
                    facing = normals[i, 0] * x + ahead
                    if facing <= 0.0 or share <= 0.0:
                        continue
                    # light runs from the source at +x to the point: its psi is that of -x
                    near = F1 / np.float32(math.sqrt(x * x + rho * rho))
                    at = (F1 - x * near) * psi_cells
                    row = min(int(at), psi_last)
                    f = at - np.float32(row)
                    candela = F0
                    for look in range(looks):
                        place = phi + np.float32(((look + 0.5) / looks - 0.5) * span)
                        col = int(place)
                        g = place - np.float32(col)
                        cell = row * wide + col
                        low = flat[cell] + g * (flat[cell + 1] - flat[cell])
                        cell += wide
                        high = flat[cell] + g * (flat[cell + 1] - flat[cell])
                        candela += low + f * (high - low)
                    d_x = np.float32(rho * d_psi / (co * co) * share / (lines * looks))
                    total += candela * facing * near * near * near * d_x
            out[i] += total
