"""Ends of a run: how much of its light is left in the corners of what it lights."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.ceiling_profile import CeilingProfile
from rakelight.measure.fields import Fields
from rakelight.measure.grid import at_points
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import RunSection
from rakelight.measure.weights import inside_polygon
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

#: The corner is read this far from its wall. [m]
CORNER_M = 0.05
#: Less than this share of the middle's light reads as a dark end; ours.
DARK = 0.5
#: What lies nearer to a corner than this is its own. [m]
REACH_M = 0.6


@dataclass(frozen=True, slots=True)
class End:
    """One end of the bright line along a run.

    Parameters
    ----------
    share : float
        Light `CORNER_M` from the end, over the median of the middle half.
    least : float
        Least light within `REACH_M` of the end, likewise: the shadow of a gap between two runs
        that meet in the corner is here, and not in `share`.
    dark_m : float
        Length from the end over which less than `DARK` is left. [m]
    """

    share: float
    least: float
    dark_m: float


def ends_along(at_m: Floats, lx: Floats) -> tuple[End, End]:
    """Both ends of a line of light.

    Parameters
    ----------
    at_m : ndarray of float64, shape (k,)
        Places along it, increasing from 0. [m]
    lx : ndarray of float64, shape (k,)
        [lx]
    """
    length = float(at_m[-1])
    middle = float(np.median(lx[(at_m >= length / 4) & (at_m <= 3 * length / 4)]))
    out = []
    for place, here in ((at_m, lx), (length - at_m[::-1], lx[::-1])):
        share = here / middle if middle > 0 else np.full(here.size, math.nan)
        near = place <= min(REACH_M, length / 4)
        enough = np.flatnonzero(share >= DARK)
        dark = float(place[enough[0]]) if enough.size else length
        out.append(
            End(
                float(np.interp(CORNER_M, place, share)),
                float(share[near].min()),
                dark if enough.size and enough[0] > 0 else 0.0,
            )
        )
    return out[0], out[1]


def bright_line(
    section: RunSection, light: RoomLight, profile: CeilingProfile | None
) -> tuple[Fields, Floats] | None:
    """Where a run's light is brightest in its section: the surface, and the place. [m]"""
    cut, plan = section.cut, section.plan
    if plan.lights.startswith("ceiling"):
        if profile is None:
            return None
        out = float(profile.out_m[int(np.argmax(profile.lx))])
        for s in cut.segments:
            low, high = sorted((float(s.a_m[0]), float(s.b_m[0])))
            if s.shell and s.name.startswith("ceiling") and low - 1e-6 <= out <= high + 1e-6:
                share = (out - s.a_m[0]) / (s.b_m[0] - s.a_m[0])
                return light.of(s.name), s.a_m + share * (s.b_m - s.a_m)
        return None
    gathered = light.of(plan.lights)
    parts = [s for s in cut.segments if s.name == plan.lights]
    if not parts:
        return None
    shares = np.linspace(0, 1, 401)[:, None]
    places = np.concatenate([s.a_m + shares * (s.b_m - s.a_m) for s in parts])
    local = gathered.surface.frame.from_room(cut.to_room(places))
    lx = at_points(gathered.flat_lx, gathered.surface.grid, local[:, 0], local[:, 1])
    return gathered, places[int(np.argmax(lx))]


def ends_numbers(
    section: RunSection, light: RoomLight, profile: CeilingProfile | None
) -> tuple[Number, ...]:
    """Light left at both ends of the brightest line along a level run, over its middle's."""
    cut, plan = section.cut, section.plan
    if plan.kind not in ("wall", "out") or cut.upright:
        return ()
    found = bright_line(section, light, profile)
    if found is None:
        return ()
    gathered, place = found
    surface = gathered.surface
    point = cut.to_room(place)
    local = surface.frame.from_room(point)[:2]
    way = surface.frame.direction_from_room(cut.axis)[:2]
    reach = surface.grid.width_m + surface.grid.height_m
    steps = np.arange(-reach, reach, 0.02)
    line = local + steps[:, None] * way
    there = inside_polygon(line[:, 0], line[:, 1], surface.corners_uv_m)
    for hole in surface.holes_uv_m:
        there &= ~inside_polygon(line[:, 0], line[:, 1], hole)
    if there.sum() < 20:
        return ()
    line, at = line[there], steps[there]
    lx = at_points(gathered.flat_lx, surface.grid, line[:, 0], line[:, 1])
    if not np.median(lx) > 0:
        return ()
    first, last = ends_along(at - at[0], lx)
    if section.line.axis @ light.room.surface(cut.wall).frame.u < 0:
        first, last = last, first
    key = f"run.{plan.tag}.ends"
    out = []
    for word, end in (("start", first), ("end", last)):
        side = "start (left, facing the wall)" if word == "start" else "end (right)"
        out += [
            Number(f"{key}.{word}_share", end.share, "1", f"light at its {side}, over the middle"),
            Number(f"{key}.{word}_least", end.least, "1", f"least within {REACH_M:g} m of there"),
            Number(f"{key}.{word}_dark_m", end.dark_m, "m", "length with less than half"),
        ]
    return tuple(out)
