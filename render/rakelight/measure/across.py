"""Light across a ceiling or floor, square to a run: where a cove's light goes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.fields import Fields
from rakelight.scene.lit_line import LitLine

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Across:
    """Mean illuminance by distance from a run.

    Parameters
    ----------
    distance_m : ndarray of float64, shape (points,)
        In plan, from the run's axis to the farther end; increasing, the first ones negative,
        behind the run. [m]
    mean_lx : ndarray of float64, shape (points,)
        Mean along the run. [lx]
    """

    distance_m: Floats
    mean_lx: Floats


def across(parts: Sequence[Fields], line: LitLine) -> Across | None:
    """Profile square to a run over the parts of one ceiling or floor.

    Parameters
    ----------
    parts : sequence of Fields
        The level surface, or the slopes of a pitched one.
    line : LitLine
        A run along the surfaces' u or v.

    Returns
    -------
    Across or None
        None if the run is along neither.
    """
    away = np.cross(line.axis, [0.0, 0.0, 1.0])
    size = float(np.linalg.norm(away))
    if size < 0.999:  # it stands, or goes up at an angle
        return None
    distances, means = [], []
    for part in parts:
        grid, frame = part.surface.grid, part.surface.frame
        axis = frame.direction_from_room(line.axis)
        weights = part.plane_m2
        if abs(axis[0]) > 0.999:
            own, places, other = 1, grid.v_m(), np.full(grid.rows, grid.width_m / 2)
        elif abs(axis[1]) > 0.999:
            own, places, other = 0, grid.u_m(), np.full(grid.columns, grid.height_m / 2)
        else:
            return None
        below: Floats = np.sum(weights, axis=own)
        top: Floats = np.sum(part.flat_lx * weights, axis=own, dtype=np.float64)
        u, v = (other, places) if own == 1 else (places, other)
        points = frame.to_room(np.stack([u, v, np.zeros(places.size)], axis=1))
        counts = below > 0
        distances.append(((points - line.origin_m) @ away)[counts])
        means.append(top[counts] / below[counts])
    distance, mean = np.concatenate(distances), np.concatenate(means)
    if -distance.min() > distance.max():  # to the farther end: across the room
        distance = -distance
    order = np.argsort(distance, kind="stable")
    return Across(distance[order], mean[order])
