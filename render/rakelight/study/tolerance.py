"""How far a run or its wall can be off on site before the outcome leaves a stated band."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.study.outcomes import Outcome, outcome
from rakelight.study.search import Found
from rakelight.study.trials import Bench, Trial, bench
from rakelight.study.wishes import Wish

Floats = NDArray[np.float64]
Progress = Callable[[str], None]
Ends = Literal["leaves", "touches", "holds"]

WALLS = ("main", "opposite", "left", "right")


@dataclass(frozen=True, slots=True)
class Band:
    """What an outcome may become before it counts as spoiled.

    Parameters
    ----------
    key : str
        Number of the outcome that it is about.
    amount : float
        How far it may be off: in its own unit, or as a share.
    by_share : bool
        Whether `amount` is a share of the value.
    keeps : str
        A second number that must keep `least_share` of what the setting gives; empty: none.
    least_share : float
        See `keeps`.
    one_sided : bool
        Whether only more is worse, as for max:min.
    """

    key: str
    amount: float
    by_share: bool
    keeps: str = ""
    least_share: float = 0.8
    one_sided: bool = False


#: Bands where none is stated; ours. Lengths in metres.
BANDS: dict[str, Band] = {
    "drama_at": Band("drama_centre_m", 0.10, False, keeps="texture_over_mean"),
    "drama_band": Band("band_share", 0.10, True, keeps="band_level"),
    "even": Band("max_to_min", 0.20, True, keeps="average_lx", one_sided=True),
    "glow": Band("bright_band_at_m", 0.15, False, keeps="average_lx"),
    "throw": Band("throw_m", 0.10, True, keeps="average_lx"),
    "average": Band("average_lx", 0.10, True),
    "cutoff": Band("corner_miss_m", 0.02, False),
}


def band_for(wish: Wish, amount: float | None = None, *, by_share: bool = False) -> Band:
    """Return the band of a wish, with a stated amount in place of the usual one.

    Raises
    ------
    InputError
        If the amount is a length where a share is meant, or the other way round.
    """
    usual = BANDS[wish.kind]
    if amount is None:
        return usual
    if by_share != usual.by_share:
        right = 'a share such as "10%"' if usual.by_share else 'a length such as "100 mm"'
        raise InputError(f'--band: for "{wish.text}", right is {right}.')
    if not amount > 0:
        raise InputError("--band: must be above 0.")
    return Band(usual.key, amount, by_share, usual.keeps, usual.least_share, usual.one_sided)


def leeway(band: Band, best: Outcome, now: Outcome, middle: float | None = None) -> float:
    """Share of the band that is left: 1 where nothing changed, 0 at its border, then negative.

    Parameters
    ----------
    band : Band
        The band.
    best, now : Outcome
        At the setting, and with it off.
    middle : float, optional
        Middle of the band; not given: what the setting gives.
    """
    kept = now.value(band.keeps) if band.keeps else math.nan
    left = leeway_of(band, best, np.array(now.value(band.key)), np.array(kept), middle)
    return float(left)


def leeway_of(
    band: Band, best: Outcome, value: Floats, kept: Floats, middle: float | None = None
) -> Floats:
    """`leeway` of arrays of the band's two numbers; -1 where one is not a number."""
    at = best.value(band.key) if middle is None else middle
    off = value - at if band.one_sided else np.abs(value - at)
    width = band.amount * (abs(at) if band.by_share else 1.0)
    left = 1 - np.maximum(0.0, off) / width
    was = best.value(band.keeps) if band.keeps else 0.0
    if was > 0:
        left = np.minimum(left, (kept / was - band.least_share) / (1 - band.least_share))
    out: Floats = np.where(np.isfinite(left), left, -1.0)
    return out


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far one thing can be off.

    Parameters
    ----------
    what : {"setback", "tilt", "lean", "bow"}
        The thing.
    unit : {"m", "rad"}
        Of the two limits.
    minus, plus : float
        Largest error to either side that stays in the band, both 0 or more. [m] or [rad]
    minus_ends, plus_ends : {"leaves", "touches", "holds"}
        What ends it: the outcome leaves the band, the luminaire would touch the relief, or it
        holds as far as was looked.
    """

    what: Literal["setback", "tilt", "lean", "bow"]
    unit: Literal["m", "rad"]
    minus: float
    plus: float
    minus_ends: Ends
    plus_ends: Ends


@dataclass(frozen=True, slots=True, eq=False)
class Tolerances:
    """All tolerances of one setting, and the map of the first two.

    Parameters
    ----------
    band : Band
        Within what.
    items : tuple of Tolerance
        Setback, tilt, and for a wall lean and bow.
    half_click_rad : float
        Half a click of the hardware, which it can always be off by; 0 without clicks. [rad]
    half_click_left : float
        Least share of the band left when it is off by that, to either side.
    setback_off_m : ndarray of float64, shape (n,)
        Of the map; empty where none was asked for. [m]
    tilt_off_rad : ndarray of float64, shape (k,)
        Of the map. [rad]
    value, kept : ndarray of float64, shape (k, n)
        The band's number there, and the one that must keep its share; nan where the luminaire
        would touch the relief, or where the band has no second number.
    best : Outcome
        At the setting itself.
    middle : float or None
        Middle of the band; None: what the setting gives.
    """

    band: Band
    items: tuple[Tolerance, ...]
    half_click_rad: float
    half_click_left: float
    setback_off_m: Floats
    tilt_off_rad: Floats
    value: Floats
    kept: Floats
    best: Outcome
    middle: float | None

    @property
    def left(self) -> Floats:
        """Share of the band left at the map's points, shape (k, n)."""
        return leeway_of(self.band, self.best, self.value, self.kept, self.middle)


def tolerances(
    on: Bench,
    wish: Wish,
    found: Found,
    band: Band,
    *,
    with_wall: bool = True,
    with_map: bool = True,
    progress: Progress = lambda step: None,
) -> Tolerances:
    """Look how far setback, tilt, and the wall's lean and bow can be off, one at a time.

    Parameters
    ----------
    on : Bench
        The bench that found the setting.
    wish : Wish
        What was wished.
    found : Found
        The setting.
    band : Band
        What the outcome may become.
    with_wall, with_map : bool
        Whether to look at a wall out of true, and to fill the map.
    progress : callable
        Told what is done next.

    Notes
    -----
    The luminaire is moved or turned as it stands, without being aimed again; its housing's own
    shadow moves with it. Between trials the border is found on a straight line.
    """
    trial = on.try_one(found.candidate)
    if trial is None:
        raise ValueError("the setting cannot be lit")
    best = outcome(wish, trial)
    middle = _middle(wish, band, best)

    def left_of(changed: Trial | None) -> float | None:
        return None if changed is None else leeway(band, best, outcome(wish, changed), middle)

    def off(away_m: float, turn_rad: float) -> float | None:
        return left_of(on.off(trial, away_m, turn_rad))

    start = leeway(band, best, best, middle)
    progress("tolerance of the setback")
    far = min(0.15, 0.6 * found.plan.setback_m)
    items = [_tolerance("setback", "m", lambda d: off(d, 0.0), start, 0.006, far)]
    progress("tolerance of the tilt")
    items.append(
        _tolerance("tilt", "rad", lambda t: off(0.0, t), start, math.radians(1.0), math.radians(16))
    )
    wall = found.plan.lights
    if with_wall and wall in WALLS and wish.kind != "cutoff":
        crooked: tuple[Literal["lean", "bow"], ...] = ("lean", "bow")
        for what in crooked:
            progress(f"tolerance of the wall's {what}")

            def out_of_true(by_m: float, what: str = what) -> float | None:
                return left_of(_out_of_true(on, found, wall, what, by_m))

            items.append(_tolerance(what, "m", out_of_true, start, 0.012, 0.075, grow=2.5))
    half = found.plan.click_rad / 2
    kept = 1.0
    if half > 0:
        sides = [off(0.0, way * half) for way in (-1.0, 1.0)]
        kept = min(-1.0 if side is None else side for side in sides)
    away: Floats = np.zeros(0)
    turn: Floats = np.zeros(0)
    if with_map:
        progress("map of setback and tilt")
        away, turn = _map_axis(items[0], 0.01), _map_axis(items[1], max(math.radians(1.0), half))
    value = np.full((turn.size, away.size), np.nan)
    kept_value = np.full_like(value, np.nan)
    for i, t in enumerate(turn.tolist()):
        for k, a in enumerate(away.tolist()):
            changed = on.off(trial, a, t)
            if changed is not None:
                now = outcome(wish, changed)
                value[i, k] = now.value(band.key)
                kept_value[i, k] = now.value(band.keeps) if band.keeps else math.nan
    return Tolerances(band, tuple(items), half, kept, away, turn, value, kept_value, best, middle)


def _middle(wish: Wish, band: Band, best: Outcome) -> float | None:
    """Middle of the band: the wished value where the setting meets the wish."""
    if not best.met:
        return None
    wished = {
        "drama_centre_m": wish.at_m, "bright_band_at_m": wish.at_m, "throw_m": wish.at_m,
        "average_lx": wish.lx, "corner_miss_m": 0.0,
    }.get(band.key)  # fmt: skip
    if wished is None:
        return None
    width = band.amount * (abs(wished) if band.by_share else 1.0)
    # a band narrower than what counts as met would be left from the start
    return wished if abs(best.value(band.key) - wished) < 0.5 * width else None


def _tolerance(
    what: Literal["setback", "tilt", "lean", "bow"],
    unit: Literal["m", "rad"],
    left_at: Callable[[float], float | None],
    start: float,
    step: float,
    far: float,
    grow: float = 2.0,
) -> Tolerance:
    minus, minus_ends = _one_side(lambda x: left_at(-x), start, step, far, grow)
    plus, plus_ends = _one_side(left_at, start, step, far, grow)
    return Tolerance(what, unit, minus, plus, minus_ends, plus_ends)


def _one_side(
    left_at: Callable[[float], float | None], start: float, step: float, far: float, grow: float
) -> tuple[float, Ends]:
    """Walk outward in growing steps; then close in on the border of the band."""
    inner, inner_left, at = 0.0, start, min(step, far)
    touched: float | None = None
    while True:
        left = left_at(at)
        if left is None:
            touched = at
        elif left <= 0:
            break
        else:
            inner, inner_left = at, left
            if at >= far * (1 - 1e-9):
                return at, "holds"
            if touched is None:
                at = min(at * grow, far)
                continue
        assert touched is not None
        if touched - inner <= 0.25 * step:
            return inner, "touches"
        at = 0.5 * (inner + touched)
    outer, outer_left = at, float(left)
    for _ in range(3):  # regula falsi; halved where it would creep
        if outer - inner <= 0.1 * step:
            break
        share = inner_left / (inner_left - outer_left)
        at = inner + min(max(share, 0.1), 0.9) * (outer - inner)
        left = left_at(at)
        if left is None or left <= 0:
            outer, outer_left = at, -1.0 if left is None else left
        else:
            inner, inner_left = at, left
    share = inner_left / (inner_left - outer_left) if inner_left > outer_left else 0.0
    return inner + share * (outer - inner), "leaves"


def _out_of_true(on: Bench, found: Found, wall: str, what: str, by_m: float) -> Trial | None:
    stated = getattr(getattr(on.scene_file.tables.surface, wall), f"{what}_m")
    crooked = bench(
        on.scene_file,
        on.run,
        on.surface,
        step_m=on.quality.mesh_step_m,
        walls={**on.walls, f"surface.{wall}.{what}": stated + by_m},
    )
    return crooked.try_one(found.candidate)


def _map_axis(item: Tolerance, least: float) -> Floats:
    """Five errors from a little beyond the one limit to a little beyond the other."""
    low = max(1.4 * item.minus, least)
    high = max(1.4 * item.plus, least)
    if item.minus_ends == "touches":
        low = max(item.minus, 1e-6)
    out: Floats = np.array([-low, -low / 2, 0.0, high / 2, high])
    return out


def in_order(items: Sequence[Tolerance]) -> tuple[Tolerance, ...]:
    """The tightest first, by the smaller of its two sides; lengths before angles."""
    return tuple(sorted(items, key=lambda t: (t.unit, min(t.minus, t.plus))))
