"""How split stones share a wall: irregular courses, broken joints, no seam.

The wall is cut into bands by stepped bed joints, each band into blocks, each block into
layers. Layers that go on unchanged through several blocks become long strips, which are cut
into stones with their ends clear of the ends above and below.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

SHORTEST_MM, LONGEST_MM = 120, 600
SLIMMEST_MM, TALLEST_MM = 25, 110
_BAND_MM = 120
_LEAST_WIDTH_MM = 1800
_LONGEST_BED_MM = 1300
_NEAR_MISS_MM = 14  # bed joints that nearly meet look like a mistake


class Stone(NamedTuple):
    """A stone's place in the wall, joints included. [mm]

    Parameters
    ----------
    left, foot : int
        Lower left corner; may lie beyond the repeat and then wraps.
    length, rise : int
        Size along the course and up the wall.
    """

    left: int
    foot: int
    length: int
    rise: int


class _Steps(NamedTuple):
    """A stepped bed joint: from `at[i]` on its height is `level[i]`, around the repeat. [mm]"""

    at: list[int]
    level: list[int]

    def height(self, x: int) -> int:
        """Height just right of `x`, which lies in one repeat from `at[0]` on."""
        return self.level[int(np.searchsorted(self.at, x, side="right")) - 1]


def lay_courses(seed: int, width_mm: int, height_mm: int) -> list[Stone]:
    """Fill a repeat of `width_mm` x `height_mm` with stones.

    Parameters
    ----------
    seed : int
        Same seed, same wall.
    width_mm, height_mm : int
        Size of the repeat, at least 1800 x 120. [mm]

    Returns
    -------
    list of Stone
        25 to 110 mm tall and 120 to 600 mm long; together they cover the repeat once.

    Raises
    ------
    ValueError
        If the repeat is too small to be laid.
    """
    if width_mm < _LEAST_WIDTH_MM or height_mm < _BAND_MM:
        raise ValueError(
            f"{width_mm} x {height_mm} mm is too small; at least {_LEAST_WIDTH_MM} x {_BAND_MM} mm"
        )
    random = np.random.default_rng([seed, 1])
    beds = _stepped_beds(random, width_mm, height_mm)
    stones: list[Stone] = []
    ends: list[int] = []  # upright joints of the band below
    for number, lower in enumerate(beds):
        upper = beds[(number + 1) % len(beds)]
        lift = height_mm if number + 1 == len(beds) else 0
        strips = _strips(random, lower, upper, lift, width_mm, ends)
        ends = [x for strip in strips for x in strip[:2]]
        stones += _cut(random, strips, width_mm)
    return stones


def _clear(x: int, others: list[int], width_mm: int, least_mm: int) -> bool:
    return all(min((x - o) % width_mm, (o - x) % width_mm) >= least_mm for o in others)


def _stepped_beds(random: np.random.Generator, width_mm: int, height_mm: int) -> list[_Steps]:
    """Beds between the bands: no straight joint crosses the wall, no sliver between two steps."""
    count = max(1, round(height_mm / _BAND_MM))
    places: list[list[int]] = []
    for number in range(count):
        near = places[-1] if places else []
        near = near + (places[0] if number == count - 1 and places else [])
        mine: list[int] = []
        for x in random.permutation(width_mm).tolist():
            wanted = max(2, width_mm // 720)
            if len(mine) < wanted and _clear(x, near, width_mm, 150):
                if _clear(x, mine, width_mm, 360):
                    mine.append(int(x))
        places.append(sorted(mine))
    beds = []
    for number, at in enumerate(places):
        middle = round(number * height_mm / count)
        levels: list[int] = []
        for i in range(len(at)):
            last = levels[-1] if levels else 0
            first = levels[0] if i == len(at) - 1 and levels else 999
            choices = [
                level for level in range(-32, 33) if abs(level - last) >= 26 <= abs(level - first)
            ]
            levels.append(int(random.choice(choices or [34])))
        beds.append(_Steps(at, [middle + level for level in levels]))
    return beds


def _strips(
    random: np.random.Generator,
    lower: _Steps,
    upper: _Steps,
    lift: int,
    width_mm: int,
    below: list[int],
) -> list[tuple[int, int, int, int]]:
    """Left, right, foot and top of each layer of a band. [mm]"""
    origin = lower.at[0]
    low = _Steps([(x - origin) % width_mm for x in lower.at], lower.level)
    turn = int(np.argmin([(x - origin) % width_mm for x in upper.at]))
    # the upper bed as seen from `origin`: its last step reaches round to the first
    high_at = [(x - origin) % width_mm for x in upper.at[turn:] + upper.at[:turn]]
    high_level = upper.level[turn:] + upper.level[:turn]
    high = _Steps([0, *high_at], [high_level[-1] + lift, *(v + lift for v in high_level)])
    must = [*sorted({*low.at, *high_at, 0}), width_mm]
    borders = [0]
    for end in must[1:]:
        while end - borders[-1] > 620:
            most = min(560, end - borders[-1] - 170)
            tries = borders[-1] + random.integers(170, most, 8)
            # an upright joint that runs on through two bands would split the wall
            clear = [min((abs(x + origin - b) % width_mm for b in below), default=0) for x in tries]
            borders.append(int(tries[int(np.argmax(np.minimum(clear, 70)))]))
        borders.append(end)
    open_: dict[tuple[int, int], int] = {}
    strips = []
    levels: list[int] = []
    since: dict[int, int] = {}  # where each bed began
    for left, right in pairwise(borders):
        ending = {bed for bed, start in since.items() if right - start > _LONGEST_BED_MM}
        levels = _layers(random, low.height(left), high.height(left), levels, ending)
        since = {bed: since.get(bed, left) for bed in levels}
        layers = set(pairwise(levels))
        for layer in sorted(set(open_) - layers):
            strips.append((open_.pop(layer) + origin, left + origin, *layer))
        for layer in layers:
            open_.setdefault(layer, left)
        if right == width_mm:
            strips += [(start + origin, right + origin, *layer) for layer, start in open_.items()]
    return sorted(strips)


def _layers(
    random: np.random.Generator, foot: int, top: int, before: list[int], ending: set[int]
) -> list[int]:
    """Heights of a block's beds, foot and top included; some go on from the block before."""
    best: tuple[float, list[int]] = (np.inf, [])
    for _ in range(60):
        kept = [b for b in before if foot < b < top and b not in ending and random.random() < 0.75]
        levels = [foot]
        for stop in [*kept, top]:
            while stop - levels[-1] > SLIMMEST_MM * 2:
                thick = int(np.exp(random.normal(np.log(42), 0.42)))
                if not SLIMMEST_MM <= thick <= min(TALLEST_MM, stop - levels[-1] - SLIMMEST_MM):
                    break
                levels.append(levels[-1] + thick)
            levels.append(stop)
        thickness = np.diff(levels)
        cost = float(random.uniform(0, 1))
        cost += 100.0 * int(((thickness < SLIMMEST_MM) | (thickness > TALLEST_MM)).sum())
        cost += 0.5 * int((thickness > 80).sum())
        cost += 3.0 * len(ending & set(levels[1:-1]))
        # a course that goes on across the border breaks the upright joint
        cost += 0.8 * (not set(levels[1:-1]) & set(before))
        for level in levels:
            cost += sum(1.5 for b in before if 0 < abs(b - level) < _NEAR_MISS_MM)
        if cost < best[0]:
            best = (cost, levels)
    return best[1]


def _cut(
    random: np.random.Generator, strips: list[tuple[int, int, int, int]], width_mm: int
) -> list[Stone]:
    ends: dict[int, list[int]] = {}  # places of joints between ends, by the bed they touch
    for left, right, foot, top in strips:
        for bed in (foot, top):
            ends.setdefault(bed, []).extend((left % width_mm, right % width_mm))
    stones = []
    for left, right, foot, top in strips:
        at = left
        while right - at > SHORTEST_MM * 2:
            if right - at <= LONGEST_MM and random.random() < 0.15 + 0.6 * (right - at < 360):
                break
            typical = 260 + 2 * (top - foot)
            tries = np.exp(random.normal(np.log(typical), 0.4, 16)).astype(int)
            fit = [
                int(t)
                for t in tries
                if SHORTEST_MM <= t <= min(LONGEST_MM, right - at - SHORTEST_MM)
            ] or [min(LONGEST_MM, right - at) // 2]
            near = [*ends[foot], *ends[top]]
            clear = [
                min(min((at + t - e) % width_mm, (e - at - t) % width_mm) for e in near)
                for t in fit
            ]
            length = fit[int(np.argmax(np.minimum(clear, 60)))]
            stones.append(Stone(at, foot, length, top - foot))
            at += length
            for bed in (foot, top):
                ends[bed].append(at % width_mm)
        stones.append(Stone(at, foot, right - at, top - foot))
    return stones
