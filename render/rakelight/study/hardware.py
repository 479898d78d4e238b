"""What can be set on a run as it is bought: tilts by clicks, the cove that it lies on."""

import math

import numpy as np
from numpy.typing import NDArray

from rakelight.build.cross_section import wrap
from rakelight.read.toml import SceneFile
from rakelight.scene.tables import RunTable

Floats = NDArray[np.float64]


def cove_of(scene_file: SceneFile, run: int) -> int:
    """Index of the cove that a run lies on; ValueError if it lies on none."""
    on = scene_file.tables.run[run].on
    for index, cove in enumerate(scene_file.tables.cove):
        if on is not None and on in (cove.tag, f"C{index + 1}"):
            return index
    raise ValueError("the run lies on no cove, so there is no distance below the ceiling to move")


def tilts_of(table: RunTable, rest_rad: float, low_rad: float, high_rad: float) -> Floats | None:
    """Tilts within bounds that the hardware can be set to; None if it can be set to any.

    Parameters
    ----------
    table : RunTable
        The run.
    rest_rad : float
        Tilt at which the hardware is at 0. [rad]
    low_rad, high_rad : float
        Bounds of the tilt. [rad]
    """
    play = 1e-9
    if table.fixed:
        at = wrap(rest_rad)
        return np.array([at] if low_rad - play <= at <= high_rad + play else [])
    if table.adjust is None or table.adjust.click_rad is None:
        return None
    low, high = table.adjust.range_rad
    click = table.adjust.click_rad
    first, last = math.ceil(low / click - 1e-9), math.floor(high / click + 1e-9)
    clicks = np.array([wrap(rest_rad + k * click) for k in range(first, last + 1)])
    return np.sort(clicks[(clicks >= low_rad - play) & (clicks <= high_rad + play)])
