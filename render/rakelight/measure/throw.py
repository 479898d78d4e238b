"""Throw: how far across a surface a run's light reaches before it falls to a half, a tenth."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.fields import Fields
from rakelight.measure.grid import at_points
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

#: A second maximum stands so many times over the valley before it, at so much of the first.
RISE, LEAST = 1.5, 0.1


@dataclass(frozen=True, slots=True)
class Throw:
    """Reach of the light across a surface, from the run outward.

    Parameters
    ----------
    peak_lx : float
        Largest illuminance along the line. [lx]
    peak_m, half_m, tenth_m : float
        Distance from the run's axis, along the surface, to the peak and to where the light
        has last fallen to a half and a tenth of it; nan where it never does. [m]
    first_half_m : float
        To where it first falls to a half; less than `half_m` where it rises again. [m]
    second_lx, second_m : float
        A second maximum beyond the peak, and the distance to it; nan where there is none. It
        stands at least `RISE` times over the least before it, and at `LEAST` of the peak.
    """

    peak_lx: float
    peak_m: float
    half_m: float
    tenth_m: float
    first_half_m: float = math.nan
    second_lx: float = math.nan
    second_m: float = math.nan


def reach(distance_m: Floats, illuminance_lx: Floats) -> Throw:
    """Throw along one line.

    Parameters
    ----------
    distance_m : ndarray of float64, shape (points,)
        Increasing. [m]
    illuminance_lx : ndarray of float64, shape (points,)
        [lx]
    """
    top = int(np.argmax(illuminance_lx))
    peak = float(illuminance_lx[top])
    half, tenth = (_falls_to(distance_m[top:], illuminance_lx[top:], k * peak) for k in (0.5, 0.1))
    first = _first_falls_to(distance_m[top:], illuminance_lx[top:], 0.5 * peak)
    second = _second(illuminance_lx[top:])
    return Throw(
        peak,
        float(distance_m[top]),
        half,
        tenth,
        first,
        math.nan if second is None else float(illuminance_lx[top + second]),
        math.nan if second is None else float(distance_m[top + second]),
    )


def _first_falls_to(distance_m: Floats, lx: Floats, level: float) -> float:
    under = np.flatnonzero(lx <= level)
    if under.size == 0 or under[0] == 0:
        return math.nan
    stop = int(under[0]) + 1
    return _falls_to(distance_m[:stop], lx[:stop], level)


def _second(lx: Floats) -> int | None:
    """Where a second maximum is, beyond a valley; None if there is none."""
    least = np.minimum.accumulate(lx)
    risen = (lx >= RISE * least) & (lx >= LEAST * lx[0])
    if not risen.any():
        return None
    return int(np.argmax(np.where(risen, lx, -np.inf)))


def _falls_to(distance_m: Floats, lx: Floats, level: float) -> float:
    above = np.flatnonzero(lx > level)
    if above.size == 0 or above[-1] == lx.size - 1:
        return math.nan
    i = int(above[-1])
    part = (lx[i] - level) / (lx[i] - lx[i + 1])
    return float(distance_m[i] + part * (distance_m[i + 1] - distance_m[i]))


def throw(fields: Fields, line: LitLine) -> Throw | None:
    """Throw of one run across a surface, square to the run from the middle of its lit length.

    Parameters
    ----------
    fields : Fields
        The surface's light; all of it counts, not only this run's.
    line : LitLine
        A run along the surface's u or v.

    Returns
    -------
    Throw or None
        None if the run is along neither, or nothing of the surface lies beside it.
    """
    grid, frame = fields.surface.grid, fields.surface.frame
    axis = frame.direction_from_room(line.axis)
    middle = line.origin_m + 0.5 * (line.lit_m[0, 0] + line.lit_m[-1, 1]) * line.axis
    u0, v0, _ = frame.from_room(middle)
    if abs(axis[0]) > 0.999:
        at, start, size, fixed, other = grid.v_m(), v0, grid.height_m, u0, grid.width_m
    elif abs(axis[1]) > 0.999:
        at, start, size, fixed, other = grid.u_m(), u0, grid.width_m, v0, grid.height_m
    else:
        return None
    if not 0 <= fixed <= other:
        return None
    # toward the farther end: a cove by a wall throws across the room, not into the wall
    away = at >= start if size - start >= start else at <= start
    at = at[away]
    if at.size < 3:
        return None
    still = np.full(at.size, fixed)
    u, v = (still, at) if abs(axis[0]) > 0.999 else (at, still)
    lx = at_points(fields.flat_lx, grid, u, v)
    distance = np.abs(at - start)
    order = np.argsort(distance)
    return reach(distance[order], lx[order])


def throw_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Throw of every run across a ceiling or floor; walls have their profile instead."""
    name = fields.surface.name
    if abs(float(fields.surface.frame.n[2])) < 0.5:
        return ()
    out: list[Number] = []
    for group in settings.groups:
        for line in group.lines:
            found = throw(fields, line)
            if found is None or not found.peak_lx > 0:
                continue
            key = f"{name}.throw.{line.tag}"
            out += [
                Number(f"{key}.peak_m", found.peak_m, "m", f"from {line.tag} to its peak"),
                Number(f"{key}.half_m", found.half_m, "m", "to where half of the peak is left"),
                Number(f"{key}.tenth_m", found.tenth_m, "m", "to where a tenth of it is left"),
            ]
    return tuple(out)
