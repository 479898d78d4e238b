"""What a relief is like: depth, roughness, slopes, feature size."""

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.number import Number
from rakelight.scene.relief import Relief

_STEEP = 1.0  # tangent of 45 deg


def cell_slopes(relief: Relief) -> NDArray[np.float32]:
    """Tangent of the slope against the mean plane of each triangle of the relief's mesh.

    Parameters
    ----------
    relief : Relief
        Its mask decides which triangles count: those with three valid vertices.

    Returns
    -------
    ndarray of float32, shape (triangles,)
        Each stands for the same plan area; lower right ones first, row by row.
    """
    h = relief.heights_m
    du, dv = np.float32(relief.grid.step_u_m), np.float32(relief.grid.step_v_m)
    along_u, along_v = (h[:, 1:] - h[:, :-1]) / du, (h[1:] - h[:-1]) / dv
    # the diagonal runs from (row, column) to (row + 1, column + 1)
    lower = np.hypot(along_u[:-1], along_v[:, 1:])
    upper = np.hypot(along_u[1:], along_v[:, :-1])
    m = relief.mask
    ends = m[:-1, :-1] & m[1:, 1:]
    return np.concatenate([lower[ends & m[:-1, 1:]], upper[ends & m[1:, :-1]]])


def measure_relief(relief: Relief) -> tuple[Number, ...]:
    """Measure a relief as its mesh has it; a coarser mesh is smoother.

    Parameters
    ----------
    relief : Relief
        What to measure. Slopes need at least one triangle with three valid vertices.

    Returns
    -------
    tuple of Number
        Keys ``relief.depth_m``, ``.rms_height_m``, ``.highest_m``, ``.mean_above_backing_m``,
        ``.mean_slope_rad``, ``.steep_share``, ``.feature_u_m``, ``.feature_v_m`` and
        ``.step_m``. Heights are weighted by plan area: vertices on the border count half.

    Raises
    ------
    ValueError
        If no part of the relief is valid.
    """
    slopes = cell_slopes(relief)
    if slopes.size == 0:
        raise ValueError("no part of the relief is valid")
    weight = relief.mask.astype(np.float64)
    for border in (weight[0], weight[-1], weight[:, 0], weight[:, -1]):
        border *= 0.5
    total = weight.sum()
    heights = relief.heights_m.astype(np.float64)
    mean = float((weight * heights).sum() / total)
    rms = float(np.sqrt((weight * (heights - mean) ** 2).sum() / total))
    feature_u_m, feature_v_m = relief.feature_m
    step_m = max(relief.grid.step_u_m, relief.grid.step_v_m)
    return (
        _number("depth_m", relief.highest_m - relief.lowest_m, "m", "deepest to highest point"),
        _number("rms_height_m", rms, "m", "RMS height about the mean plane"),
        _number("highest_m", relief.highest_m - mean, "m", "highest point over the mean plane"),
        _number(
            "mean_above_backing_m", mean - relief.backing_m, "m", "mean plane above the backing"
        ),
        _number(
            "mean_slope_rad", float(np.arctan(slopes).mean(dtype=np.float64)), "rad", "mean slope"
        ),
        _number("steep_share", float((slopes > _STEEP).mean()), "1", "share steeper than 45 deg"),
        _number("feature_u_m", feature_u_m, "m", "feature size across the wall"),
        _number("feature_v_m", feature_v_m, "m", "feature size up the wall"),
        _number("step_m", step_m, "m", "mesh step that this was measured at"),
    )


def _number(key: str, value: float, unit: str, says: str) -> Number:
    return Number(f"relief.{key}", value, unit, says)
