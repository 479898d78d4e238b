"""Search of one run's place, tilt and file for a wished outcome, and what stops it."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NoReturn

import numpy as np
from numpy.typing import NDArray

from rakelight.build.scene import quality_of
from rakelight.errors import InputError
from rakelight.light.bounce import bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.on_bodies import light_on_bodies
from rakelight.light.prepare import prepare
from rakelight.measure import fields
from rakelight.study.outcomes import NOTHING, Outcome, outcome
from rakelight.study.search import Bounds, Found, Search, axes_of, search_file
from rakelight.study.trials import Bench, Candidate, Trial
from rakelight.study.wishes import WORK_PLANE, Wish

Floats = NDArray[np.float64]
Progress = Callable[[str], None]

#: Two settings nearer than this are one in the ranked table. [rad, ratio of distances]
_APART_RAD = math.radians(3.0)
_APART_RATIO = 1.15


@dataclass(frozen=True, slots=True, eq=False)
class Suggestion:
    """The result of a search.

    Parameters
    ----------
    wish : Wish
        What was wished.
    bounds : Bounds
        Within what.
    ranked : tuple of Found
        The best first; each file's best is among them.
    limits : tuple of str
        What keeps the best one from the wish; empty if it is met.
    tried : int
        Settings that were lit.
    """

    wish: Wish
    bounds: Bounds
    ranked: tuple[Found, ...]
    limits: tuple[str, ...]
    tried: int

    @property
    def best(self) -> Found:
        """The winner."""
        return self.ranked[0]


def suggest(
    bench: Bench,
    wish: Wish,
    bounds: Bounds,
    *,
    keep: int = 6,
    progress: Progress = lambda step: None,
) -> Suggestion:
    """Search for the setting that comes nearest to a wish.

    Parameters
    ----------
    bench : Bench
        Where settings are tried.
    wish : Wish
        What is wished.
    bounds : Bounds
        Within what.
    keep : int
        Length of the ranked table.
    progress : callable
        Told what is done next.

    Raises
    ------
    InputError
        If bounds are empty or reversed, lie where nothing can be built, leave the hardware
        no tilt, or the scene has nothing of what is wished.
    """
    axes, tilts = axes_of(bench, bounds)
    if wish.kind == "even" and not wish.lx:
        wish = _with_floor(bench, wish)
    search = Search(bench, wish, bounds)
    for file in bounds.files or ("",):
        progress(f"searching {file or bench.table.photometry}")
        search_file(search, file, axes, tilts)
    lit = [found for found in search.seen.values() if found is not None]
    lit = list({found.candidate: found for found in lit}.values())
    if not lit:
        _say_why(bench, bounds)
    lit.sort(key=lambda found: found.outcome.score)  # stable: the order of files breaks ties
    chosen = _ranked(lit, keep, bench.table.adjust is not None)
    ranked = tuple(one for one in map(search.built, chosen) if one is not None)
    if not ranked:
        _say_why(bench, bounds)
    progress("limits")
    limits = () if ranked[0].outcome.met else _limits(search, ranked[0], tilts)
    return Suggestion(wish, bounds, ranked, limits, bench.tried)


def _with_floor(bench: Bench, wish: Wish) -> Wish:
    """An even surface in the dark is no wish: keep half of what the scene gives as it is."""
    trial = bench.try_one(Candidate())
    average = 0.0 if trial is None else outcome(wish, trial).value("average_lx")
    return replace(wish, lx=0.5 * average, assumed=True) if average > 0 else wish


def confirm(bench: Bench, wish: Wish, candidate: Candidate) -> Outcome:
    """What a setting gives at the scene's own quality, bounced light included where it says so.

    Parameters
    ----------
    bench : Bench
        The bench that found it.
    wish : Wish
        What was wished.
    candidate : Candidate
        The setting.
    """
    own = replace(
        bench, quality=quality_of(bench.scene_file.tables), tried=0, _rooms={}, _prepared={}
    )
    scene = own.scene(candidate)
    plan = scene.runs[bench.run]
    room = scene.room
    name = bench.surface or plan.lights
    if name == WORK_PLANE:
        trial = own.light(scene, candidate.below_m)
        return NOTHING if trial is None else outcome(wish, trial)
    prepared = prepare(room, scene.quality)
    lit = direct(prepared, edges=scene.quality.bounce)
    if scene.quality.bounce:
        around = prepare_bounce(prepared)
        lit, _ = bounce(around, lit, light_on_bodies(around))
    seen = fields(room.surface(name), lit)
    return outcome(wish, Trial(scene, plan, room.lines()[plan.line], seen))


def _ranked(lit: Sequence[Found], keep: int, has_clicks: bool) -> tuple[Found, ...]:
    chosen: list[Found] = []
    firsts: dict[str, Found] = {}
    for found in lit:
        firsts.setdefault(found.candidate.file, found)
    for found in lit:
        if all(_apart(found, other, has_clicks) for other in chosen):
            chosen.append(found)
    head = [f for f in chosen[:keep] if f not in firsts.values()]
    head = head[: max(0, keep - len(firsts))] + list(firsts.values())
    head.sort(key=lambda found: found.outcome.score)
    return tuple(head)


def _apart(one: Found, other: Found, has_clicks: bool) -> bool:
    a, b = one.candidate, other.candidate
    if a.file != b.file:
        return True
    if a.tilt_rad is not None and b.tilt_rad is not None:
        far = abs(a.tilt_rad - b.tilt_rad)
        if far >= _APART_RAD or (has_clicks and far > 1e-9):
            return True
    for p, q in ((a.setback_m, b.setback_m), (a.below_m, b.below_m)):
        if p is not None and q is not None and max(p, q) / min(p, q) >= _APART_RATIO:
            return True
    return False


def _say_why(bench: Bench, bounds: Bounds) -> NoReturn:
    """Raise with what stops even the friendliest setting from being built."""
    tilt = None if bounds.tilt_rad is None else sum(bounds.tilt_rad) / 2
    candidate = Candidate(
        bounds.files[0] if bounds.files else "",
        None if bounds.setback_m is None else bounds.setback_m[1],
        tilt,
        None if bounds.below_m is None else bounds.below_m[1],
    )
    bench.scene(candidate)  # its own words, if it is refused
    raise InputError("Nothing within the bounds could be lit: the run stands in the relief.")


def _limits(search: Search, best: Found, tilts: Floats | None) -> tuple[str, ...]:
    """Name the bounds beyond which the wish would come nearer, and other reasons."""
    out: list[str] = []
    bounds, at = search.bounds, best.candidate
    for name, key in (("setback_m", "setback"), ("below_m", "below")):
        span: tuple[float, float] | None = getattr(bounds, name)
        value: float | None = getattr(at, name)
        if span is None or value is None:
            continue
        if name == "setback_m" and (best.against or value < 1.02 * best.plan.least_setback_m):
            out.append("against")
            continue
        for end, word, beyond in ((0, "least", 1 / 1.1), (1, "largest", 1.1)):
            if abs(math.log(value / span[end])) < 0.01 and _nearer(
                search, best, _with(at, name, span[end] * beyond)
            ):
                out.append(f"{word} {key}")
    if bounds.tilt_rad is not None and at.tilt_rad is not None:
        span_rad = bounds.tilt_rad
        if tilts is not None and tilts.size:
            span_rad = (float(tilts[0]), float(tilts[-1]))
        for end, word, way in ((0, "least", -1.0), (1, "largest", 1.0)):
            if abs(at.tilt_rad - span_rad[end]) < math.radians(0.3) and _tilt_helps(
                search, best, way * math.radians(2.0)
            ):
                out.append(f"{word} tilt")
        if tilts is not None and tilts.size > 1 and not out:
            click = float(np.diff(tilts).min())
            if any(_tilt_helps(search, best, way * click / 2, met=True) for way in (-1.0, 1.0)):
                out.append("click")
    wish, average = search.wish, best.outcome.value("average_lx")
    if wish.lx and average < 0.98 * wish.lx:
        out.append("output")
    return tuple(out)


def _with(candidate: Candidate, name: str, value: float) -> Candidate:
    values: dict[str, Any] = {name: value}
    return replace(candidate, **values)


def _nearer(search: Search, best: Found, beyond: Candidate) -> bool:
    trial = search.bench.try_one(beyond)
    return trial is not None and outcome(search.wish, trial).score < best.outcome.score - 1e-4


def _tilt_helps(search: Search, best: Found, turn_rad: float, *, met: bool = False) -> bool:
    trial = search.bench.try_one(best.candidate)
    moved = None if trial is None else search.bench.off(trial, 0.0, turn_rad)
    if moved is None:
        return False
    there = outcome(search.wish, moved)
    return there.met if met else there.score < best.outcome.score - 1e-4
