"""A run's intensity distribution as the kernels look it up: along the run and across it."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LitLine

#: Nodes over sin(psi), psi the angle out of the plane across the run: 0.3 degrees apart at 0.
ALONG = 361
#: Nodes over a whole turn of the diamond angle: about a quarter of a degree, finer than files.
ACROSS = 1440
#: Columns repeated on either side, so that an average over the opening never wraps.
MARGIN = 181


def diamond_directions(angles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit vectors (cos, sin) of diamond angles, shape (n,) to (n, 2).

    The diamond angle of (p, q) stands in for atan2(q, p): q / (|p| + |q|) for p >= 0, else
    2 - q / (|p| + |q|) for q >= 0 and -2 - q / (|p| + |q|) for q < 0. It runs from -2 to 2,
    one a quarter turn, is monotone, and needs no trigonometry.
    """
    a = np.mod(angles + 2.0, 4.0) - 2.0
    q = np.where(np.abs(a) <= 1, a, np.where(a > 0, 2 - a, -2 - a))
    p = np.where(np.abs(a) <= 1, 1 - np.abs(q), np.abs(q) - 1)
    vectors = np.stack([p, q], axis=1)
    unit: NDArray[np.float64] = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return unit


def axial_table(line: LitLine, axis: NDArray[np.float64]) -> NDArray[np.float32]:
    """Candela per metre over the angle along the run and the angle across it.

    Parameters
    ----------
    line : LitLine
        The run.
    axis : ndarray of float64, shape (3,)
        Unit vector along the run that counts as positive: `line.axis` or its opposite.

    Returns
    -------
    ndarray of float32, shape (ALONG, ACROSS + 2 MARGIN + 1)
        Intensity toward sin(psi) axis + cos(psi) (cos(phi) nadir + sin(phi) across), at equal
        steps of sin(psi) from -1 to 1 and of the diamond angle of (cos phi, sin phi): column
        MARGIN is -2 (opposite to nadir), column MARGIN + ACROSS / 2 is nadir. [cd/m]
    """
    forward = 1 if float(axis @ line.axis) > 0 else -1
    hand = 1 if float(np.cross(line.axis, line.nadir) @ line.across) > 0 else -1
    along, aside = (round(float(line.c0 @ way), 12) for way in (line.axis, line.across))
    return _tabulated(line.intensity, line.per_metre, forward, hand, along, aside)


@lru_cache(maxsize=8)  # every surface of a room asks for the same few, and so does every step
def _tabulated(
    intensity: Intensity, per_metre: float, forward: int, hand: int, along: float, aside: float
) -> NDArray[np.float32]:
    """The table in the run's own frame, where neither place nor tilt matters.

    C0 is `along` axis + `aside` across; (axis, nadir, across) is right-handed if `hand` is 1.
    """
    sine = np.linspace(-1.0, 1.0, ALONG)[:, None]
    cosine = np.sqrt(np.maximum(0.0, 1.0 - sine**2))
    down, across = diamond_directions(np.linspace(-2.0, 2.0, ACROSS, endpoint=False)).T
    axial = forward * sine
    in_file = np.empty((ALONG, ACROSS, 3))
    in_file[..., 0] = axial * along + cosine * across * aside
    in_file[..., 1] = hand * (cosine * across * along - axial * aside)  # C90 = -nadir x C0
    in_file[..., 2] = -cosine * down
    table = intensity.candela_toward(in_file) * per_metre
    wrapped: NDArray[np.float32] = np.take(
        table, np.arange(-MARGIN, ACROSS + MARGIN + 1), axis=1, mode="wrap"
    ).astype(np.float32)
    wrapped.setflags(write=False)
    return wrapped
