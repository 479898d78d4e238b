"""How near a trial comes to a wish: one smooth score to search by, and what is printed."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.measure.area import band_max_to_min
from rakelight.measure.fields import Fields
from rakelight.measure.profile import profile
from rakelight.measure.texture import texture
from rakelight.measure.throw import throw
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number
from rakelight.scene.surfaces import Room, Surface
from rakelight.study.trials import Trial
from rakelight.study.wishes import (
    AVERAGE_SHARE,
    CENTRE_M,
    CORNER_M,
    GLOW_M,
    GLOW_SHARE,
    THROW_SHARE,
    Wish,
)

Floats = NDArray[np.float64]

#: What a second aim (strength, evenness) weighs beside the wished one.
_SECOND = 0.1
#: Score of what cannot be measured at all; a search must be able to compare it.
WORST = 1e6


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a trial gives.

    Parameters
    ----------
    score : float
        What is searched for: less is better. Deviations count in units of what still counts
        as met, squared.
    met : bool
        Whether the wish is met.
    numbers : tuple of Number
        What the wish is about first, then what stands beside it.
    """

    score: float
    met: bool
    numbers: tuple[Number, ...]

    def value(self, key: str) -> float:
        """Return the number of that key; nan if there is none."""
        return next((n.value for n in self.numbers if n.key == key), math.nan)


NOTHING = Outcome(WORST, False, ())


def outcome(wish: Wish, trial: Trial) -> Outcome:
    """Score a trial.

    Parameters
    ----------
    wish : Wish
        What is wished.
    trial : Trial
        What was tried.

    Raises
    ------
    InputError
        If the scene has nothing of the kind: drama without relief, a throw on a wall.
    """
    match wish.kind:
        case "drama_at" | "drama_band":
            return _drama(wish, trial)
        case "even" | "average":
            return _level(wish, trial)
        case "glow":
            return _glow(wish, trial)
        case "throw":
            return _throw(wish, trial)
        case "cutoff":
            return _cutoff(trial)


def _margins(trial: Trial) -> tuple[float, float]:
    stated = trial.scene.tables.measure
    if abs(float(trial.fields.surface.frame.n[2])) > 0.5:
        return 0.0, 0.0  # a floor, a ceiling or a work plane has neither top nor foot
    most = 0.25 * trial.fields.surface.grid.height_m
    return min(stated.top_m, most), min(stated.foot_m, most)


def evenness(fields: Fields, top_m: float, foot_m: float) -> tuple[float, float]:
    """Average and max:min of the mean plane, less top and foot. [lx, 1]"""
    area = fields.plane_m2
    average = float(np.sum(fields.flat_lx * area) / np.sum(area))
    ratio, _, _ = band_max_to_min(fields, top_m, foot_m)
    return average, ratio


def _drama(wish: Wish, trial: Trial) -> Outcome:
    if not trial.fields.has_relief:
        name = trial.fields.surface.name
        raise InputError(f'--want "{wish.text}": {name} has no relief, and drama is its texture.')
    found = texture(trial.fields)
    over = float(found.over_mean.max())
    total = float(found.modulation_cd_m2.sum())
    if not total > 0:
        return NOTHING
    zones = found.drama_zones_m
    beside = (
        Number("drama_zone_low_m", zones[0][0], "m", "drama zone from"),
        Number("drama_zone_high_m", zones[-1][1], "m", "drama zone to"),
        Number("texture_over_mean", over, "1", "texture over mean"),
        Number("average_lx", evenness(trial.fields, *_margins(trial))[0], "lx", "average"),
    )
    if wish.kind == "drama_at":
        off = found.drama_centre_m - wish.at_m
        score = (off / CENTRE_M) ** 2 - _SECOND * math.log(max(over, 1e-9))
        centre = Number("drama_centre_m", found.drama_centre_m, "m", "drama centre")
        return Outcome(score, abs(off) <= CENTRE_M, (centre, *beside))
    inside = (found.v_m >= wish.at_m) & (found.v_m <= wish.to_m)
    if not inside.any():
        return NOTHING
    level = float(found.smoothed_cd_m2[inside].min() / found.smoothed_cd_m2.max())
    share = float(found.modulation_cd_m2[inside].sum()) / total
    score = (max(0.0, 0.5 - level) / 0.1) ** 2 + (1 - share)
    first = (
        Number("band_level", level, "1", "least texture in the band over the strongest"),
        Number("band_share", share, "1", "share of all texture in the band"),
    )
    return Outcome(score, level >= 0.5, (*first, *beside))


def _level(wish: Wish, trial: Trial) -> Outcome:
    average, ratio = evenness(trial.fields, *_margins(trial))
    numbers = (
        Number("average_lx", average, "lx", "average"),
        Number("max_to_min", ratio, "1", "max:min"),
    )
    if not average > 0:
        return Outcome(WORST, False, numbers)
    uneven = math.log(min(max(ratio, 1.0), 1e9))
    if wish.kind == "average":
        off = math.log(average / wish.lx) / AVERAGE_SHARE
        met = abs(average / wish.lx - 1) <= AVERAGE_SHARE
        return Outcome(off**2 + _SECOND * uneven, met, numbers)
    short = max(0.0, math.log(wish.lx / average)) if wish.lx else 0.0
    met = average >= wish.lx * (1 - 1e-3)
    return Outcome(uneven + (short / 0.01) ** 2, met, numbers[::-1])


def _glow(wish: Wish, trial: Trial) -> Outcome:
    top, foot = _margins(trial)
    average, ratio = evenness(trial.fields, top, foot)
    curve = profile(trial.fields)
    peak = peak_height_m(curve.v_m, np.nan_to_num(curve.flat_lx))
    numbers = (
        Number("bright_band_at_m", peak, "m", "brightest band"),
        Number("max_to_min", ratio, "1", "max:min"),
        Number("average_lx", average, "lx", "average"),
    )
    if not math.isfinite(ratio):
        return Outcome(WORST, False, numbers)
    up, off = (peak - wish.at_m) / GLOW_M, math.log(ratio / wish.ratio) / math.log1p(GLOW_SHARE)
    met = abs(up) <= 1 and abs(ratio / wish.ratio - 1) <= GLOW_SHARE
    return Outcome(up**2 + off**2, met, numbers)


def peak_height_m(v_m: Floats, lx: Floats) -> float:
    """Height of the brightest band, between bands by the parabola through its neighbours. [m]"""
    k = int(np.argmax(lx))
    if not 0 < k < lx.size - 1:
        return float(v_m[k])
    below, at, above = (float(x) for x in lx[k - 1 : k + 2])
    bend = below - 2 * at + above
    part = 0.5 * (below - above) / bend if bend < 0 else 0.0
    return float(v_m[k]) + part * float(v_m[1] - v_m[0])


def _throw(wish: Wish, trial: Trial) -> Outcome:
    found = throw(trial.fields, trial.line)
    name = trial.fields.surface.name
    if found is None:
        raise InputError(f'--want "{wish.text}": the run does not lie along {name}.')
    if not found.peak_lx > 0:
        return NOTHING
    reach = found.half_m if wish.share > 0.3 else found.tenth_m
    average = float(
        np.sum(trial.fields.flat_lx * trial.fields.plane_m2) / np.sum(trial.fields.plane_m2)
    )
    said = "to half of the peak" if wish.share > 0.3 else "to a tenth of the peak"
    numbers = (
        Number("throw_m", reach, "m", said),
        Number("peak_m", found.peak_m, "m", "peak from the run"),
        Number("average_lx", average, "lx", "average"),
    )
    if not math.isfinite(reach):  # still above that share where the surface ends
        return Outcome(0.5 * WORST, False, numbers)
    off = math.log(reach / wish.at_m) / THROW_SHARE
    score = off**2 - _SECOND * math.log(max(average, 1e-9))
    return Outcome(score, abs(reach / wish.at_m - 1) <= THROW_SHARE, numbers)


def _cutoff(trial: Trial) -> Outcome:
    found = corner_miss_m(trial.scene.room, trial.line, trial.plan.beside or trial.plan.lights)
    if found is None:
        return NOTHING
    numbers = (Number("corner_miss_m", found, "m", "cut-off line past the corner"),)
    return Outcome((found / CORNER_M) ** 2, abs(found) <= CORNER_M, numbers)


def corner_miss_m(room: Room, line: LitLine, beside: str) -> float | None:
    """How far beside the corner of wall and ceiling the run's nearest cut-off line passes.

    Parameters
    ----------
    room : Room
        Its surfaces; those that block have the edges.
    line : LitLine
        The run.
    beside : str
        The wall that it lies beside.

    Returns
    -------
    float or None
        Square to the line of sight, positive where the corner is hidden from the opening's
        centre; None where no edge stands between. [m]

    Notes
    -----
    In the section through the middle of the run; the corner is that of the ceiling with the
    wall toward which the run throws. Edges hidden by another face do not count.
    """
    middle = line.origin_m + 0.5 * (line.lit_m[0, 0] + line.lit_m[-1, 1]) * line.axis
    wall = room.surface(beside)
    out = wall.frame.n
    level = line.across - (line.across @ line.axis) * line.axis
    toward = level @ out < 0  # across points to the wall it lies beside
    target = wall if toward else _facing(room, wall.name)
    if target is None:
        return None
    corners = target.frame.to_room(
        np.column_stack([target.corners_uv_m, np.zeros(len(target.corners_uv_m))])
    )
    top = corners[:, 2].max()

    def flat(points: Floats) -> Floats:
        away = points - middle
        at: Floats = np.stack([away @ out, away[..., 2]], axis=-1)
        return at

    corner = np.array([float((corners[0] - middle) @ out), float(top - middle[2])])
    segments = []
    for face in room.surfaces:
        if not face.blocks or abs(float(face.frame.n @ line.axis)) > 0.5:
            continue
        ring = face.frame.to_room(
            np.column_stack([face.corners_uv_m, np.zeros(len(face.corners_uv_m))])
        )
        along = (ring - middle) @ line.axis
        if along.min() > 1e-6 or along.max() < -1e-6:
            continue
        points = flat(ring)
        spread = points - points.mean(axis=0)
        way = spread[int(np.argmax(np.hypot(*spread.T)))]
        order = spread @ way
        segments.append((points[int(order.argmin())], points[int(order.argmax())]))
    return _nearest_edge(corner, segments)


def _nearest_edge(corner: Floats, segments: list[tuple[Floats, Floats]]) -> float | None:
    """Signed distance of the corner from the nearest line over a visible, silhouetting edge."""
    far = float(np.hypot(*corner))
    hidden = any(_crosses(corner, a, b) for a, b in segments)
    best: float | None = None
    for ends in segments:
        for edge in ends:
            near = float(np.hypot(*edge))
            if near < 1e-9 or near >= far or any(_crosses(edge, a, b) for a, b in segments):
                continue
            cross = float(edge[0] * corner[1] - edge[1] * corner[0]) / near
            if float(edge @ corner) <= 0:
                continue
            if best is None or abs(cross) < best:
                best = abs(cross)
    if best is None:
        return None
    return best if hidden else -best


def _crosses(point: Floats, a: Floats, b: Floats) -> bool:
    """Whether a segment crosses the way from the origin to a point, short of both ends."""
    step = b - a
    det = point[0] * step[1] - point[1] * step[0]
    if abs(det) < 1e-15:
        return False
    t = (a[0] * step[1] - a[1] * step[0]) / det
    s = (a[0] * point[1] - a[1] * point[0]) / det
    return bool(1e-9 < t < 1 - 1e-9 and -1e-9 < s < 1 + 1e-9)


def _facing(room: Room, name: str) -> Surface | None:
    """The wall opposite a wall."""
    n = room.surface(name).frame.n
    for surface in room.surfaces:
        level = abs(float(surface.frame.n[2])) < 0.5
        if not surface.blocks and level and float(surface.frame.n @ n) < -0.99:
            return surface
    return None
