"""Luminance in every sample of a surface, and samples gathered into pixels."""

# mypy: allow-untyped-defs
import math

import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt


@inline
def _corner(x, count):
    """Lower vertex and share of the way to the next one, for a place in steps."""
    x = min(max(x, 0.0), count - 1.0)
    i = min(int(x), count - 2)
    return i, np.float32(x - i)


@inline
def _folded(s, mirror):
    """A place on the map itself, 0 to 1, of one in its repeats."""
    s = s - math.floor(s * 0.5) * 2.0 if mirror else s - math.floor(s)
    return 2.0 - s if mirror and s > 1.0 else s


@inline
def _pair(x, count, mirror):
    """Two neighbouring texels and the share of the second, for a place on the map in texels."""
    i = math.floor(x)
    f = np.float32(x - i)
    j = i + 1
    if i < 0:
        i = 0 if mirror else count - 1
    if j >= count:
        j = count - 1 if mirror else 0
    return i, j, f


@inline
def _add_texel(texels, texel, weight, sums):
    """Sums of three bands with one texel's share; without a sign, the index needs no wrapping."""
    at = np.uint64(texel)
    return (
        sums[0] + weight * np.float32(texels[at, 0]),
        sums[1] + weight * np.float32(texels[at, 1]),
        sums[2] + weight * np.float32(texels[at, 2]),
    )


@inline
def _add_bilinear(texels, sizes, level, s, t, mirror, weight, sums):
    """Sums with the share of the bilinear texel at (s, t) on the map, each from 0 to 1."""
    first, rows, columns = sizes[level, 0], sizes[level, 1], sizes[level, 2]
    i0, i1, right = _pair(s * columns - 0.5, columns, mirror)
    j0, j1, upper = _pair(t * rows - 0.5, rows, mirror)
    low, high = first + columns * j0, first + columns * j1
    upper *= weight
    lower = weight - upper
    sums = _add_texel(texels, low + i0, lower - lower * right, sums)
    sums = _add_texel(texels, low + i1, lower * right, sums)
    sums = _add_texel(texels, high + i0, upper - upper * right, sums)
    return _add_texel(texels, high + i1, upper * right, sums)


@inline
def _bilinear(lx, i, j, f, g, k):
    low = lx[j, i, k] + f * (lx[j, i + 1, k] - lx[j, i, k])
    high = lx[j + 1, i, k] + f * (lx[j + 1, i + 1, k] - lx[j + 1, i, k])
    return low + g * (high - low)


@inline
def _light(lx, x, y):
    """Three bands of light at a place in steps; one stands for all where there is but one."""
    i, f = _corner(x, lx.shape[1])
    j, g = _corner(y, lx.shape[0])
    red = _bilinear(lx, i, j, f, g, 0)
    if lx.shape[2] == 1:
        return red, red, red
    return red, _bilinear(lx, i, j, f, g, 1), _bilinear(lx, i, j, f, g, 2)


@inline
def _smaller(before, here, after, is_before, is_after):
    """Change of a value from sample to sample: the smaller of two, those of the same owner."""
    if not is_after:
        return here - before if is_before else np.float32(0.0)
    if is_before and abs(here - before) < abs(after - here):
        return here - before
    return after - here


@inline
def _steps(ids, u, v, row, column, down, right, owner):
    """Changes of u and v to the neighbouring sample of the same owner."""
    r, c = row + down, column + right
    is_after = r < ids.shape[0] and c < ids.shape[1] and ids[r, c] == owner
    if not is_after:
        r, c = row, column
    y, x = row - down, column - right
    is_before = y >= 0 and x >= 0 and ids[y, x] == owner
    if not is_before:
        y, x = row, column
    return (
        _smaller(u[y, x], u[row, column], u[r, c], is_before, is_after),
        _smaller(v[y, x], v[row, column], v[r, c], is_before, is_after),
    )


@kernel
def shade_plain(
    ids,  # int16 (all rows, columns)
    u,  # float32, m
    v,  # float32, m
    first,  # first row of the band
    owner,
    lx,  # float32 (grid rows, grid columns, 1 or 3)
    per_u,  # 1 / step along u
    per_v,
    factor,  # float32 (3,): reflectance / pi, times the light's colour
    out,  # float32 (band rows, columns, 3): cd/m2
):
    """L = rho E / pi, E bilinear between the vertices, one reflectance."""
    rows, columns = out.shape[0], out.shape[1]
    for card in prange(rows):
        row = dealt(card, rows)
        for column in range(columns):
            if ids[first + row, column] != owner:
                continue
            red, green, blue = _light(
                lx, u[first + row, column] * per_u, v[first + row, column] * per_v
            )
            out[row, column, 0] = red * factor[0]
            out[row, column, 1] = green * factor[1]
            out[row, column, 2] = blue * factor[2]


@kernel
def reflectance_seen(
    ids,
    u,
    v,
    first,
    owner,
    texels,  # uint16 (k, 3): the pyramid
    sizes,  # int64 (levels, 3)
    per_width,  # 1 / the map's width, 1/m
    per_height,
    mirror,  # bool
    out,  # uint16 (band rows, columns, 3): in texels' units
):
    """Reflectance of each sample from a pyramid, along its footprint."""
    rows, columns = out.shape[0], out.shape[1]
    levels = sizes.shape[0]
    half = np.float32(0.5)
    for card in prange(rows):
        row = dealt(card, rows)
        for column in range(columns):
            r = first + row
            if ids[r, column] != owner:
                continue
            # the sample's footprint, in texels of level 0: two edges of a parallelogram
            right = _steps(ids, u, v, r, column, 0, 1, owner)
            down = _steps(ids, u, v, r, column, 1, 0, owner)
            ax, ay = right[0] * per_width, right[1] * per_height
            bx, by = down[0] * per_width, down[1] * per_height
            a = (ax * sizes[0, 2]) ** 2 + (ay * sizes[0, 1]) ** 2
            b = (bx * sizes[0, 2]) ** 2 + (by * sizes[0, 1]) ** 2
            if a < b:
                ax, bx = bx, ax
                ay, by = by, ay
                a, b = b, a
            level = 0
            share = np.float32(0.0)
            taps = 1
            if a > 1.0:
                # several taps along the longer edge, each as wide as the shorter one
                a = math.sqrt(a)
                b = math.sqrt(b)
                taps = min(max(math.ceil(a / max(b, 1.0)), 1), 8)
                width = max(b, a / taps, 1.0)
                if width > 1.0 and levels > 1:
                    depth = min(math.log2(width), levels - 1.0)
                    level = min(int(depth), levels - 2)
                    share = np.float32(depth - level)
            s = u[r, column] * per_width
            t = v[r, column] * per_height
            each = np.float32(1.0) / np.float32(taps)
            upper = share * each
            sums = (np.float32(0.0), np.float32(0.0), np.float32(0.0))
            for tap in range(taps):
                along = (tap + 0.5) / taps - 0.5  # 0 with one tap
                x = _folded(s + along * ax, mirror)
                y = _folded(t + along * ay, mirror)
                sums = _add_bilinear(texels, sizes, level, x, y, mirror, each - upper, sums)
                if share > 0:
                    sums = _add_bilinear(texels, sizes, level + 1, x, y, mirror, upper, sums)
            out[row, column, 0] = np.uint16(sums[0] + half)
            out[row, column, 1] = np.uint16(sums[1] + half)
            out[row, column, 2] = np.uint16(sums[2] + half)


@kernel
def shade_mapped(
    ids,
    u,
    v,
    first,
    owner,
    lx,
    per_u,
    per_v,
    rho,  # uint16 (band rows, columns, 3): from `reflectance_seen`
    factor,  # float32 (3,): reflectance / pi of a full texel, times the light's colour
    out,
):
    """The same, each sample with its own reflectance."""
    rows, columns = out.shape[0], out.shape[1]
    for card in prange(rows):
        row = dealt(card, rows)
        for column in range(columns):
            r = first + row
            if ids[r, column] != owner:
                continue
            red, green, blue = _light(lx, u[r, column] * per_u, v[r, column] * per_v)
            out[row, column, 0] = np.float32(rho[row, column, 0]) * red * factor[0]
            out[row, column, 1] = np.float32(rho[row, column, 1]) * green * factor[1]
            out[row, column, 2] = np.float32(rho[row, column, 2]) * blue * factor[2]


@kernel
def gather(
    ids,
    u,
    v,
    first,
    owner,
    lx,  # float32 (grid rows, grid columns)
    per_u,
    per_v,
    s,
    out,  # float32 (pixel rows, pixel columns): NaN where the owner is not
):
    """Illuminance of pixels: their samples' mean, or the upper left one where several meet."""
    for card in prange(out.shape[0]):
        row = dealt(card, out.shape[0])
        for column in range(out.shape[1]):
            if ids[first + row * s, column * s] != owner:
                continue
            total = np.float32(0.0)
            corner = np.float32(0.0)
            whole = True
            for a in range(s):
                for b in range(s):
                    r = first + row * s + a
                    c = column * s + b
                    if ids[r, c] != owner:
                        whole = False
                        continue
                    i, f = _corner(u[r, c] * per_u, lx.shape[1])
                    j, g = _corner(v[r, c] * per_v, lx.shape[0])
                    low = lx[j, i] + f * (lx[j, i + 1] - lx[j, i])
                    high = lx[j + 1, i] + f * (lx[j + 1, i + 1] - lx[j + 1, i])
                    value = low + g * (high - low)
                    if a == 0 and b == 0:
                        corner = value
                    total += value
            out[row, column] = total / np.float32(s * s) if whole else corner


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
