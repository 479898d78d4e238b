"""How the best setting is looked for: a coarse scan, then SciPy's descents from where it leads.

For each click of the hardware a bounded minimisation of the distance; where tilt and distance
may take any value, the valley of settings that make up for each other first, and then Nelder
and Mead's simplex along it.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize, minimize_scalar

from rakelight.errors import InputError
from rakelight.scene.run_plan import RunPlan
from rakelight.study.hardware import tilts_of
from rakelight.study.outcomes import WORST, Outcome, outcome
from rakelight.study.trials import Bench, Candidate
from rakelight.study.wishes import Wish

Floats = NDArray[np.float64]

#: Points of the coarse scan along the first, second and third thing searched.
_SCAN = {1: (8,), 2: (5, 5), 3: (4, 4, 4)}
#: Tilts of a hardware with clicks that the scan looks at, at most.
_SCAN_CLICKS = 5
#: Looks of a first descent at one click; the best click is then looked at more closely.
_QUICK = 8
#: How much worse a second valley may start and still be followed down, and how much worse it may
#: be after a few looks.
_SECOND_VALLEY, _STILL_WORTH = 0.5, 0.15
#: How much higher than both ends the middle between two settings has to be for a ridge.
_RIDGE = 0.02
#: Looks of the simplex in the first valley, and in a second one.
_LOOKS, _MORE_LOOKS = 44, 30
#: A hair in front of the least setback, so that it still builds. [m]
_HAIR_M = 1e-5


@dataclass(frozen=True, slots=True)
class Bounds:
    """What may be changed, and how far.

    Parameters
    ----------
    files : tuple of str
        Photometric files; empty: the scene's own alone.
    setback_m, tilt_rad, below_m : tuple of float, optional
        Least and largest; None keeps what the scene states. [m], [rad], [m]
    """

    files: tuple[str, ...] = ()
    setback_m: tuple[float, float] | None = None
    tilt_rad: tuple[float, float] | None = None
    below_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """One setting and what it gives, in the search's coarse light.

    Parameters
    ----------
    candidate : Candidate
        The setting.
    outcome : Outcome
        How near it comes.
    plan : RunPlan
        The run as it would be installed.
    against : bool
        Whether the wished setback lies in the relief, and this is the least that clears.
    """

    candidate: Candidate
    outcome: Outcome
    plan: RunPlan
    against: bool = False


@dataclass(slots=True, eq=False)
class Search:
    """A bench with a memory: every setting is lit once."""

    bench: Bench
    wish: Wish
    bounds: Bounds
    seen: dict[Candidate, Found | None] = field(default_factory=dict)

    def look(self, candidate: Candidate) -> Found | None:
        """Light a setting; where it stands in the relief, the nearest that clears."""
        if candidate in self.seen:
            return self.seen[candidate]
        found = self._lit(candidate)
        if found is None and candidate.setback_m is not None and self.bounds.setback_m is not None:
            high = self.bounds.setback_m[1]
            least = self.least_m(replace(candidate, setback_m=high))
            if least is not None and candidate.setback_m < least <= high:
                near = self._lit(replace(candidate, setback_m=least + _HAIR_M))
                found = None if near is None else replace(near, against=True)
        self.seen[candidate] = found
        if found is not None:
            self.seen.setdefault(found.candidate, found)
        return found

    def score(self, candidate: Candidate) -> float:
        """Score of a setting; `WORST` where nothing can be built."""
        found = self.look(candidate)
        return WORST if found is None else found.outcome.score

    def least_m(self, candidate: Candidate) -> float | None:
        """Least setback that clears with this file and tilt."""
        try:
            return self.bench.scene(candidate).runs[self.bench.run].least_setback_m
        except InputError:
            return None

    def built(self, found: Found) -> Found | None:
        """The same with its plan as the builder gives it; None if the builder refuses it."""
        try:
            plan = self.bench.scene(found.candidate).runs[self.bench.run]
        except InputError:
            return None
        return replace(found, plan=plan)

    def _lit(self, candidate: Candidate) -> Found | None:
        trial = self.bench.try_one(candidate)
        if trial is None:
            return None
        if trial.plan.setback_m < trial.plan.least_setback_m - 1e-9:
            return None  # it builds, but nobody could slide it in
        return Found(candidate, outcome(self.wish, trial), trial.plan)


@dataclass(frozen=True, slots=True)
class Axis:
    """One thing that may take any value between two bounds; distances count in ratios."""

    name: str
    low: float
    high: float

    @property
    def by_ratio(self) -> bool:
        """Whether equal steps are equal ratios."""
        return self.name != "tilt_rad"

    def at(self, share: float) -> float:
        """Value at a share of the way from low to high, held between them."""
        share = min(max(share, 0.0), 1.0)
        if self.by_ratio:
            return float(self.low * (self.high / self.low) ** share)
        return float(self.low + share * (self.high - self.low))


def axes_of(bench: Bench, bounds: Bounds) -> tuple[list[Axis], Floats | None]:
    """What may take any value, and the tilts that the hardware has where it has clicks.

    Raises
    ------
    InputError
        If a range is empty or reversed, or holds no tilt of the hardware.
    """
    axes = []
    for name, what in (("setback_m", "--setback"), ("below_m", "--below")):
        span: tuple[float, float] | None = getattr(bounds, name)
        if span is None:
            continue
        if not 0 < span[0] <= span[1]:
            raise InputError(f"{what}: from {span[0]:g} m to {span[1]:g} m is empty or reversed.")
        axes.append(Axis(name, *span))
    if bounds.tilt_rad is None:
        return axes, None
    low, high = bounds.tilt_rad
    if low > high:
        raise InputError("--tilt: the range is reversed. Right is LEAST:LARGEST.")
    table, rest = bench.table, bench.rest_rad()
    tilts = tilts_of(table, rest, low, high)
    if tilts is not None:
        if tilts.size == 0:
            raise InputError(
                f"--tilt: the hardware cannot be set to any tilt from {math.degrees(low):g} to "
                f'{math.degrees(high):g} deg. Widen the range, or change the run\'s "adjust".'
            )
        return axes, tilts
    if table.adjust is not None:
        low = max(low, rest + table.adjust.range_rad[0])
        high = min(high, rest + table.adjust.range_rad[1])
        if low > high:
            raise InputError("--tilt: outside the hardware's own range.")
    return [*axes, Axis("tilt_rad", low, high)], None


def search_file(search: Search, file: str, axes: Sequence[Axis], tilts: Floats | None) -> None:
    """Look for the best setting with one file; what was lit stays in the search's memory."""
    base = Candidate(file)
    if not axes:
        for tilt in (None,) if tilts is None else tilts.tolist():
            search.look(replace(base, tilt_rad=tilt))
        return
    counts = _SCAN[len(axes)] if tilts is None else ((5,) if len(axes) == 1 else (4, 4))
    grid = [np.linspace(0.0, 1.0, n) for n in counts]
    some: list[float | None] = [None]
    if tilts is not None:
        picks = np.unique(np.linspace(0, tilts.size - 1, _SCAN_CLICKS).round().astype(int))
        some = [float(tilts[k]) for k in picks]
    scanned = []
    for k, tilt in enumerate(some):
        for share in itertools.product(*grid):
            at = _candidate(base, axes, share, tilt)
            place = (*share, k / max(1, len(some) - 1))
            scanned.append((search.score(at), share, tilt, place))
    scanned.sort(key=lambda one: one[0])
    if tilts is None and len(axes) == 2:
        _along_valley(search, base, axes, [one[:3] for one in scanned], counts)
        return
    starts = [scanned[0]]
    near = 1.5 / (min(counts) - 1)
    for one in scanned[1:]:  # a second valley, if there is one
        far = max(abs(a - b) for a, b in zip(one[3], scanned[0][3], strict=True))
        if far > near and one[0] - scanned[0][0] < _SECOND_VALLEY:
            starts.append(one)
            break
    best = math.inf
    for _, share, tilt, _ in starts:
        if tilts is None:
            _descend(search, base, axes, share, tilt, counts)
            continue
        there, _ = _descend(search, base, axes, share, tilt, counts, most=_QUICK)
        if there < best + _STILL_WORTH:
            found = _climb_clicks(search, base, axes, share, float(tilt or 0.0), tilts, counts)
            best = min(best, found)


def _along_valley(
    search: Search,
    base: Candidate,
    axes: Sequence[Axis],
    scanned: Sequence[tuple[float, Sequence[float], float | None]],
    counts: Sequence[int],
) -> None:
    """Two things that can make up for each other: find the valley, then its lowest place.

    Setback and tilt often do, so that a whole curve of settings is nearly as good. The best
    first value is found for each scanned second one; the simplex then starts along the curve.
    """
    step = 1.0 / (counts[0] - 1)
    lowest: list[tuple[float, float, float]] = []
    for second in np.linspace(0.0, 1.0, counts[1]).tolist():
        _, share, _ = min(
            (one for one in scanned if abs(one[1][1] - second) < 1e-9), key=lambda one: one[0]
        )

        def at(first: float, second: float = second) -> float:
            return search.score(_candidate(base, axes, (first, second), None))

        low, high = max(0.0, share[0] - step), min(1.0, share[0] + step)
        done = minimize_scalar(
            at, bounds=(low, high), method="bounded", options={"xatol": 3e-3, "maxiter": _QUICK}
        )
        found = (float(done.fun), float(done.x), second)
        lowest.append(min(found, (at(share[0]), float(share[0]), second)))
    valleys = sorted(_parted(search, base, axes, lowest), key=lambda valley: min(valley)[0])
    for valley, looks in zip(valleys, (_LOOKS, _MORE_LOOKS), strict=False):
        if min(valley)[0] - min(lowest)[0] < _SECOND_VALLEY:
            _simplex(search, base, axes, valley, step, looks)


def _parted(
    search: Search, base: Candidate, axes: Sequence[Axis], lowest: Sequence[tuple[float, ...]]
) -> list[list[tuple[float, ...]]]:
    """Part the lowest places, as (score, first, second), where a ridge lies between neighbours."""
    valleys = [[lowest[0]]]
    for one, other in pairwise(lowest):
        middle = [(a + b) / 2 for a, b in zip(one[1:], other[1:], strict=True)]
        apart = abs(one[1] - other[1]) > abs(one[2] - other[2])  # a valley that is cut, not bent
        top = max(one[0], other[0]) + _RIDGE
        if apart and search.score(_candidate(base, axes, middle, None)) > top:
            valleys.append([])
        valleys[-1].append(other)
    return valleys


def _simplex(
    search: Search,
    base: Candidate,
    axes: Sequence[Axis],
    valley: Sequence[tuple[float, ...]],
    step: float,
    looks: int,
) -> None:
    """From a valley's lowest place along it, to its next."""
    best = np.array(min(valley, key=lambda one: one[0])[1:])
    along = [np.array(one[1:]) for one in sorted(valley, key=lambda one: one[0])]
    along = [one for one in along if one[1] != best[1]]
    along.sort(key=lambda one: abs(float(one[1] - best[1])))
    to = along[0] if along else best + np.array([0.0, step if best[1] < 0.5 else -step])
    aside = best + np.array([0.15 * step if best[0] < 0.5 else -0.15 * step, 0.0])
    minimize(
        lambda x: search.score(_candidate(base, axes, x.tolist(), None)),
        best, method="Nelder-Mead", bounds=[(0.0, 1.0)] * 2,
        options={
            "initial_simplex": np.array([best, best + 0.5 * (to - best), aside]),
            "xatol": 2e-3, "fatol": 1e-4, "maxfev": looks,
        },
    )  # fmt: skip


def _candidate(
    base: Candidate, axes: Sequence[Axis], share: Sequence[float], tilt: float | None
) -> Candidate:
    values: dict[str, Any] = {
        axis.name: axis.at(float(s)) for axis, s in zip(axes, share, strict=True)
    }
    if tilt is not None:
        values["tilt_rad"] = tilt
    return replace(base, **values)


def _descend(
    search: Search,
    base: Candidate,
    axes: Sequence[Axis],
    start: Sequence[float],
    tilt: float | None,
    counts: Sequence[int],
    *,
    most: int = 16,
) -> tuple[float, Sequence[float]]:
    """The best near a start, for one tilt or with the tilt among the axes."""
    step = [1.0 / (n - 1) for n in counts]
    if len(axes) == 1:
        low, high = max(0.0, start[0] - step[0]), min(1.0, start[0] + step[0])
        done = minimize_scalar(
            lambda x: search.score(_candidate(base, axes, (float(x),), tilt)),
            bounds=(low, high), method="bounded", options={"xatol": 2e-3, "maxiter": most},
        )  # fmt: skip
        return float(done.fun), (float(done.x),)
    at = np.asarray(start, np.float64)
    corners = [at]
    for k, size in enumerate(step):
        corner = at.copy()
        corner[k] += 0.5 * size if at[k] + 0.5 * size <= 1 else -0.5 * size
        corners.append(corner)
    done = minimize(
        lambda x: search.score(_candidate(base, axes, x.tolist(), tilt)),
        at, method="Nelder-Mead", bounds=[(0.0, 1.0)] * len(axes),
        options={
            "initial_simplex": np.array(corners), "xatol": 2e-3, "fatol": 1e-4,
            "maxfev": 20 + 12 * len(axes),
        },
    )  # fmt: skip
    return float(done.fun), [float(x) for x in done.x]


def _climb_clicks(
    search: Search,
    base: Candidate,
    axes: Sequence[Axis],
    start: Sequence[float],
    tilt: float,
    tilts: Floats,
    counts: Sequence[int],
) -> float:
    """From click to click as long as it gets better, the best distance for each."""
    k = int(np.argmin(np.abs(tilts - tilt)))
    best, share = _descend(search, base, axes, start, float(tilts[k]), counts, most=_QUICK)
    top = k, share
    for way in (-1, 1):
        at, here = k, share
        while 0 <= at + way < tilts.size:
            at += way
            score, there = _descend(search, base, axes, here, float(tilts[at]), counts, most=_QUICK)
            if score >= best:
                break
            best, here, top = score, there, (at, there)
    finer = [4 * (n - 1) + 1 for n in counts]
    return min(best, _descend(search, base, axes, top[1], float(tilts[top[0]]), finer)[0])
