"""One luminaire beside a wall, without a room: where it aims, and where its light lands."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rakelight.build.cross_section import (
    cross_section_candela,
    cross_section_peak,
    landing,
    wrap,
)
from rakelight.build.orient import orient
from rakelight.scene.intensity import Intensity
from rakelight.scene.number import Number

Floats = NDArray[np.float64]
Where = Literal["wall", "floor", "ceiling", "away"]

# Beyond this many room heights a direction is said to land nowhere near. [1]
_NEAR = 4.0
_STEP_DEG = 0.25


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a direction meets the room.

    Parameters
    ----------
    where : {"wall", "floor", "ceiling", "away"}
        "away": far out in the room, or level with the opening.
    at_m : float
        Height over the floor on the wall; distance from the wall on floor or ceiling; nan
        for "away". [m]
    """

    where: Where
    at_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """A file at a tilt in the cross-section, as a run will use it.

    Parameters
    ----------
    setback_m, ceiling_m, height_m : float
        Wall to the opening's centre; ceiling, and that centre, over the floor. [m]
    tilt_rad, file_peak_rad, beam_aim_rad : float
        Turn of the housing; where the peak points at tilt 0, and with the tilt; from straight
        down, positive toward the wall. [rad]
    foot_rad, top_rad : float
        Directions of the wall's foot and of its top. [rad]
    angle_rad : ndarray of float64, shape (k,)
        Directions in the room, -pi to pi. [rad]
    candela : ndarray of float64, shape (k,)
        Intensity there, after the tilt. [cd]
    peak : Landing
        Where the beam aim lands.
    half : tuple of Landing or None
        Where the two directions of half the peak around it land, the lower angle first; None
        where it does not fall to a half.
    wall_share : float
        Of the light in the cross-section, what goes to the wall. 0 to 1
    leans : float
        The file's lean toward the wall, -1 to 1; 0 to no side.
    """

    setback_m: float
    ceiling_m: float
    height_m: float
    tilt_rad: float
    file_peak_rad: float
    beam_aim_rad: float
    foot_rad: float
    top_rad: float
    angle_rad: Floats
    candela: Floats
    peak: Landing
    half: tuple[Landing | None, Landing | None]
    wall_share: float
    leans: float

    @property
    def tilt_to_foot_rad(self) -> float:
        """Tilt that would bring the peak onto the wall's foot. [rad]"""
        return wrap(self.foot_rad - self.file_peak_rad)

    def lands(self, angle_rad: float) -> Landing:
        """Return where a direction meets the room; from straight down, positive to the wall."""
        return _lands(self.setback_m, self.height_m, self.ceiling_m, angle_rad)


def aim(
    intensity: Intensity,
    *,
    setback_m: float,
    ceiling_m: float,
    drop_m: float = 0.0,
    tilt_rad: float = 0.0,
    turn_rad: float | None = None,
) -> Aim:
    """Place a file beside a wall, turned as a run would turn it.

    Parameters
    ----------
    intensity : Intensity
        The file, its length along the run.
    setback_m : float
        Wall to the centre of the opening. [m], > 0
    ceiling_m : float
        Ceiling over the floor. [m], > 0
    drop_m : float
        Ceiling down to the centre of the opening. [m]
    tilt_rad : float
        Turn of the housing toward the wall. [rad]
    turn_rad : float, optional
        Turn in plan; not given: the way round that leans to the wall, as for a run. [rad]

    Raises
    ------
    ValueError
        If the opening is not between wall and room, floor and ceiling.
    """
    height = ceiling_m - drop_m
    if not 0 < setback_m < math.inf:
        raise ValueError(f"the setback is {setback_m:g} m; it must be above 0")
    if not (0 < ceiling_m < math.inf and 0 < height <= ceiling_m):
        raise ValueError(
            f"the opening is {height:g} m over the floor under a ceiling at {ceiling_m:g} m; "
            "it must be above the floor and not above the ceiling"
        )
    orientation = orient(intensity, turn_rad)
    across = orientation.across_in_file
    peak = cross_section_peak(intensity, across)
    beam = wrap(tilt_rad + peak)
    angle = np.deg2rad(np.arange(-180.0, 180.0 + _STEP_DEG / 2, _STEP_DEG))
    candela = cross_section_candela(intensity, across, angle - tilt_rad)
    foot = math.atan2(setback_m, height)
    top = math.pi - math.atan2(setback_m, ceiling_m - height)
    on_wall = (angle >= foot) & (angle <= top)
    total = float(candela[:-1].sum())
    ends = [
        None if edge is None else _lands(setback_m, height, ceiling_m, edge)
        for edge in half_peak_rad(intensity, across, peak, tilt_rad)
    ]
    return Aim(
        setback_m=setback_m,
        ceiling_m=ceiling_m,
        height_m=height,
        tilt_rad=tilt_rad,
        file_peak_rad=peak,
        beam_aim_rad=beam,
        foot_rad=foot,
        top_rad=top,
        angle_rad=angle,
        candela=candela,
        peak=_lands(setback_m, height, ceiling_m, beam),
        half=(ends[0], ends[1]),
        wall_share=float(candela[on_wall].sum()) / total if total > 0 else 0.0,
        leans=orientation.toward_wall,
    )


def half_peak_rad(
    intensity: Intensity, across_in_file: Floats, peak_rad: float, tilt_rad: float
) -> tuple[float | None, float | None]:
    """Directions on both sides of the peak where the candela falls to a half, after the tilt.

    Parameters
    ----------
    intensity : Intensity
        The file.
    across_in_file : ndarray of float64, shape (3,)
        As in `cross_section.cross_section_peak`.
    peak_rad : float
        The peak at tilt 0. [rad]
    tilt_rad : float
        [rad]

    Returns
    -------
    tuple of float or None
        Away from the wall, toward the wall; None where it stays above a half all round. [rad]
    """
    away = np.deg2rad(np.arange(0.0, 180.0 + 0.025, 0.05))
    found: list[float | None] = []
    for side in (-1.0, 1.0):
        candela = cross_section_candela(intensity, across_in_file, peak_rad + side * away)
        below = np.flatnonzero(candela < candela[0] / 2)
        if below.size == 0 or candela[0] <= 0:
            found.append(None)
            continue
        k = int(below[0])
        share = (candela[k - 1] - candela[0] / 2) / (candela[k - 1] - candela[k])
        at = float(away[k - 1] + share * (away[k] - away[k - 1]))
        found.append(wrap(peak_rad + side * at + tilt_rad))
    return found[0], found[1]


def aim_numbers(found: Aim) -> tuple[Number, ...]:
    """Return the numbers of an aim, angles in degrees as drawings have them."""
    return (
        Number("aim.setback_m", found.setback_m, "m", "wall to the centre of the opening"),
        Number("aim.height_m", found.height_m, "m", "centre of the opening over the floor"),
        Number("aim.tilt", math.degrees(found.tilt_rad), "deg", "tilt of the housing"),
        Number("aim.file_peak", math.degrees(found.file_peak_rad), "deg", "peak at tilt 0"),
        Number("aim.beam_aim", math.degrees(found.beam_aim_rad), "deg", "peak with the tilt"),
        Number("aim.foot", math.degrees(found.foot_rad), "deg", "direction of the wall's foot"),
        Number(
            "aim.tilt_to_foot",
            math.degrees(found.tilt_to_foot_rad),
            "deg",
            "tilt that brings the peak to the wall's foot",
        ),
        Number("aim.peak_at_m", found.peak.at_m, "m", f"peak lands on the {found.peak.where}"),
        Number(
            "aim.wall_share", found.wall_share, "1", "of the cross-section's candela to the wall"
        ),
    )


def _lands(setback_m: float, height_m: float, ceiling_m: float, angle_rad: float) -> Landing:
    far = _NEAR * ceiling_m
    where, at = landing(
        setback_m,
        height_m,
        angle_rad,
        across_room_m=max(far, 2 * setback_m) * 1e3,
        room_height_m=ceiling_m,
    )
    if where == "far wall" or (where in ("floor", "ceiling") and at > far):
        return Landing("away", math.nan)
    if where == "wall":
        return Landing("wall", at)
    return Landing("floor" if where == "floor" else "ceiling", at)
