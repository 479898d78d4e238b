"""How a luminaire lies in its run: length along it, throw toward the wall."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity, flux_vector, throw_azimuth

Floats = NDArray[np.float64]

_DOWN_IN_FILE = np.array([0.0, 0.0, -1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Orientation:
    """A file placed in a run, before its tilt.

    Parameters
    ----------
    c0_from_axis_rad : float
        C0's angle from the run's axis, counter-clockwise seen from above; the direction
        toward the wall lies at +90 deg. [rad]
    turn_rad : float
        The turn in plan that this is, from length along the run. [rad]
    length_m, width_m : float
        The opening along and across the run. [m]
    toward_wall : float
        Share of the flux's lean that points to the wall as it is mounted, -1 to 1; 0 if it
        leans to no side.
    across_in_file : ndarray of float64, shape (3,)
        The direction toward the wall, in the file's frame.
    """

    c0_from_axis_rad: float
    turn_rad: float
    length_m: float
    width_m: float
    toward_wall: float
    across_in_file: Floats


def orient(
    intensity: Intensity, turn_rad: float | None, *, upside_down: bool = False
) -> Orientation:
    """Place a file in its run.

    The longer side of the opening lies along the run; equal sides: C0 does, as LM-63 places
    linear luminaires. Of the two ways round, the one whose flux leans to the wall is chosen
    unless `turn_rad` is stated.

    Parameters
    ----------
    intensity : Intensity
        The file.
    turn_rad : float or None
        Stated turn in plan. [rad]
    upside_down : bool
        Whether the run's tilt turns it over: then what leaned to the wall leans away from it.
    """
    # length along C90: then C0 is across, as EULUMDAT has it, and starts toward the wall
    base = intensity.long_side_c_rad
    throw = throw_azimuth(intensity)
    if turn_rad is None:
        leans = -_toward_wall(base, throw) if upside_down else _toward_wall(base, throw)
        turn = math.pi if leans < -1e-9 else 0.0
    else:
        turn = math.remainder(turn_rad, 2 * math.pi)
    c0 = base + turn
    # turned by about a quarter, the opening's other side lies along the run
    swapped = abs(math.sin(turn)) > math.sqrt(0.5)
    long_side, short_side = intensity.long_side_m, intensity.short_side_m
    length, width = (short_side, long_side) if swapped else (long_side, short_side)
    wall_in_c = math.pi / 2 - c0
    across = np.array([math.cos(wall_in_c), math.sin(wall_in_c), 0.0])
    leans = _toward_wall(c0, throw)
    return Orientation(c0, turn, length, width, -leans if upside_down else leans, across)


def _toward_wall(c0_from_axis: float, throw: float) -> float:
    return 0.0 if math.isnan(throw) else math.sin(c0_from_axis + throw)


def flux_toward_wall(intensity: Intensity, orientation: Orientation, tilt_rad: float) -> float:
    """Component of the flux's mean direction toward the wall, after the tilt, -1 to 1.

    Parameters
    ----------
    intensity : Intensity
        The file.
    orientation : Orientation
        How it lies.
    tilt_rad : float
        [rad]
    """
    vector = flux_vector(intensity)
    size = float(np.linalg.norm(vector))
    if not size > 0:
        return 0.0
    across = float(vector @ orientation.across_in_file)
    down = float(vector @ _DOWN_IN_FILE)
    return (across * math.cos(tilt_rad) + down * math.sin(tilt_rad)) / size


def rises(intensity: Intensity) -> bool:
    """Whether a file's light goes up as it was measured, as that of coves often does."""
    return bool(flux_vector(intensity)[2] > 0)
