"""A run in its cross-section: where its body reaches, where its peak points and lands.

Across is toward the lit wall, angles are from straight down, positive toward the wall:

         ceiling
    wall |      +--+  housing
         |      |  |          tilt turns the body about the opening's centre o, so that
         |  <---+-o+          its nadir moves toward the wall
         |        v nadir
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity

Floats = NDArray[np.float64]

# What must stay between the highest point and the nearest edge of a run set against a wall:
# below it the horizon is no longer exact, and nobody could slide the luminaire in. [m]
LEAST_CLEARANCE_M = 0.002


@dataclass(frozen=True, slots=True)
class Body2:
    """Cross-section of a luminaire before its tilt.

    Parameters
    ----------
    opening_width_m : float
        Luminous width, centred on the origin. [m]
    housing_width_m, housing_height_m : float
        The body: from the opening's plane upward. [m]
    opening_m : float
        From the body's middle to the opening's, toward the lit surface. [m]
    recess_m : float
        How far the body goes on below the opening. [m]
    rises : bool
        Whether the opening faces up at tilt 0, with the body below it.
    """

    opening_width_m: float
    housing_width_m: float
    housing_height_m: float
    opening_m: float = 0.0
    recess_m: float = 0.0
    rises: bool = False

    def corners_m(self, tilt_rad: float) -> Floats:
        """Corners of opening and housing after the tilt, as (across, up), shape (6, 2). [m]"""
        w, h, o = self.housing_width_m / 2, self.housing_height_m, self.opening_width_m / 2
        sides = np.array([-w, w, -w, w, -o, o]) - np.array([1, 1, 1, 1, 0, 0]) * self.opening_m
        backs = np.array([-self.recess_m, -self.recess_m, h, h, 0.0, 0.0])
        backs = -backs if self.rises else backs
        cos, sin = math.cos(tilt_rad), math.sin(tilt_rad)
        return np.stack([sides * cos - backs * sin, sides * sin + backs * cos], axis=1)

    def reach_m(self, tilt_rad: float) -> float:
        """How far housing and opening reach from the opening's centre toward the wall. [m]"""
        return float(self.corners_m(tilt_rad)[:, 0].max())

    def reach_back_m(self, tilt_rad: float) -> float:
        """How far housing and opening reach away from the lit surface. [m]"""
        return float(-self.corners_m(tilt_rad)[:, 0].min())

    def head_m(self, tilt_rad: float) -> float:
        """How far housing and opening reach above the opening's centre. [m]"""
        return float(self.corners_m(tilt_rad)[:, 1].max())

    def foot_m(self, tilt_rad: float) -> float:
        """How far housing and opening reach below the opening's centre. [m]"""
        return float(-self.corners_m(tilt_rad)[:, 1].min())


@dataclass(frozen=True, slots=True)
class Placement:
    """Setback and aim, resolved together because each may depend on the other.

    Parameters
    ----------
    setback_m, least_setback_m : float
        Used, and the least that clears with this tilt. [m]
    tilt_rad, beam_aim_rad : float
        [rad]
    """

    setback_m: float
    least_setback_m: float
    tilt_rad: float
    beam_aim_rad: float


def place(
    setback_m: float | None,
    tilt_rad: float | None,
    beam_aim_rad: float | str | None,
    *,
    file_peak_rad: float,
    body: Body2,
    highest_m: float,
    opening_height_m: float,
    reach: Callable[[float], float] | None = None,
) -> Placement:
    """Resolve setback, tilt and beam aim.

    Parameters
    ----------
    setback_m : float or None
        None means against the wall. [m]
    tilt_rad : float or None
        [rad]
    beam_aim_rad : float, "base" or None
        Used when `tilt_rad` is None; with neither, the tilt is 0. [rad]
    file_peak_rad : float
        Where the file's peak points at tilt 0. [rad]
    body : Body2
        The luminaire's cross-section.
    highest_m : float
        The wall's highest point over its mean plane. [m]
    opening_height_m : float
        The opening's centre over the floor. [m]
    reach : callable, optional
        How far the luminaire reaches toward the wall at a tilt; not given: `body.reach_m`.
    """
    toward_wall = body.reach_m if reach is None else reach

    def tilt_at(setback: float) -> float:
        if tilt_rad is not None:
            return tilt_rad
        if beam_aim_rad is None:
            return 0.0
        aim = math.atan2(setback, opening_height_m) if beam_aim_rad == "base" else beam_aim_rad
        return wrap(float(aim) - file_peak_rad)

    def least(tilt: float) -> float:
        return highest_m + toward_wall(tilt) + LEAST_CLEARANCE_M

    setback = least(tilt_at(0.0)) if setback_m is None else setback_m
    if setback_m is None:
        # the tilt toward the base hangs on the setback, and the reach on the tilt: a few
        # millimetres over a room's height, so this settles within a few rounds
        for _ in range(60):
            setback = least(tilt_at(setback))
    tilt = tilt_at(setback)
    return Placement(setback, least(tilt), tilt, wrap(tilt + file_peak_rad))


def cross_section_peak(intensity: Intensity, across_in_file: Floats) -> float:
    """Direction of the largest intensity in the plane across a run.

    Parameters
    ----------
    intensity : Intensity
        The file.
    across_in_file : ndarray of float64, shape (3,)
        The direction toward the wall at tilt 0, in the file's frame; horizontal.

    Returns
    -------
    float
        From nadir, positive toward the wall. Of two equal peaks the one toward the wall; the
        middle of a flat one; 0 if it is flat around nadir. [rad]
    """
    nodes = np.concatenate([-intensity.gamma_rad, intensity.gamma_rad])
    raster = np.deg2rad(np.linspace(-180.0, 180.0, 1441))  # for files on their own grid
    angles = np.unique(np.round(np.concatenate([nodes, raster]), 12))
    candela = cross_section_candela(intensity, across_in_file, angles)
    top = candela >= candela.max() * (1 - 1e-9)
    if top[np.argmin(np.abs(angles))]:
        return 0.0
    toward = top & (angles >= 0)
    chosen = np.flatnonzero(toward if toward.any() else top)
    block = np.split(chosen, np.flatnonzero(np.diff(chosen) > 1) + 1)
    flat = angles[block[0] if toward.any() else block[-1]]
    return float((flat[0] + flat[-1]) / 2)


def cross_section_candela(
    intensity: Intensity, across_in_file: Floats, angles_rad: Floats
) -> Floats:
    """Intensity in the plane across a run.

    Parameters
    ----------
    intensity : Intensity
        The file.
    across_in_file : ndarray of float64, shape (3,)
        As in `cross_section_peak`.
    angles_rad : ndarray of float64, shape (k,)
        From the file's nadir, positive toward the wall. [rad]

    Returns
    -------
    ndarray of float64, shape (k,)
        [cd]
    """
    nadir = np.array([0.0, 0.0, -1.0])
    directions = np.sin(angles_rad)[:, None] * across_in_file + np.cos(angles_rad)[:, None] * nadir
    return intensity.candela_toward(directions)


def beam_on_wall(
    intensity: Intensity,
    across_in_file: Floats,
    placement: Placement,
    *,
    opening_height_m: float,
    room_height_m: float,
) -> float:
    """Largest intensity toward the lit wall over the peak, in the cross-section.

    Parameters
    ----------
    intensity : Intensity
        The file.
    across_in_file : ndarray of float64, shape (3,)
        As in `cross_section_peak`.
    placement : Placement
        Setback and tilt.
    opening_height_m, room_height_m : float
        The opening's centre, and the ceiling, over the floor. [m]

    Returns
    -------
    float
        1 if the peak lands on the wall; under a half, the beam misses it.
    """
    base = math.atan2(placement.setback_m, opening_height_m)
    top = math.pi - math.atan2(placement.setback_m, room_height_m - opening_height_m)
    wall = np.linspace(base, top, 721) - placement.tilt_rad
    around = np.deg2rad(np.linspace(-180.0, 180.0, 1441))
    peak = cross_section_candela(intensity, across_in_file, around).max()
    there = cross_section_candela(intensity, across_in_file, wall).max()
    return float(min(1.0, there / peak)) if peak > 0 else 0.0


def landing(
    setback_m: float,
    height_m: float,
    aim_rad: float,
    *,
    across_room_m: float,
    room_height_m: float,
) -> tuple[str, float]:
    """Where a direction in the cross-section meets the room.

    Parameters
    ----------
    setback_m, height_m : float
        The opening's centre: from the lit wall, and over the floor. [m]
    aim_rad : float
        From straight down, positive toward the wall. [rad]
    across_room_m, room_height_m : float
        From the lit wall to the one opposite it, and floor to ceiling. [m]

    Returns
    -------
    surface : {"wall", "far wall", "floor", "ceiling"}
        What it meets first.
    at_m : float
        Height over the floor on a wall, distance from the lit wall on floor or ceiling. [m]
    """
    sin, cos = math.sin(aim_rad), math.cos(aim_rad)
    ways = []
    if sin > 1e-12:
        ways.append((setback_m / sin, "wall"))
    if sin < -1e-12:
        ways.append(((across_room_m - setback_m) / -sin, "far wall"))
    # the floor wins a tie at the wall's foot by a hair, so prefer walls: aiming at the base hits it
    if cos > 1e-12:
        ways.append((height_m / cos * (1 + 1e-9), "floor"))
    if cos < -1e-12:
        ways.append(((room_height_m - height_m) / -cos * (1 + 1e-9), "ceiling"))
    distance, name = min(ways)
    if name in ("wall", "far wall"):
        return name, height_m - distance * cos
    return name, setback_m - distance * sin


def wrap(angle_rad: float) -> float:
    """Return the same direction between -pi (not included) and pi. [rad]"""
    return math.pi - (math.pi - angle_rad) % (2 * math.pi)
