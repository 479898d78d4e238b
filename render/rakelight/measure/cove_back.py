"""The back of a cove against the ceiling's brightest part: does it draw the eye, or look unfilled.

What an eye in the room sees over the lip is the wall behind the run, from the sight line of
whoever sees deepest up to the ceiling.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.ceiling_profile import CeilingProfile
from rakelight.measure.grid import at_points
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import RunSection
from rakelight.measure.section_rays import clear, first_met
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

#: A back brighter than the ceiling's brightest part by this draws the eye to itself; ours.
DRAWS_THE_EYE = 1.5
#: A back darker than this share of it reads as a gap between wall and ceiling; ours.
UNFILLED = 0.15
_SAMPLES = 41


@dataclass(frozen=True, slots=True)
class CoveBack:
    """Luminance of what shows over a lip.

    Parameters
    ----------
    back_cd_m2, ceiling_cd_m2 : float
        Mean of the wall that shows over the lip; the ceiling's brightest part in the section.
    from_m, to_m : float
        Heights over the floor between which the wall shows. [m]
    """

    back_cd_m2: float
    ceiling_cd_m2: float
    from_m: float
    to_m: float

    @property
    def ratio(self) -> float:
        """Back over ceiling."""
        return self.back_cd_m2 / self.ceiling_cd_m2 if self.ceiling_cd_m2 > 0 else math.nan

    @property
    def says(self) -> str:
        """``draws the eye``, ``looks unfilled``, or ``is in balance``."""
        if self.ratio > DRAWS_THE_EYE:
            return "draws the eye"
        return "looks unfilled" if self.ratio < UNFILLED else "is in balance"


def shown_from_m(section: RunSection) -> float:
    """Lowest place of the wall behind a run that any of the section's eyes sees; nan if none. [m]

    The deepest look over a lip is that of the tallest eye at the far wall.
    """
    cut, screen = section.cut, section.screen
    if screen is None or not screen.over or not section.sights:
        return math.nan
    lowest = math.inf
    for sight in section.sights:
        eye = np.array([sight.to_m - 1e-6, sight.eye_m / float(cut.up[2])])
        for edge in screen.edges_m:
            if not clear(eye, edge, cut.segments):
                continue
            way = (edge - eye) / np.hypot(*(edge - eye))
            distance, which = first_met(edge, way, cut.segments, 1e-4)
            if which >= 0 and cut.segments[which].name == cut.wall:
                lowest = min(lowest, float(edge[1] + distance * way[1]))
    return lowest if math.isfinite(lowest) else math.nan


def cove_back(
    section: RunSection, light: RoomLight, profile: CeilingProfile | None
) -> CoveBack | None:
    """Compare the wall that shows over a cove's lip with the ceiling's brightest part.

    Parameters
    ----------
    section : RunSection
        Of a run on a cove.
    light : RoomLight
        The room's.
    profile : CeilingProfile or None
        Across the ceiling in this section.

    Returns
    -------
    CoveBack or None
        None for what is no cove, or where no eye sees the wall behind it.
    """
    if not section.plan.along.startswith("cove"):
        return None
    low = shown_from_m(section)
    cut = section.cut
    walls = [s for s in cut.segments if s.name == cut.wall]
    if math.isnan(low) or profile is None or not walls:
        return None
    top = max(float(max(s.a_m[1], s.b_m[1])) for s in walls)
    if top - low < 1e-3:
        return None
    gathered = light.of(cut.wall)
    wall = gathered.surface
    places = np.column_stack([np.zeros(_SAMPLES), np.linspace(low, top, _SAMPLES)])
    local = wall.frame.from_room(cut.to_room(places))
    lx = at_points(gathered.flat_lx, wall.grid, local[:, 0], local[:, 1])
    ceilings = [s.name for s in cut.segments if s.name.startswith("ceiling")]
    reflects = light.of(ceilings[0]).luminance_per_lx
    return CoveBack(
        float(lx.mean()) * gathered.luminance_per_lx, float(profile.lx.max()) * reflects, low, top
    )


def cove_back_numbers(
    section: RunSection, light: RoomLight, profile: CeilingProfile | None
) -> tuple[Number, ...]:
    """Luminance of a cove's back and what it says; nothing for other runs."""
    found = cove_back(section, light, profile)
    if found is None:
        return ()
    key = f"run.{section.plan.tag}.cove_back"
    verdict = (
        f"back over brightest ceiling: it {found.says} (above {DRAWS_THE_EYE:g} it draws the eye, "
        f"under {UNFILLED:g} it looks unfilled; our thresholds)"
    )
    return (
        Number(f"{key}.cd_m2", found.back_cd_m2, "cd/m2", "wall that shows over the lip, mean"),
        Number(f"{key}.ceiling_cd_m2", found.ceiling_cd_m2, "cd/m2", "ceiling's brightest part"),
        Number(f"{key}.ratio", found.ratio, "1", verdict),
        Number(f"{key}.shows_from_m", found.from_m, "m", "height from which the wall shows"),
    )
