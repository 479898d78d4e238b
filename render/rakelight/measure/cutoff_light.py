"""How visible a cut-off line is: the step in illuminance across its penumbra."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.cutoff_lines import CutOffLine
from rakelight.measure.fields import Fields
from rakelight.measure.grid import at_points
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import RunSection, cut_off_key
from rakelight.measure.weights import inside_polygon
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

#: Steps of the sum along a run at the one point where a tilt is tried.
STEPS = 200


@dataclass(frozen=True, slots=True)
class Step:
    """Illuminance on both sides of a penumbra, on the mean plane.

    Parameters
    ----------
    bright_lx, dark_lx : float
        One mesh step into full light, and into full shadow; nan off the surface. [lx]
    """

    bright_lx: float
    dark_lx: float

    @property
    def step_lx(self) -> float:
        """What is lost across it. [lx]"""
        return self.bright_lx - self.dark_lx

    @property
    def ratio(self) -> float:
        """Bright over dark; inf where it is black."""
        if math.isnan(self.bright_lx) or math.isnan(self.dark_lx):
            return math.nan
        return self.bright_lx / self.dark_lx if self.dark_lx > 0 else math.inf


def profile_along(
    section: RunSection, line: CutOffLine, gathered: Fields, places_m: Floats
) -> Floats:
    """Illuminance along the cut's line on the surface that a cut-off line lands on.

    Parameters
    ----------
    section : RunSection
        The section.
    line : CutOffLine
        One of its lines.
    gathered : Fields
        Light of that surface.
    places_m : ndarray of float64, shape (k,)
        From where the line lands, toward the dark positive. [m]

    Returns
    -------
    ndarray of float64, shape (k,)
        On the mean plane; nan off the surface. [lx]
    """
    surface = gathered.surface
    points = section.cut.to_room(line.lands_m + places_m[:, None] * line.dark_side)
    local = surface.frame.from_room(points)
    lx = at_points(gathered.flat_lx, surface.grid, local[:, 0], local[:, 1])
    there = inside_polygon(local[:, 0], local[:, 1], surface.corners_uv_m)
    return np.where(there, lx, np.nan)


def step_across(section: RunSection, line: CutOffLine, gathered: Fields) -> Step:
    """Light one mesh step before the penumbra, and one behind it."""
    mesh = max(gathered.surface.grid.step_u_m, gathered.surface.grid.step_v_m)
    ends = np.array(
        [
            float((line.full_light_m - line.lands_m) @ line.dark_side) - mesh,
            float((line.full_shadow_m - line.lands_m) @ line.dark_side) + mesh,
        ]
    )
    bright, dark = profile_along(section, line, gathered, ends)
    return Step(float(bright), float(dark))


def turned_line(line: LitLine, by_rad: float) -> LitLine:
    """A run with its housing turned about the opening's centre, toward the lit side. [rad]"""
    cos, sin = math.cos(by_rad), math.sin(by_rad)

    def turn(vector: Floats) -> Floats:
        along = float(vector @ line.axis)
        x, y = float(vector @ line.nadir), float(vector @ line.across)
        out: Floats = (
            along * line.axis + (x * cos - y * sin) * line.nadir + (x * sin + y * cos) * line.across
        )
        return out

    return replace(line, nadir=turn(line.nadir), across=turn(line.across), c0=turn(line.c0))


def free_light(line: LitLine, point_m: Floats, normal: Floats) -> float:
    """Illuminance of a run's middle line on one point with nothing in between. [lx]

    Equal steps of the angle along the run, seen from the point, over each lit length.
    """
    away = line.origin_m - point_m
    along = float(away @ line.axis)
    square = away - along * line.axis
    distance = float(np.linalg.norm(square))
    total = 0.0
    for start, end in line.lit_m:
        edges = np.linspace(
            math.atan2(start + along, distance), math.atan2(end + along, distance), STEPS + 1
        )
        psi = (edges[1:] + edges[:-1]) / 2
        way = square / distance * np.cos(psi)[:, None] + np.sin(psi)[:, None] * line.axis
        candela = line.candela_per_metre(-way)
        total += float(np.sum(candela * np.maximum(way @ normal, 0) * np.diff(edges)))
    return total / distance


def tilted_step(
    section: RunSection, line: CutOffLine, step: Step, gathered: Fields, by_rad: float,
    output: float,
) -> Step:  # fmt: skip
    """The step after a turn of the housing: the run's own light on the bright side changes.

    Parameters
    ----------
    section, line, step, gathered
        As `step_across` took and gave them.
    by_rad : float
        The turn. [rad]
    output : float
        The run's dim times maintenance.

    Notes
    -----
    The bright side sees all of the opening, so its direct light is the run's sum without
    anything in between, before and after. Bounced light is left as it was.
    """
    mesh = max(gathered.surface.grid.step_u_m, gathered.surface.grid.step_v_m)
    place = line.full_light_m - mesh * line.dark_side
    point = section.cut.to_room(place)
    normal = gathered.surface.frame.n
    before, after = (
        output * free_light(one, point, normal)
        for one in (section.line, turned_line(section.line, by_rad))
    )
    if not before > 0:
        return Step(step.bright_lx, step.dark_lx)
    rest = max(step.bright_lx - before, 0.0)
    own = step.bright_lx - rest
    return Step(rest + own * after / before, step.dark_lx)


def cut_off_light_numbers(section: RunSection, light: RoomLight) -> tuple[Number, ...]:
    """How visible each of a run's cut-off lines is, before and after a change of tilt."""
    out: list[Number] = []
    output = light.output(section.line)
    for line in section.cut_offs:
        if line.on not in light.lit.direct_lx:
            continue
        gathered = light.of(line.on)
        step = step_across(section, line, gathered)
        key = cut_off_key(section, line)
        out += [
            Number(f"{key}.bright_lx", step.bright_lx, "lx", "light before the penumbra"),
            Number(f"{key}.dark_lx", step.dark_lx, "lx", "light behind it"),
            Number(f"{key}.step_lx", step.step_lx, "lx", "what is lost across it"),
            Number(f"{key}.step_ratio", step.ratio, "1", "bright side over dark side"),
        ]
        for by, _ in section.at_tilts():
            word = "out" if by > 0 else "back"
            after = tilted_step(section, line, step, gathered, by, output)
            out.append(
                Number(
                    f"{key}.tilted_{word}.step_ratio", after.ratio, "1",
                    "the same with the housing turned; bounced light left as it was",
                )
            )  # fmt: skip
            out.append(Number(f"{key}.tilted_{word}.step_lx", after.step_lx, "lx", "likewise"))
    return tuple(out)
