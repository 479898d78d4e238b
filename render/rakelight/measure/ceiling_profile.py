"""Light across a ceiling in a run's section: peak, throw, what reaches the far wall, the bounce."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.direct import shaded_plane_light
from rakelight.light.faces import blocking_faces, shades
from rakelight.light.visibility import in_front
from rakelight.measure.area import max_to_min
from rakelight.measure.fields import Fields
from rakelight.measure.grid import at_points
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_cut import Segment
from rakelight.measure.section_numbers import RunSection
from rakelight.measure.throw import Throw, reach
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.number import Number
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]

#: Left out at both walls where max:min is taken, as at top and foot of a wall. [m]
ENDS_M = 0.3
#: Largest step of the profile. [m]
STEP_M = 0.02
#: Steps of the sum along the run.
STEPS = 48


@dataclass(frozen=True, slots=True, eq=False)
class CeilingProfile:
    """Illuminance across a ceiling, square to a run.

    Parameters
    ----------
    out_m : ndarray of float64, shape (points,)
        In plan, from the wall that the run lies beside; increasing. [m]
    lx : ndarray of float64, shape (points,)
        All light. [lx]
    own_lx : ndarray of float64, shape (points,)
        Direct light of this run alone, past all that stands in between. [lx]
    bounced_lx : ndarray of float64, shape (points,)
        What of it came from other surfaces; empty if that was not computed. [lx]
    source_m : float
        The run, on the same scale. [m]
    depth_m : float
        The far wall. [m]
    """

    out_m: Floats
    lx: Floats
    own_lx: Floats
    bounced_lx: Floats
    source_m: float
    depth_m: float

    def throw(self) -> Throw:
        """Peak, half and tenth of the run's own light, toward the farther end. [m from the run]"""
        toward_far = self.depth_m - self.source_m >= self.source_m
        away = self.out_m - self.source_m if toward_far else self.source_m - self.out_m
        order = np.argsort(away)
        kept = order[away[order] >= 0]
        return reach(away[kept], self.own_lx[kept])

    def far_lx(self) -> float:
        """What reaches the end farther from the run. [lx]"""
        toward_far = self.depth_m - self.source_m >= self.source_m
        return float(self.lx[-1] if toward_far else self.lx[0])

    def max_to_min(self) -> float:
        """Largest over least, less `ENDS_M` at both walls."""
        inside = (self.out_m >= ENDS_M - 1e-9) & (self.out_m <= self.depth_m - ENDS_M + 1e-9)
        if not inside.any():
            return math.nan
        return max_to_min(float(self.lx[inside].min()), float(self.lx[inside].max()))


def ceiling_profile(section: RunSection, light: RoomLight) -> CeilingProfile | None:
    """Follow the section's line across the ceiling, over a ridge too.

    Parameters
    ----------
    section : RunSection
        The section.
    light : RoomLight
        The room's.

    Returns
    -------
    CeilingProfile or None
        None for an upright run, or where there is no ceiling.
    """
    cut = section.cut
    parts = [s for s in cut.segments if s.shell and s.name.startswith("ceiling")]
    if cut.upright or not parts:
        return None
    lit = light.lit
    outs, every, own, bounce = [], [], [], []
    for part in sorted(parts, key=lambda s: float(min(s.a_m[0], s.b_m[0]))):
        gathered = light.of(part.name)
        places = _places(part)
        outs.append(places[:, 0])
        every.append(_at(section, gathered, places, gathered.flat_lx))
        own.append(_own(section, light, gathered.surface, places))
        if part.name in lit.bounced_lx:
            flat = lit.flat_bounced_lx.get(part.name)
            part_lx = lit.indirect_lx(part.name) if flat is None else flat
            bounce.append(_at(section, gathered, places, part_lx))
    bounced = np.concatenate(bounce) if len(bounce) == len(parts) else np.zeros(0)
    return CeilingProfile(
        np.concatenate(outs), np.concatenate(every), np.concatenate(own), bounced,
        float(cut.source_m[0]), cut.depth_m,
    )  # fmt: skip


def _places(part: Segment) -> Floats:
    a, b = (part.a_m, part.b_m) if part.a_m[0] < part.b_m[0] else (part.b_m, part.a_m)
    count = max(2, math.ceil(float(np.hypot(*(b - a))) / STEP_M) + 1)
    # a hair inside the ends, where two slopes meet
    shares = np.clip(np.linspace(0, 1, count), 1e-7, 1 - 1e-7)
    out: Floats = a + shares[:, None] * (b - a)
    return out


def _at(
    section: RunSection, gathered: Fields, places: Floats, values: NDArray[np.float32]
) -> Floats:
    surface = gathered.surface
    local = surface.frame.from_room(section.cut.to_room(places))
    return at_points(values, surface.grid, local[:, 0], local[:, 1])


def _own(section: RunSection, light: RoomLight, surface: Surface, places: Floats) -> Floats:
    """Direct light of the section's run on a strip of a surface along the cut. [lx]"""
    ends = section.cut.to_room(places[[0, -1]])
    length = float(np.linalg.norm(ends[1] - ends[0]))
    v = (ends[1] - ends[0]) / length
    u = np.cross(v, surface.frame.n)
    half = 0.01
    strip = replace(
        surface,
        frame=Frame(ends[0] - half * u, u, v, surface.frame.n),
        corners_uv_m=np.array([[0, 0], [2 * half, 0], [2 * half, length], [0, length]]),
        grid=Grid(len(places), 3, 2 * half, length),
        relief=None,
        holes_uv_m=(),
    )
    line = in_front(strip, section.line)
    if line is None:
        return np.zeros(len(places))
    shade = shades(strip, line, blocking_faces(light.room).without(surface.name, line))
    direct = shaded_plane_light(strip, line, shade, None, STEPS)
    out: Floats = light.output(section.line) * direct[:, 1].astype(np.float64)
    return out


def ceiling_numbers(
    section: RunSection, light: RoomLight, found: CeilingProfile | None
) -> tuple[Number, ...]:
    """Throw and evenness across the ceiling that a run lights; nothing for one that lights walls.

    Distances are in plan: from the run for the throw, from the wall for the peak.
    """
    if not section.plan.lights.startswith("ceiling"):
        return ()
    if found is None or not found.lx.max() > 0:
        return ()
    key, wall = f"run.{section.plan.tag}.ceiling", section.cut.wall
    throw, far = found.throw(), found.far_lx()
    top = int(np.argmax(found.lx))
    out = [
        Number(f"{key}.peak_lx", float(found.lx[top]), "lx", "brightest across the ceiling"),
        Number(
            f"{key}.peak_from_wall_m", float(found.out_m[top]), "m",
            f"where, from the {wall} wall",
        ),
        Number(
            f"{key}.own_peak_lx", throw.peak_lx, "lx", "brightest by this run's direct light alone"
        ),
        Number(f"{key}.own_peak_m", throw.peak_m, "m", "from the run to there"),
        Number(f"{key}.half_m", throw.half_m, "m", "throw: from the run to where half is left"),
        *_second(key, throw),
        Number(f"{key}.tenth_m", throw.tenth_m, "m", "and to where a tenth is left"),
        Number(f"{key}.far_lx", far, "lx", "all light at the ceiling's far end"),
        Number(
            f"{key}.far_over_peak", far / float(found.lx[top]), "1", "the same over the brightest"
        ),
        Number(
            f"{key}.max_to_min", found.max_to_min(), "1",
            f"greatest to least across it, less {ENDS_M * 1000:.0f} mm at both walls",
        ),
    ]  # fmt: skip
    if found.bounced_lx.size:
        share = float(_mean(found.out_m, found.bounced_lx) / _mean(found.out_m, found.lx))
        out.append(Number(f"{key}.bounced_share", share, "1", "share that came by bounce"))
    return tuple(out)


def _second(key: str, throw: Throw) -> tuple[Number, ...]:
    """A second maximum, and where the light was down to half before it; nothing without one."""
    if not math.isfinite(throw.second_m):
        return ()
    return (
        Number(
            f"{key}.half_first_m", throw.first_half_m, "m",
            "where half was left for the first time; it rises again",
        ),
        Number(f"{key}.second_m", throw.second_m, "m", "from the run to its second maximum"),
        Number(
            f"{key}.second_over_peak", throw.second_lx / throw.peak_lx, "1",
            "the second maximum over the first",
        ),
    )  # fmt: skip


def _mean(at: Floats, values: Floats) -> float:
    return float(np.trapezoid(values, at) / (at[-1] - at[0]))


def bounced_numbers(light: RoomLight) -> tuple[Number, ...]:
    """Share of each surface's light that came by bounce, by area; nothing if it is not computed."""
    lit = light.lit
    out = []
    for surface in light.room.surfaces:
        if surface.blocks or surface.name not in lit.bounced_lx:
            continue
        gathered = light.of(surface.name)
        total = float(np.sum(gathered.total_lx * gathered.true_m2, dtype=np.float64))
        bounced = float(np.sum(lit.indirect_lx(surface.name) * gathered.true_m2, dtype=np.float64))
        if total > 0:
            says = "share of its light that came by bounce"
            out.append(Number(f"{surface.name}.bounced_share", bounced / total, "1", says))
    return tuple(out)
