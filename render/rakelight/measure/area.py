"""Area values: average, least and greatest illuminance, weighted by area."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.fields import Fields
from rakelight.measure.lie_words import lie_words
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.number import Number


@dataclass(frozen=True, slots=True)
class AreaValues:
    """Illuminance over a surface.

    Parameters
    ----------
    average_lx, min_lx, max_lx : float
        Weighted by area; extremes over the vertices that count. [lx]
    max_u_m, max_v_m : float
        Where the maximum is. [m]
    """

    average_lx: float
    min_lx: float
    max_lx: float
    max_u_m: float
    max_v_m: float


def area_values(
    illuminance_lx: NDArray[np.float32],
    area_m2: NDArray[np.float64],
    u_m: NDArray[np.float64],
    v_m: NDArray[np.float64],
) -> AreaValues:
    """Average by area, extremes, and the place of the maximum.

    Parameters
    ----------
    illuminance_lx : ndarray, shape (rows, columns)
        [lx]
    area_m2 : ndarray of float64, shape (rows, columns)
        Area of each vertex, 0 where it does not count. [m2]
    u_m, v_m : ndarray of float64, shapes (columns,) and (rows,)
        Places of the vertices. [m]

    Raises
    ------
    ValueError
        If no vertex counts.
    """
    counts = area_m2 > 0
    if not counts.any():
        raise ValueError("no area to average over")
    counted = illuminance_lx if counts.all() else np.where(counts, illuminance_lx, np.float32(-1))
    top = int(np.argmax(counted))
    row, column = np.unravel_index(top, illuminance_lx.shape)
    return AreaValues(
        average_lx=float(np.einsum("ij,ij->", area_m2, illuminance_lx) / np.sum(area_m2)),
        min_lx=float(illuminance_lx.min(where=counts, initial=np.inf)),
        max_lx=float(illuminance_lx[row, column]),
        max_u_m=float(u_m[column]),
        max_v_m=float(v_m[row]),
    )


def max_to_min(least_lx: float, greatest_lx: float) -> float:
    """Diversity max:min; inf where the least is 0, nan where all is dark."""
    if greatest_lx <= 0:
        return float("nan")
    return greatest_lx / least_lx if least_lx > 0 else float("inf")


def band_max_to_min(fields: Fields, top_m: float, foot_m: float) -> tuple[float, float, float]:
    """Max:min on the mean plane, less margins at top and foot.

    The mean plane, because a relief has black hollows and every ratio to black is infinite.

    Returns
    -------
    ratio, low_m, high_m : float
        The ratio, and the band of heights it covers. [1, m, m]

    Raises
    ------
    ValueError
        If nothing is left between the margins.
    """
    v = fields.surface.grid.v_m()
    low, high = foot_m, fields.surface.grid.height_m - top_m
    rows = (v >= low - 1e-9) & (v <= high + 1e-9)
    counts = fields.inside & rows[:, None]
    if not counts.any():
        raise ValueError(
            f"{fields.surface.name}: {top_m} m less at the top and {foot_m} m at the foot leave "
            f"nothing of {fields.surface.grid.height_m} m"
        )
    least = float(fields.flat_lx.min(where=counts, initial=np.inf))
    return max_to_min(least, float(fields.flat_lx.max(where=counts, initial=0.0))), low, high


def largest_gradient(fields: Fields) -> tuple[float, float, float]:
    """Steepest change of illuminance on the mean plane.

    Returns
    -------
    gradient, u_m, v_m : float
        Its size and where it is. [lx/m, m, m]
    """
    grid = fields.surface.grid
    by_v, by_u = np.gradient(fields.flat_lx, np.float32(grid.step_v_m), np.float32(grid.step_u_m))
    steep = np.square(by_v)
    steep += np.square(by_u)
    np.putmask(steep, ~fields.inside, -1)
    row, column = np.unravel_index(int(np.argmax(steep)), steep.shape)
    return (
        math.sqrt(max(float(steep[row, column]), 0.0)),
        float(grid.u_m()[column]),
        float(grid.v_m()[row]),
    )


def area_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Area values of a surface, and the mean plane's beside them where there is a relief.

    A stone's true area grows as its mesh gets finer, and the average over it falls; what the
    relief catches for each area of wall does not hang on the mesh.
    """
    name, grid = fields.surface.name, fields.surface.grid
    u, v = grid.u_m(), grid.v_m()
    flat = area_values(fields.flat_lx, fields.plane_m2, u, v)
    words = lie_words(fields.surface)
    strips = f"a strip at {words.start} and one at {words.end}"
    covered = f"the band that max:min covers, {words.along}"
    whole = area_values(fields.total_lx, fields.true_m2, u, v)
    on = "the relief" if fields.has_relief else "the surface"
    by = "its true area" if fields.has_relief else "area"
    most = 0.25 * grid.height_m
    ratio, low, high = band_max_to_min(
        fields, min(settings.top_m, most), min(settings.foot_m, most)
    )
    plane = "on the mean plane" if fields.has_relief else "on the surface"
    gradient, gradient_u, gradient_v = largest_gradient(fields)
    out = [
        Number(f"{name}.width_m", grid.width_m, "m", "width of the surface"),
        Number(f"{name}.height_m", grid.height_m, "m", "height of the surface"),
        Number(f"{name}.area_m2", float(fields.plane_m2.sum()), "m2", "area of the mean plane"),
        Number(f"{name}.average_lx", whole.average_lx, "lx", f"average over {on}, by {by}"),
        Number(f"{name}.min_lx", whole.min_lx, "lx", f"least on {on}"),
        Number(f"{name}.max_lx", whole.max_lx, "lx", f"greatest on {on}"),
        Number(f"{name}.max_at_u_m", whole.max_u_m, "m", "where the greatest is, from the left"),
        Number(f"{name}.max_at_v_m", whole.max_v_m, "m", f"where the greatest is, {words.along}"),
        Number(f"{name}.max_to_min", ratio, "1", f"greatest to least {plane}, less {strips}"),
        Number(f"{name}.max_to_min_low_m", low, "m", f"start of {covered}"),
        Number(f"{name}.max_to_min_high_m", high, "m", f"end of {covered}"),
        Number(f"{name}.gradient_lx_m", gradient, "lx/m", f"steepest change {plane}"),
        Number(f"{name}.gradient_at_u_m", gradient_u, "m", "where it is, from the left"),
        Number(f"{name}.gradient_at_v_m", gradient_v, "m", f"where it is, {words.along}"),
    ]
    if fields.has_relief:
        plane_m2, true_m2 = float(fields.plane_m2.sum()), float(fields.true_m2.sum())
        out += [
            Number(f"{name}.true_area_ratio", true_m2 / plane_m2, "1", "relief's area over wall's"),
            Number(
                f"{name}.caught_lx",
                whole.average_lx * true_m2 / plane_m2,
                "lx",
                "light that the relief catches, for each area of wall",
            ),
        ]
        on = "the flat mean plane"
        out += [
            Number(f"{name}.flat.average_lx", flat.average_lx, "lx", f"average over {on}, by area"),
            Number(f"{name}.flat.min_lx", flat.min_lx, "lx", f"least on {on}"),
            Number(f"{name}.flat.max_lx", flat.max_lx, "lx", f"greatest on {on}"),
            Number(f"{name}.flat.max_at_u_m", flat.max_u_m, "m", "where it is, from the left"),
            Number(f"{name}.flat.max_at_v_m", flat.max_v_m, "m", f"where it is, {words.along}"),
        ]
    return tuple(out)
