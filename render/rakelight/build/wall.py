"""A texture put on a wall: repeated, resampled onto the wall's grid, its mean plane at 0."""

import math
from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.grid import Grid
from rakelight.scene.relief import Detail, ReflectanceMap, Relief
from rakelight.scene.surfaces import Surface
from rakelight.scene.texture import Texture

# Relief, illuminance, normals, a pair of horizons and work space, as one vertex needs them.
BYTES_PER_VERTEX = 120
_FLAT_M = 1e-9
#: Heights are means over at least this, or two texels of the image where those are smaller: the
#: usual mesh and finer ones then cast the shadows of one surface. [m]
_SMOOTHED_M = 0.0025
#: Rise over run from which a cell is a cliff, and the share of a relief's own area that may be.
CLIFF = 3.0
CLIFF_SHARE = 0.01
#: Spread of the softening: standard deviation of a Gaussian. [mesh steps, of 2.5 mm or more]
SOFTEN_STEPS = 1.0

Floats = NDArray[np.float32]


def relief_on_wall(
    texture: Texture,
    width_m: float,
    height_m: float,
    step_m: float,
    *,
    offset_uv_m: tuple[float, float] = (0.0, 0.0),
    keep: Literal["mean", "repeat"] = "mean",
    memory_bytes: int | None = None,
) -> tuple[Relief, ReflectanceMap]:
    """Put a texture on a wall.

    Parameters
    ----------
    texture : Texture
        What to put on.
    width_m, height_m : float
        Size of the wall. [m], > 0
    step_m : float
        Largest distance between vertices. [m], > 0
    offset_uv_m : tuple of float
        Where the image's lower left corner lies on the wall. [m]
    keep : {"mean", "repeat"}
        Whose mean plane lies at 0: that of this wall, or that of a whole repeat, which two
        walls of one stone share.
    memory_bytes : int, optional
        Memory that may be used; None: any.

    Returns
    -------
    Relief
        Averaged over the wall's step, and over no less than 2.5 mm or two texels of the image,
        whichever is smaller: what lies between texels is not known well enough to cast shadows.
        Where an image is coarser than all of these, cubic. Its slopes in pictures are finer
        (`Relief.detail`). Cliffs that a mesh of this step cannot show (`steeper_than_mesh`) are
        softened.
    ReflectanceMap
        The texture's own, shifted by the offset to the nearest pixel.

    Raises
    ------
    ValueError
        If a size is not positive, the wall would not fit the memory (the message names the
        step that would), or an offset is given for a stretched texture.
    """
    if not (width_m > 0 and height_m > 0 and step_m > 0):
        raise ValueError(f"wall {width_m} x {height_m} m, step {step_m} m; all must be above 0")
    if texture.repeat == "stretch" and offset_uv_m != (0.0, 0.0):
        raise ValueError("a stretched texture fills the wall; it takes no offset")
    grid = Grid.with_step(width_m, height_m, step_m)
    _check_memory(grid, step_m, memory_bytes)
    image = texture.heights
    detail = None
    if texture.depth_m == 0 or float(image.max()) == float(image.min()):
        shares = np.full((grid.rows, grid.columns), image.flat[0], dtype=np.float32)
    else:
        mirror = texture.repeat != "tile"  # a stretched image's border goes on mirrored
        size_u, size_v = texture.width_m, texture.height_m
        if texture.repeat == "stretch":
            size_u, size_v = width_m, height_m
        shares = resample(
            image,
            (grid.v_m() - offset_uv_m[1]) / size_v,
            (grid.u_m() - offset_uv_m[0]) / size_u,
            mirror=mirror,
            means=(
                min(2.0, _SMOOTHED_M * image.shape[0] / size_v),
                min(2.0, _SMOOTHED_M * image.shape[1] / size_u),
            ),
        )
        detail = Detail(image, texture.depth_m, size_u, size_v, offset_uv_m, mirror)
    softened = steeper_than_mesh(shares * np.float32(texture.depth_m), grid)
    if softened:
        spread_m = SOFTEN_STEPS * np.maximum(_SMOOTHED_M, [grid.step_v_m, grid.step_u_m])
        spread = spread_m / [grid.step_v_m, grid.step_u_m]
        from scipy.ndimage import gaussian_filter  # late: slow to load

        shares = gaussian_filter(shares, spread, mode="nearest")
    # In metres and from the mean plane in float64: a shallow relief keeps all its digits
    mean = _area_mean(shares) if keep == "mean" else float(image.mean(dtype=np.float64))
    heights = (shares - np.float32(mean)) * np.float32(texture.depth_m)
    if keep == "mean":
        heights -= np.float32(_area_mean(heights))
    relief = Relief(
        heights_m=heights,
        grid=grid,
        mask=np.ones(heights.shape, dtype=np.bool_),
        backing_m=texture.backing_m - mean * texture.depth_m,
        feature_m=feature_size(heights, grid.step_u_m, grid.step_v_m),
        name=texture.title,
        softened=softened,
        detail=detail,
    )
    return relief, reflectance_on_wall(texture, width_m, height_m, offset_uv_m)


def steeper_than_mesh(heights_m: Floats, grid: Grid) -> bool:
    """Whether more of a relief is cliff than its mesh can light.

    A cliff of one cell takes its light from the vertices at its lip and its foot, and the lip's
    normal already leans into the light. On blocks 30 mm deep with straight sides, 100 mm off, the
    relief caught 8 % more flux than rays from the run brought it, and 0.3 % once softened.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        [m]
    grid : Grid
        Its vertices.
    """
    du = np.diff(heights_m, axis=1)[:-1] / np.float32(grid.step_u_m)
    dv = np.diff(heights_m, axis=0)[:, :-1] / np.float32(grid.step_v_m)
    squared = du * du + dv * dv
    area = np.sqrt(1 + squared)
    return bool(area[squared > CLIFF**2].sum() > CLIFF_SHARE * area.sum())


def softened_notes(surfaces: Mapping[str, Surface]) -> tuple[str, ...]:
    """Say which reliefs are steeper than their mesh.

    Parameters
    ----------
    surfaces : mapping of str to Surface
        With their reliefs.
    """
    return tuple(
        f"relief on {name}: {surface.relief.name} has cliffs steeper than a mesh of "
        f"{1000 * surface.grid.step_u_m:.2g} mm can light; they are softened over a step"
        for name, surface in surfaces.items()
        if surface.relief is not None and surface.relief.softened
    )


def resample(
    image: Floats,
    v: NDArray[np.float64],
    u: NDArray[np.float64],
    *,
    mirror: bool,
    means: tuple[float, float] = (0.0, 0.0),
) -> Floats:
    """Sample a repeating image at evenly spaced places.

    Parameters
    ----------
    image : ndarray of float32, shape (rows, columns)
        Samples stand for the middles of their cells.
    v, u : ndarray of float64
        Evenly spaced places in units of the whole image, 0 = border of its first row or column.
    mirror : bool
        True: every second copy is mirrored; False: plain tiles.
    means : tuple of float
        Least widths along v and u over which means are taken. [samples]

    Returns
    -------
    ndarray of float32, shape (v.size, u.size)
        Mean over the cell between neighbouring places, or over the least width, where that is
        wider than a sample; else cubic (Catmull-Rom), kept within the image's range.

    References
    ----------
    .. [1] E. Catmull, R. Rom, A class of local interpolating splines, 1974 (from memory).
    """
    over_v = _weights(v, image.shape[0], mirror, means[0])
    over_u = _weights(u, image.shape[1], mirror, means[1])
    rows = over_v @ image
    out: Floats = np.ascontiguousarray((over_u @ rows.T).T, dtype=np.float32)
    np.clip(out, image.min(), image.max(), out=out)
    return out


def _weights(places: NDArray[np.float64], count: int, mirror: bool, least: float) -> Any:
    """Sparse matrix from `count` samples to the places."""
    from scipy.sparse import csr_array

    at = places * count - 0.5  # in samples; sample 0 has its middle at 0
    step = max(least, abs(at[1] - at[0]) if at.size > 1 else 0.0)
    if step > 1:
        half = step / 2
        taps = math.ceil(step) + 1
        first = np.floor(at - half + 0.5)
        index = first[:, None] + np.arange(taps)
        low = np.maximum(index - 0.5, (at - half)[:, None])
        high = np.minimum(index + 0.5, (at + half)[:, None])
        weight = np.clip(high - low, 0, None) / step
    else:
        first = np.floor(at)
        t = (at - first)[:, None]
        index = first[:, None] + np.arange(-1, 3)
        weight = np.hstack(
            [
                ((-0.5 * t + 1.0) * t - 0.5) * t,
                (1.5 * t - 2.5) * t * t + 1.0,
                ((-1.5 * t + 2.0) * t + 0.5) * t,
                (0.5 * t - 0.5) * t * t,
            ]
        )
    whole = index.astype(np.int64)
    if mirror:
        whole %= 2 * count
        whole = np.where(whole >= count, 2 * count - 1 - whole, whole)
    else:
        whole %= count
    row = np.repeat(np.arange(places.size), index.shape[1])
    matrix = csr_array(
        (weight.astype(np.float32).ravel(), (row, whole.ravel())), shape=(places.size, count)
    )
    matrix.sum_duplicates()
    return matrix


def feature_size(heights_m: Floats, step_u_m: float, step_v_m: float) -> tuple[float, float]:
    """Size of a typical feature: the wavelength above which half of the height variance lies.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Heights. [m]
    step_u_m, step_v_m : float
        Distances between columns and between rows. [m]

    Returns
    -------
    tuple of float
        Along u and along v. [m] The wall's own size where heights do not vary along an axis.

    Notes
    -----
    From the periodogram of each line under a Hann window, summed over lines. At most about a
    thousand lines are used, evenly spread.
    """
    along_v = heights_m[:, :: max(1, heights_m.shape[1] // 1000)].T
    along_u = heights_m[:: max(1, heights_m.shape[0] // 1000)]
    least = _FLAT_M**2 + 1e-9 * float(np.var(along_u, dtype=np.float64))
    return _half_variance(along_u, step_u_m, least), _half_variance(along_v, step_v_m, least)


def _half_variance(lines: Floats, step_m: float, least: float) -> float:
    count = lines.shape[1]
    size: float = (count - 1) * step_m
    if count < 4:
        return size
    window = (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)).astype(np.float32)
    # the weighted mean goes first, or its leak under the window reads as long waves
    middle = lines - (lines @ window / window.sum())[:, None]
    power = np.zeros(count // 2 + 1)
    for start in range(0, len(lines), 128):  # bounded work space
        part = np.fft.rfft(middle[start : start + 128] * window, axis=1)
        power += (np.abs(part) ** 2).sum(axis=0, dtype=np.float64)
    power[0] = 0.0
    variance = 2 * power.sum() / (count * float((window**2).sum()) * len(lines))
    if variance <= least:
        return size
    # power k stands for the wavenumbers from k - 1/2 to k + 1/2
    summed = np.concatenate([[0.0], np.cumsum(power[1:])]) / power.sum()
    wavenumber = float(np.interp(0.5, summed, np.arange(summed.size) + 0.5))
    wavelength: float = count * step_m / wavenumber
    return wavelength


def _area_mean(values: Floats) -> float:
    """Mean over the area: border vertices stand for half a cell, corners for a quarter."""
    over_u = values.sum(axis=1, dtype=np.float64)
    over_u -= 0.5 * (values[:, 0].astype(np.float64) + values[:, -1])
    total = over_u.sum() - 0.5 * (over_u[0] + over_u[-1])
    return float(total / ((values.shape[0] - 1) * (values.shape[1] - 1)))


def _check_memory(grid: Grid, step_m: float, memory_bytes: int | None) -> None:
    needed = grid.rows * grid.columns * BYTES_PER_VERTEX
    if memory_bytes is None or needed <= memory_bytes:
        return
    fits = step_m * math.sqrt(needed / memory_bytes)
    rounded = math.ceil(fits * 1e4 + 1) / 1e4
    raise ValueError(
        f"{grid.rows * grid.columns:,} vertices at a step of {step_m * 1000:.2f} mm need about "
        f"{needed / 1e9:.1f} GB and {memory_bytes / 1e9:.1f} GB are free; "
        f"a step of {rounded * 1000:.1f} mm would fit"
    )


def reflectance_on_wall(
    texture: Texture, width_m: float, height_m: float, offset_uv_m: tuple[float, float]
) -> ReflectanceMap:
    """A texture's reflectance map as it lies on a wall, shifted to the nearest pixel.

    Parameters
    ----------
    texture : Texture
        What is put on.
    width_m, height_m : float
        Size of the wall; counts for a stretched texture. [m]
    offset_uv_m : tuple of float
        Where the image's lower left corner lies. [m]
    """
    encoded = texture.reflectance_encoded
    mirror = texture.repeat == "mirror"
    size_u, size_v = texture.width_m, texture.height_m
    if texture.repeat == "stretch":
        size_u, size_v = width_m, height_m
    rows, columns = encoded.shape[:2]
    roll_u = round(offset_uv_m[0] / size_u * columns)
    roll_v = round(offset_uv_m[1] / size_v * rows)
    if mirror and (roll_u or roll_v) and rows * columns > 1:
        # a shifted mirror image is a plain tile of twice the size
        encoded = np.concatenate([encoded, encoded[:, ::-1]], axis=1)
        encoded = np.concatenate([encoded, encoded[::-1]], axis=0)
        size_u, size_v, mirror = 2 * size_u, 2 * size_v, False
    if roll_u or roll_v:
        encoded = np.roll(encoded, (roll_v, roll_u), axis=(0, 1))
    return ReflectanceMap(
        encoded=np.ascontiguousarray(encoded),
        scale=texture.reflectance_scale,
        width_m=size_u,
        height_m=size_v,
        mirror=mirror,
    )


def mean_reflectance(reflectance_map: ReflectanceMap) -> NDArray[np.float64]:
    """Mean of a map in linear Rec.709, shape (3,) (IEC 61966-2-1)."""
    code = np.arange(256) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    counts = np.stack(
        [np.bincount(reflectance_map.encoded[..., c].ravel(), minlength=256) for c in range(3)]
    )
    mean: NDArray[np.float64] = counts @ linear / counts.sum(axis=1) * reflectance_map.scale
    return mean
