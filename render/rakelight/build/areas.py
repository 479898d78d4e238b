"""A wall's one relief, composed: several areas, openings, a pitched top, lean and bow."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.wall import feature_size, relief_on_wall
from rakelight.scene.grid import Grid
from rakelight.scene.relief import ReflectanceMap, Relief
from rakelight.scene.surfaces import Surface
from rakelight.scene.tables import ReliefTable
from rakelight.scene.texture import Texture

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Pixels of a composed reflectance map along each side, at most.
MOST_TEXELS = 4096
#: Finest texel of a composed map. [m]
LEAST_TEXEL_M = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """One texture and the part of the wall that it covers."""

    table: ReliefTable
    texture: Texture

    def bounds_m(self) -> tuple[Floats, Floats]:
        """Lower left and upper right corner on the wall, as (u, v). [m]"""
        area = self.table.area
        if area is None:
            raise ValueError("the relief covers the whole wall")
        low = np.array([area.from_left_m, area.from_foot_m])
        return low, low + np.array([area.width_m, area.height_m])


def inside_polygon(u_m: Floats, v_m: Floats, polygon: Floats) -> Mask:
    """Whether places lie in a simple polygon, shape (rows, columns) from (columns,), (rows,)."""
    inside = np.zeros((v_m.size, u_m.size), np.bool_)
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if a[1] == b[1]:
            continue
        low, high = min(a[1], b[1]), max(a[1], b[1])
        rows = np.flatnonzero((v_m >= low) & (v_m < high))
        cut = a[0] + (b[0] - a[0]) * (v_m[rows] - a[1]) / (b[1] - a[1])
        inside[rows] ^= u_m[None, :] < cut[:, None]
    return inside


def there(surface: Surface, grid: Grid) -> Mask:
    """Vertices of a grid that lie on the surface: in its polygon, in none of its holes."""
    u, v = grid.u_m(), grid.v_m()
    # the border belongs to the surface, and half-open tests would leave some of it out
    u = np.clip(u, u[0] + 1e-9, u[-1] - 1e-9)
    v = np.clip(v, v[0] + 1e-9, v[-1] - 1e-9)
    on = inside_polygon(u, v, surface.corners_uv_m)
    for hole in surface.holes_uv_m:
        on &= ~inside_polygon(u, v, hole)
    return on


def composed(
    surface: Surface, areas: Sequence[Area], step_m: float
) -> tuple[Relief, ReflectanceMap]:
    """One relief and one map of a wall that has several areas of relief.

    Parameters
    ----------
    surface : Surface
        The bare wall.
    areas : sequence of Area
        Rectangles that do not overlap.
    step_m : float
        Largest step. [m]
    """
    width, height = surface.grid.width_m, surface.grid.height_m
    grid = Grid.with_step(width, height, step_m)
    u, v = grid.u_m(), grid.v_m()
    heights = np.zeros((grid.rows, grid.columns), np.float32)
    mask = np.zeros(heights.shape, np.bool_)
    texel = max(LEAST_TEXEL_M, width / MOST_TEXELS, height / MOST_TEXELS)
    columns, rows = max(1, round(width / texel)), max(1, round(height / texel))
    at_u = (np.arange(columns) + 0.5) * width / columns
    at_v = (np.arange(rows) + 0.5) * height / rows
    linear = np.empty((rows, columns, 3), np.float32)
    if surface.reflectance_map is None:
        linear[:] = surface.reflectance_rgb
    else:
        linear[:] = map_at(surface.reflectance_map, at_v, at_u)
    backing, softened = 0.0, False
    for area in areas:
        low, high = area.bounds_m()
        table = area.table.area
        proud = table.proud_m if table is not None else 0.0
        width_m, height_m = (float(x) for x in high - low)
        own, own_map = relief_on_wall(
            area.texture, width_m, height_m, step_m, offset_uv_m=area.table.offset_m
        )
        i = slice(*np.searchsorted(v, [low[1] - 1e-9, high[1] + 1e-9]))
        j = slice(*np.searchsorted(u, [low[0] - 1e-9, high[0] + 1e-9]))
        heights[i, j] = proud + _sampled(own, v[i] - low[1], u[j] - low[0])
        mask[i, j] = True
        softened |= own.softened
        backing = min(backing, own.backing_m + proud)
        i = slice(*np.searchsorted(at_v, [low[1], high[1]]))
        j = slice(*np.searchsorted(at_u, [low[0], high[0]]))
        linear[i, j] = map_at(own_map, at_v[i] - low[1], at_u[j] - low[0])
    top = max(float(linear.max()), 1e-6)
    encoded = np.rint(255 * srgb_encode(linear / top)).astype(np.uint8)
    u_size, v_size = feature_size(_covering(heights, mask), grid.step_u_m, grid.step_v_m)
    name = ", ".join(dict.fromkeys(area.texture.title for area in areas))
    relief = Relief(heights, grid, mask, backing, (u_size, v_size), name, softened)
    return relief, ReflectanceMap(encoded, top, width, height)


def trued(surface: Surface, lean_m: float, bow_m: float, step_m: float) -> Surface:
    """A wall with its lean and bow added to its heights, about the same mean plane.

    Parameters
    ----------
    surface : Surface
        With its relief, or without.
    lean_m, bow_m : float
        How far the top stands farther in than the foot, and the middle than the ends. [m]
    step_m : float
        Largest step where there is no relief. [m]
    """
    if lean_m == 0 and bow_m == 0:
        return surface
    relief = surface.relief
    grid = (
        relief.grid
        if relief is not None
        else Grid.with_step(surface.grid.width_m, surface.grid.height_m, step_m)
    )
    u, v = grid.u_m() / grid.width_m, grid.v_m() / grid.height_m
    # a parabola, 1 in the middle and 0 at the ends, has the mean 2/3
    off = lean_m * (v[:, None] - 0.5) + bow_m * (4 * u * (1 - u) - 2 / 3)
    if relief is None:
        heights = off.astype(np.float32)
        flat = Relief(
            heights,
            grid,
            np.ones(heights.shape, np.bool_),
            float(off.min()),
            (grid.width_m, grid.height_m),
            "out of true",
        )
        return replace(surface, grid=grid, relief=flat)
    moved = (relief.heights_m + off).astype(np.float32)
    changed = replace(
        relief,
        heights_m=moved,
        mask=relief.mask,
        backing_m=relief.backing_m + float(off.min()),
        detail=None,
    )
    return replace(surface, relief=changed)


def masked(surface: Surface) -> Surface:
    """A wall whose relief's mask leaves out its holes and what lies beyond its polygon."""
    relief = surface.relief
    if relief is None or (not surface.holes_uv_m and len(surface.corners_uv_m) == 4):
        return surface
    mask = relief.mask & there(surface, relief.grid)
    return replace(surface, relief=replace(relief, mask=mask))


def overlapping(areas: Sequence[Area]) -> tuple[int, int] | None:
    """Return two areas that overlap, by number, or None."""
    for i, one in enumerate(areas):
        for k in range(i):
            (a, b), (c, d) = one.bounds_m(), areas[k].bounds_m()
            if ((b > c + 1e-9) & (a < d - 1e-9)).all():
                return i, k
    return None


def _sampled(own: Relief, v: Floats, u: Floats) -> NDArray[np.float32]:
    """Heights of an area's own relief at places, linear between its vertices."""
    rows, columns = v / own.grid.step_v_m, u / own.grid.step_u_m
    i = np.clip(rows.astype(int), 0, own.grid.rows - 2)
    j = np.clip(columns.astype(int), 0, own.grid.columns - 2)
    f = np.clip(rows - i, 0, 1)[:, None].astype(np.float32)
    g = np.clip(columns - j, 0, 1)[None].astype(np.float32)
    h = own.heights_m
    low = h[np.ix_(i, j)] * (1 - g) + h[np.ix_(i, j + 1)] * g
    high = h[np.ix_(i + 1, j)] * (1 - g) + h[np.ix_(i + 1, j + 1)] * g
    out: NDArray[np.float32] = low * (1 - f) + high * f
    return out


def map_at(own: ReflectanceMap, v: Floats, u: Floats) -> NDArray[np.float32]:
    """Linear reflectance of a map at places, nearest pixel."""
    rows, columns = own.encoded.shape[:2]
    i, j = (
        _folded(v / own.height_m, rows, own.mirror),
        _folded(u / own.width_m, columns, own.mirror),
    )
    code = np.arange(256) / 255
    table = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    out: NDArray[np.float32] = (table[own.encoded[np.ix_(i, j)]] * own.scale).astype(np.float32)
    return out


def _folded(share: Floats, count: int, mirror: bool) -> NDArray[np.int64]:
    at = np.floor(share * count).astype(np.int64)
    if not mirror:
        return at % count
    at %= 2 * count
    return np.where(at >= count, 2 * count - 1 - at, at)


def srgb_encode(linear: NDArray[np.float32]) -> NDArray[np.float32]:
    """SRGB transfer function (IEC 61966-2-1)."""
    out: NDArray[np.float32] = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
    ).astype(np.float32)
    return out


def _covering(heights: NDArray[np.float32], mask: Mask) -> NDArray[np.float32]:
    """The largest run of rows and columns around the first area, for its feature size."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    part = heights[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return part if min(part.shape) >= 2 else heights
