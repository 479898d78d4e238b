"""Light on slopes finer than a relief's mesh, sample by sample."""

# mypy: allow-untyped-defs
import math

import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt
from rakelight.picture.kernels.shade import _corner, _pair


@inline
def _width2(ids, u, v, row, column, down, right, owner):
    """Squared distance to the nearer of two neighbouring samples of the same owner. [m2]"""
    best = np.float32(0.0)
    found = False
    for side in (-1, 1):
        r = row + side * down
        c = column + side * right
        if 0 <= r < ids.shape[0] and 0 <= c < ids.shape[1] and ids[r, c] == owner:
            a = u[r, c] - u[row, column]
            b = v[r, c] - v[row, column]
            apart = a * a + b * b
            if not found or apart < best:
                best = apart
                found = True
    return best


@kernel
def sharpen(
    ids,  # int16 (all rows, columns)
    u,  # float32, m
    v,  # float32, m
    first,  # first row of the band
    owner,
    points,  # float32 (vertices + points on edges, 5): lx, what is not `toward`, toward (u, v, n)
    cells,  # int32 (grid rows - 1, grid columns - 1): cells on shadows' edges, else -1
    around,  # int32 (edge cells, 5): points below, left, within, right, above
    per_u,  # 1 / step along u
    per_v,
    slopes,  # float32 (rows, columns, 2): the image's slopes along u and v
    place,  # float64 (4,): its lower left corner on the wall, 1 / its width, 1 / its height
    mirror,
    texel_m,
    out,  # float32 (band rows, columns, 3): cd/m2; multiplied
):
    """Give each sample the light that falls on the image's own slope there.

    What arrives is bilinear between the vertices, as a vector, and on shadows' edges between
    the points too; the slope that it falls on is the image's. Samples wider than the image's
    texels keep the mesh's slopes.
    """
    rows, columns = out.shape[0], out.shape[1]
    high, wide = slopes.shape[0], slopes.shape[1]
    high_cells, wide_cells = cells.shape
    zero = np.float32(0.0)
    one = np.float32(1.0)
    two = np.float32(2.0)
    least = np.float32(0.01)
    dark = least * least
    texel2 = np.float32(texel_m * texel_m)
    per_texel = np.float32(1.0 / texel_m)
    for card in prange(rows):
        row = dealt(card, rows)
        for column in range(columns):
            r = first + row
            if ids[r, column] != owner:
                continue
            i, f = _corner(u[r, column] * per_u, wide_cells + 1)
            j, g = _corner(v[r, column] * per_v, high_cells + 1)
            p = j * (wide_cells + 1) + i
            q = p + 1
            e = p + wide_cells + 1
            h = e + 1
            a = (one - f) * (one - g)
            b = f * (one - g)
            c = (one - f) * g
            d = f * g
            # what the sample was shaded with
            lx = a * points[p, 0] + b * points[q, 0] + c * points[e, 0] + d * points[h, 0]
            if lx <= zero:
                continue
            here = lx
            cell = cells[j, i]
            if cell >= 0:
                # the quarter of the cell that the sample lies in
                f *= two
                g *= two
                if g < one:
                    e = around[cell, 1]
                    h = around[cell, 2]
                    if f < one:
                        q = around[cell, 0]
                    else:
                        p = around[cell, 0]
                        e = h
                        h = around[cell, 3]
                else:
                    g -= one
                    p = around[cell, 1]
                    q = around[cell, 2]
                    if f < one:
                        h = around[cell, 4]
                    else:
                        p = q
                        q = around[cell, 3]
                        e = around[cell, 4]
                if f >= one:
                    f -= one
                a = (one - f) * (one - g)
                b = f * (one - g)
                c = (one - f) * g
                d = f * g
                here = a * points[p, 0] + b * points[q, 0] + c * points[e, 0] + d * points[h, 0]
            rest = a * points[p, 1] + b * points[q, 1] + c * points[e, 1] + d * points[h, 1]
            to_u = a * points[p, 2] + b * points[q, 2] + c * points[e, 2] + d * points[h, 2]
            to_v = a * points[p, 3] + b * points[q, 3] + c * points[e, 3] + d * points[h, 3]
            to_n = a * points[p, 4] + b * points[q, 4] + c * points[e, 4] + d * points[h, 4]
            keep = one
            arrives2 = to_u * to_u + to_v * to_v + to_n * to_n
            if here - rest < least * lx and arrives2 < dark * lx * lx:
                if cell < 0:
                    continue  # in shadow
                keep = zero
            across2 = max(
                _width2(ids, u, v, r, column, 0, 1, owner),
                _width2(ids, u, v, r, column, 1, 0, owner),
            )
            if across2 > texel2:
                keep = min(keep, two - np.float32(math.sqrt(across2)) * per_texel)
            if keep <= zero:
                if cell >= 0:
                    factor = here / lx
                    out[row, column, 0] *= factor
                    out[row, column, 1] *= factor
                    out[row, column, 2] *= factor
                continue
            s = (u[r, column] - place[0]) * place[2]
            t = (v[r, column] - place[1]) * place[3]
            turn_u = one
            turn_v = one
            if mirror:
                s -= 2.0 * math.floor(s * 0.5)
                t -= 2.0 * math.floor(t * 0.5)
                if s > 1.0:
                    s = 2.0 - s
                    turn_u = -one
                if t > 1.0:
                    t = 2.0 - t
                    turn_v = -one
                # across a fold the slope changes its sign
                turn_u *= np.float32(min(1.0, 2.0 * min(s, 1.0 - s) * wide))
                turn_v *= np.float32(min(1.0, 2.0 * min(t, 1.0 - t) * high))
            else:
                s -= math.floor(s)
                t -= math.floor(t)
            i0, i1, x = _pair(s * wide - 0.5, wide, mirror)
            j0, j1, y = _pair(t * high - 0.5, high, mirror)
            a = (one - x) * (one - y)
            b = x * (one - y)
            c = (one - x) * y
            d = x * y
            low = slopes[j0]
            up = slopes[j1]
            slope_u = turn_u * (a * low[i0, 0] + b * low[i1, 0] + c * up[i0, 0] + d * up[i1, 0])
            slope_v = turn_v * (a * low[i0, 1] + b * low[i1, 1] + c * up[i0, 1] + d * up[i1, 1])
            steep = one / np.float32(math.sqrt(one + slope_u * slope_u + slope_v * slope_v))
            falls = (to_n - slope_u * to_u - slope_v * to_v) * steep
            falls = rest + (falls if falls > zero else zero)
            falls = falls if falls > zero else zero
            factor = (here + keep * (falls - here)) / lx
            out[row, column, 0] *= factor
            out[row, column, 1] *= factor
            out[row, column, 2] *= factor
