"""Luminance in every sample of a surface, and samples gathered into pixels."""

# mypy: allow-untyped-defs
import math

import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel


@inline
def _corner(x, count):
    """Lower vertex and share of the way to the next one, for a place in steps."""
    x = min(max(x, 0.0), count - 1.0)
    i = min(int(x), count - 2)
    return i, np.float32(x - i)


@inline
def _wrapped(i, count, mirror):
    if mirror:
        i = i % (2 * count)
        return i if i < count else 2 * count - 1 - i
    return i % count


@inline
def _add_texel(texels, sizes, level, s, t, mirror, weight, out):
    """Add weight x the bilinear texel at (s, t), in map widths and heights."""
    first = sizes[level, 0]
    rows = sizes[level, 1]
    columns = sizes[level, 2]
    x = s * columns - 0.5
    y = t * rows - 0.5
    i = math.floor(x)
    j = math.floor(y)
    fx = x - i
    fy = y - j
    i0 = _wrapped(i, columns, mirror)
    i1 = _wrapped(i + 1, columns, mirror)
    j0 = first + columns * _wrapped(j, rows, mirror)
    j1 = first + columns * _wrapped(j + 1, rows, mirror)
    a = weight * (1 - fx) * (1 - fy)
    b = weight * fx * (1 - fy)
    c = weight * (1 - fx) * fy
    d = weight * fx * fy
    for k in range(3):
        out[k] += (
            a * texels[j0 + i0, k]
            + b * texels[j0 + i1, k]
            + c * texels[j1 + i0, k]
            + d * texels[j1 + i1, k]
        )


@inline
def _step(ids, values, row, column, down, right, owner):
    """Change of a value to the neighbouring sample of the same owner; the smaller of two."""
    rows, columns = ids.shape
    here = values[row, column]
    best = np.float32(3e38)
    r = row + down
    c = column + right
    if r < rows and c < columns and ids[r, c] == owner:
        best = values[r, c] - here
    r = row - down
    c = column - right
    if r >= 0 and c >= 0 and ids[r, c] == owner:
        other = here - values[r, c]
        if abs(other) < abs(best):
            best = other
    return best if best < np.float32(3e38) else np.float32(0.0)


@kernel
def shade_plain(
    ids,  # int16 (all rows, columns)
    u,  # float32, m
    v,  # float32, m
    first,  # first row of the band
    owner,
    rgb_lx,  # float32 (grid rows, grid columns, 3)
    per_u,  # 1 / step along u
    per_v,
    reflectance,  # float32 (3,)
    out,  # float32 (band rows, columns, 3): cd/m2
):
    """L = rho E / pi, E bilinear between the vertices, one reflectance."""
    rows, columns = out.shape[0], out.shape[1]
    for row in prange(rows):
        for column in range(columns):
            if ids[first + row, column] != owner:
                continue
            i, f = _corner(u[first + row, column] * per_u, rgb_lx.shape[1])
            j, g = _corner(v[first + row, column] * per_v, rgb_lx.shape[0])
            for k in range(3):
                low = rgb_lx[j, i, k] + f * (rgb_lx[j, i + 1, k] - rgb_lx[j, i, k])
                high = rgb_lx[j + 1, i, k] + f * (rgb_lx[j + 1, i + 1, k] - rgb_lx[j + 1, i, k])
                out[row, column, k] = (low + g * (high - low)) * reflectance[k]


@kernel
def shade_mapped(
    ids,
    u,
    v,
    first,
    owner,
    rgb_lx,
    per_u,
    per_v,
    texels,  # uint16 (k, 3): the pyramid
    sizes,  # int64 (levels, 3)
    per_width,  # 1 / the map's width, 1/m
    per_height,
    mirror,  # bool
    gain,  # reflectance / pi of a full texel
    out,
):
    """The same with reflectance from a pyramid, along the sample's footprint."""
    rows, columns = out.shape[0], out.shape[1]
    levels = sizes.shape[0]
    for row in prange(rows):
        rho = np.zeros(3, np.float64)
        for column in range(columns):
            r = first + row
            if ids[r, column] != owner:
                continue
            # the sample's footprint, in texels of level 0: two edges of a parallelogram
            ax = _step(ids, u, r, column, 0, 1, owner) * per_width
            ay = _step(ids, v, r, column, 0, 1, owner) * per_height
            bx = _step(ids, u, r, column, 1, 0, owner) * per_width
            by = _step(ids, v, r, column, 1, 0, owner) * per_height
            a = math.hypot(ax * sizes[0, 2], ay * sizes[0, 1])
            b = math.hypot(bx * sizes[0, 2], by * sizes[0, 1])
            if a < b:
                ax, bx = bx, ax
                ay, by = by, ay
                a, b = b, a
            # several taps along the longer edge, each as wide as the shorter one
            taps = min(max(math.ceil(a / max(b, 1.0)), 1), 8)
            width = max(b, a / taps, 1.0)
            depth = min(math.log2(width), levels - 1.0)
            level = min(int(depth), levels - 2) if levels > 1 else 0
            share = depth - level
            rho[:] = 0.0
            s = u[r, column] * per_width
            t = v[r, column] * per_height
            for tap in range(taps):
                along = (tap + 0.5) / taps - 0.5
                x = s + along * ax
                y = t + along * ay
                _add_texel(texels, sizes, level, x, y, mirror, (1 - share) / taps, rho)
                if share > 0:
                    _add_texel(texels, sizes, level + 1, x, y, mirror, share / taps, rho)
            i, f = _corner(u[r, column] * per_u, rgb_lx.shape[1])
            j, g = _corner(v[r, column] * per_v, rgb_lx.shape[0])
            for k in range(3):
                low = rgb_lx[j, i, k] + f * (rgb_lx[j, i + 1, k] - rgb_lx[j, i, k])
                high = rgb_lx[j + 1, i, k] + f * (rgb_lx[j + 1, i + 1, k] - rgb_lx[j + 1, i, k])
                out[row, column, k] = (low + g * (high - low)) * (rho[k] * gain)


@kernel
def resolve(
    samples,  # float32 (rows x s, columns x s, 3)
    s,
    mean,  # float32 (rows, columns, 3): out
):
    """Average samples into pixels, in linear light."""
    for row in prange(mean.shape[0]):
        for column in range(mean.shape[1]):
            for k in range(3):
                total = np.float32(0.0)
                for i in range(s):
                    for j in range(s):
                        total += samples[row * s + i, column * s + j, k]
                mean[row, column, k] = total / (s * s)


@kernel
def split(
    ids,  # int16 (all rows x s, columns x s)
    samples,  # float32 (band's rows x s, columns x s, 3)
    first,  # sample row of the picture that `samples` starts with
    s,
    pixels,  # int64 (k,): flat indices in the picture
    columns,  # pixels in a row
    owners,  # int16 (k, m)
    out,  # float32 (k, m, 3): each owner's mean within the pixel
):
    """On silhouettes, average each owner's samples on their own.

    An owner that covers a part of the pixel but none of its samples takes the mean of its
    samples around the pixel.
    """
    height, width = samples.shape[0], samples.shape[1]
    for p in prange(pixels.size):
        row = pixels[p] // columns
        column = pixels[p] % columns
        for k in range(owners.shape[1]):
            owner = owners[p, k]
            out[p, k, 0] = 0.0
            out[p, k, 1] = 0.0
            out[p, k, 2] = 0.0
            if owner == -2:
                continue
            for reach in range(2):
                count = 0
                top = max((row - reach) * s - first, 0)
                bottom = min((row + 1 + reach) * s - first, height)
                left = max((column - reach) * s, 0)
                right = min((column + 1 + reach) * s, width)
                for i in range(top, bottom):
                    for j in range(left, right):
                        if ids[first + i, j] == owner:
                            count += 1
                            for c in range(3):
                                out[p, k, c] += samples[i, j, c]
                if count > 0:
                    for c in range(3):
                        out[p, k, c] /= count
                    break
