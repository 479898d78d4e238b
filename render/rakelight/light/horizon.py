"""Horizons of a relief over half a turn."""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.kernels.horizon import LONGEST, sheared_horizons

#: Steps of the mesh that a vertex looks along its own line, before the nearest sheared line's.
NEAR_STEPS = 2

#: Cells that a line shifts by in a step, and the lines a cell below that. A line that keeps to a
#: column for many rows serves them all from one side of it: down a gap a few columns wide, a row
#: is dark or light by where the nearest line happens to run, and the gap came out dotted.
LINES = ((0.08, 8), (0.2, 4))


def half_turn(count: int) -> NDArray[np.float64]:
    """Azimuths of `count` equal steps from -90 to 90 degrees, from +v toward +u. [rad]"""
    return -np.pi / 2 + (np.arange(count) + 0.5) * np.pi / count


def lines_a_cell(shift: NDArray[np.float64], along_rows: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Number of lines a cell, by the cells that they shift by in a step.

    Several only for lines that march from row to row: little of a run's light comes along the
    rows, and they would cost as much again.
    """
    lines = np.ones(shift.size, np.int32)
    for below, number in reversed(LINES):
        lines[along_rows & (np.abs(shift) < below)] = number
    return lines


def horizon_tangents(
    heights_m: NDArray[np.float32],
    step_u_m: float,
    step_v_m: float,
    azimuths_rad: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Tangent of the horizon's elevation over the mean plane, for every vertex and azimuth.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Height field. [m]
    step_u_m, step_v_m : float
        Distance between columns and between rows. [m]
    azimuths_rad : ndarray of float64, shape (azimuths,)
        Direction in the wall's plane, from +v (up) toward +u (right). [rad]

    Returns
    -------
    ndarray of float32, shape (azimuths, rows, columns)
        -1000 where nothing of the field stands between the vertex and the border.

    Raises
    ------
    ValueError
        If the field has more rows and columns together than places along a line can be counted in.

    References
    ----------
    .. [1] J. Timonen, J. Westerholm, "Scalable height field self-shadowing", Computer Graphics
       Forum 29(2), 2010 (from memory): one pass a line with a convex hull as a stack.
    """
    if sum(heights_m.shape) > LONGEST:
        raise ValueError(
            f"a relief of {heights_m.shape[0]} x {heights_m.shape[1]} vertices is too long for its "
            f"mesh step: at most {LONGEST} rows and columns together"
        )
    sine, cosine = np.sin(azimuths_rad), np.cos(azimuths_rad)
    u, v = sine / step_u_m, cosine / step_v_m  # in cells
    along_rows = np.abs(v) >= np.abs(u)
    major = np.where(along_rows, np.where(v > 0, 0, 3), np.where(u > 0, 1, 2))
    large = np.where(along_rows, v, u)
    shift = np.where(along_rows, u, v) / np.abs(large)
    out = np.empty((azimuths_rad.size, *heights_m.shape), np.float32)
    sheared_horizons(
        np.array(heights_m, np.float32, order="C"),  # of one type with its transpose
        np.array(heights_m.T, np.float32, order="C"),
        major.astype(np.int32),
        shift.astype(np.float32),
        lines_a_cell(shift, along_rows),
        (1.0 / np.abs(large)).astype(np.float32),
        np.int32(NEAR_STEPS),
        out,
    )
    return out
