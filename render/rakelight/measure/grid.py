"""The meter grid: what a meter held to the wall reads at points on the mean plane."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.area import max_to_min
from rakelight.measure.fields import Fields
from rakelight.measure.settings import MeasureSettings
from rakelight.measure.weights import inside_polygon
from rakelight.scene.grid import Grid
from rakelight.scene.number import Number

# grid and area averages further apart than this are worth a warning
DIFFERENCE = 0.10


@dataclass(frozen=True, slots=True, eq=False)
class MeterGrid:
    """Readings at cell centres.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (points,)
        From the left and up from the foot, rows from the foot up. [m]
    illuminance_lx : ndarray of float64, shape (points,)
        On the mean plane, all light. [lx]
    across, up : int
        Points in a row and rows, before those outside the polygon were left out.
    spacing_m : float
        Largest cell allowed. [m]
    """

    u_m: NDArray[np.float64]
    v_m: NDArray[np.float64]
    illuminance_lx: NDArray[np.float64]
    across: int
    up: int
    spacing_m: float

    @property
    def average_lx(self) -> float:
        """Arithmetic mean of the readings. [lx]"""
        return float(self.illuminance_lx.mean())

    @property
    def min_lx(self) -> float:
        """Least reading. [lx]"""
        return float(self.illuminance_lx.min())

    @property
    def max_lx(self) -> float:
        """Greatest reading. [lx]"""
        return float(self.illuminance_lx.max())

    @property
    def uniformity(self) -> float:
        """U0 = min / average (EN 12665); nan where all is dark."""
        return self.min_lx / self.average_lx if self.average_lx > 0 else math.nan

    @property
    def max_to_min(self) -> float:
        """Diversity max:min."""
        return max_to_min(self.min_lx, self.max_lx)

    def rows(self) -> tuple[tuple[float, float, float], ...]:
        """(u, v, illuminance) of each point. [m, m, lx]"""
        points = zip(self.u_m, self.v_m, self.illuminance_lx, strict=True)
        return tuple((float(u), float(v), float(e)) for u, v, e in points)


def grid_spacing_m(width_m: float, height_m: float) -> float:
    """Largest cell of a meter grid by EN 12464-1. [m]

    Parameters
    ----------
    width_m, height_m : float
        The area's sides. [m], > 0

    Raises
    ------
    ValueError
        If a side is not positive.

    Notes
    -----
    p = 0.2 * 5^(log10 d), at most 10 m; d is the longer side, or the shorter one where the
    longer is at least twice the shorter.

    References
    ----------
    .. [1] EN 12464-1:2011, 4.4 (illuminance grid).
    """
    if not (width_m > 0 and height_m > 0):
        raise ValueError(f"a grid over {width_m} x {height_m} m; both must be above 0")
    long, short = max(width_m, height_m), min(width_m, height_m)
    d = short if long / short >= 2 else long
    return float(min(10.0, 0.2 * 5 ** math.log10(d)))


def grid_counts(width_m: float, height_m: float, spacing_m: float) -> tuple[int, int]:
    """Points across and up: both sides divided by the spacing, rounded up.

    Rounding up never exceeds the spacing; some summaries of the standard round to the
    nearest instead.
    """
    across, up = (max(1, math.ceil(side / spacing_m - 1e-9)) for side in (width_m, height_m))
    return across, up


def meter_grid(
    fields: Fields, *, spacing_m: float | None = None, border_m: float = 0.0
) -> MeterGrid:
    """Readings of a meter held to the mean plane, at the centres of the grid's cells.

    Parameters
    ----------
    fields : Fields
        The surface's light.
    spacing_m : float, optional
        Largest cell; default EN 12464-1. [m]
    border_m : float
        Left out along all four borders. [m]

    Raises
    ------
    ValueError
        If the border leaves nothing.
    """
    surface = fields.surface
    width = surface.grid.width_m - 2 * border_m
    height = surface.grid.height_m - 2 * border_m
    if not (width > 0 and height > 0):
        raise ValueError(f"{surface.name}: a border of {border_m} m leaves nothing to measure")
    spacing = grid_spacing_m(width, height) if spacing_m is None else spacing_m
    across, up = grid_counts(width, height, spacing)
    u = border_m + (np.arange(across) + 0.5) * width / across
    v = border_m + (np.arange(up) + 0.5) * height / up
    points_v, points_u = (a.ravel() for a in np.meshgrid(v, u, indexing="ij"))
    keep = inside_polygon(points_u, points_v, surface.corners_uv_m)
    for hole in surface.holes_uv_m:  # a door, or a board that hangs there
        keep &= ~inside_polygon(points_u, points_v, hole)
    if not keep.any():
        raise ValueError(f"{surface.name}: no point of the meter grid lies inside it")
    points_u, points_v = points_u[keep], points_v[keep]
    readings = at_points(fields.flat_lx, surface.grid, points_u, points_v)
    return MeterGrid(points_u, points_v, readings, across, up, spacing)


def at_points(
    values: NDArray[np.float32],
    grid: Grid,
    u_m: NDArray[np.float64],
    v_m: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Values at points, linear over the surface's triangles.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
        On the vertices.
    grid : Grid
        The vertices.
    u_m, v_m : ndarray of float64, shape (points,)
        Points on the surface. [m]
    """
    x = np.clip(u_m / grid.step_u_m, 0, grid.columns - 1)
    y = np.clip(v_m / grid.step_v_m, 0, grid.rows - 1)
    column = np.minimum(x.astype(np.int64), grid.columns - 2)
    row = np.minimum(y.astype(np.int64), grid.rows - 2)
    x, y = x - column, y - row
    a, c = values[row, column].astype(float), values[row + 1, column + 1].astype(float)
    b, d = values[row, column + 1].astype(float), values[row + 1, column].astype(float)
    lower = a + (b - a) * x + (c - b) * y  # below the diagonal a-c
    upper = a + (c - d) * x + (d - a) * y
    out: NDArray[np.float64] = np.where(x >= y, lower, upper)
    return out


def differs_from_area(grid_average_lx: float, area_average_lx: float) -> bool:
    """Whether grid and area averages are more than 10 % apart (of the area's)."""
    return abs(grid_average_lx - area_average_lx) > DIFFERENCE * area_average_lx


def grid_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Average, extremes and uniformity of the meter grid, and whether it misses light."""
    name = fields.surface.name
    grid = meter_grid(fields, spacing_m=settings.grid_spacing_m, border_m=settings.grid_border_m)
    area = float(np.sum(fields.flat_lx * fields.plane_m2) / np.sum(fields.plane_m2))
    on = f"of {grid.illuminance_lx.size} meter points"
    apart = grid.average_lx / area - 1 if area > 0 else 0.0
    warn = differs_from_area(grid.average_lx, area)
    return (
        Number(f"{name}.grid.average_lx", grid.average_lx, "lx", f"average {on}"),
        Number(f"{name}.grid.min_lx", grid.min_lx, "lx", f"least {on}"),
        Number(f"{name}.grid.max_lx", grid.max_lx, "lx", f"greatest {on}"),
        Number(f"{name}.grid.uniformity", grid.uniformity, "1", f"U0 = least to average {on}"),
        Number(f"{name}.grid.max_to_min", grid.max_to_min, "1", f"greatest to least {on}"),
        Number(f"{name}.grid.points_across", float(grid.across), "1", "meter points in a row"),
        Number(f"{name}.grid.points_up", float(grid.up), "1", "rows of meter points"),
        Number(
            f"{name}.grid.spacing_m", grid.spacing_m, "m", "largest distance between meter points"
        ),
        Number(
            f"{name}.grid.over_area", apart, "1", "meter points' average over the area's, less 1"
        ),
        Number(
            f"{name}.grid.misses_light",
            float(warn),
            "1",
            "1: meter points and area averages differ by more than 10 %, so the points miss or "
            "overweigh the bright band",
        ),
    )
