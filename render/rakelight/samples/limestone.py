"""Rough-hewn limestone: squared blocks in courses, their faces pitched back with hammer and point.

A block's margin is struck off with the pitching tool, so its face stands forward from a ragged
line along every joint. The face itself is a few broad breaks; on some blocks the point has been
over it and left rows of short furrows. Joints are filled nearly to the margin.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from rakelight.samples.periodic import (
    Array,
    Sample,
    block_mean,
    cells_from,
    curve,
    field,
    one_of,
    rise,
    shape_of,
    window,
    worn,
)

DEPTH_M = 0.056
_FINER = 2
_JOINT_M = 0.015
_MORTAR_M = 0.0120  # of the struck mortar over the backing
_COURSES_M = (0.150, 0.300)
_LOG_LENGTH = (float(np.log(1.1)), float(np.log(2.7)))  # of a block over its rise

# linear Rec.709 reflectances of a cream limestone, and how often each is met
_COLOURS = np.array(
    [
        [0.560, 0.500, 0.400],  # cream
        [0.510, 0.465, 0.385],  # fawn
        [0.600, 0.550, 0.460],  # pale
        [0.470, 0.435, 0.375],  # grey bed
        [0.520, 0.435, 0.315],  # honey
    ]
)
_OFTEN = np.array([0.34, 0.26, 0.16, 0.12, 0.12])
_MORTAR = np.array([0.470, 0.435, 0.365])
_IRON = np.array([0.400, 0.275, 0.150])


class _Fields(NamedTuple):
    """Repeating fields that every block takes its own piece of."""

    broken: Array
    warp: Array
    grain: Array
    stain: Array


def rough_limestone(
    seed: int = 12, *, width_m: float = 3.6, height_m: float = 1.8, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of rough-hewn limestone.

    Parameters
    ----------
    seed : int
        Same seed, same wall.
    width_m, height_m : float
        Size of the repeat, at least 0.9 x 0.15 m, whole steps. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 56 mm from the deepest joint to the limit that no block passes.
    """
    shape_of(width_m, height_m, step_m)
    step = step_m / _FINER
    shape = shape_of(width_m, height_m, step)
    random = np.random.default_rng([seed, 1])
    fields = _Fields(
        broken=field(random, shape, step, longest_m=0.14, shortest_m=0.009, fall=2.0, stretch=1.3),
        warp=field(random, shape, step, longest_m=0.12, shortest_m=0.010, fall=2.0),
        grain=field(random, shape, step, longest_m=0.008, shortest_m=0.002, fall=0.7),
        stain=field(random, shape, step, longest_m=0.5, shortest_m=0.01, fall=1.6),
    )
    sand = fields.grain
    # what no weather rounds: the grain and the shells, added after the wear
    open_grain = 0.00010 * sand - 0.0002 * rise(sand, 1.7, 2.8)
    heights = _MORTAR_M + 0.0011 * fields.warp + 0.0005 * fields.broken
    colour = _MORTAR * (1 + 0.11 * sand + 0.05 * fields.stain)[..., None]
    blocks = _blocks(np.random.default_rng([seed, 2]), width_m, height_m)
    for number, block in enumerate(blocks):
        _lay(np.random.default_rng([seed, 3, number]), block, step, fields, heights, colour)
    whole = worn(block_mean(heights, _FINER), step_m) + block_mean(open_grain, _FINER)
    return Sample(
        heights_m=np.clip(whole, 0.0, DEPTH_M)[::-1],
        reflectance_rgb=block_mean(np.clip(colour, 0.02, 0.85), _FINER)[::-1],
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _blocks(
    random: np.random.Generator, width_m: float, height_m: float
) -> list[tuple[float, float, float, float]]:
    """Left, foot, length and rise of each block, joints included; uneven courses. [m]"""
    count = max(1, round(height_m / 0.215))
    share = np.exp(random.uniform(np.log(_COURSES_M[0]), np.log(_COURSES_M[1]), count))
    levels = np.concatenate([[0.0], np.cumsum(share)]) * height_m / share.sum()
    blocks = []
    ends: list[float] = []
    for foot, top in pairwise(levels):
        tall = float(top - foot)
        best: tuple[float, list[float]] = (-1.0, [])
        for _ in range(40):
            wanted = max(2, round(width_m / (random.uniform(1.5, 2.1) * tall)))
            lengths = np.exp(random.uniform(*_LOG_LENGTH, wanted))
            at = random.uniform(0, width_m) + np.cumsum(lengths) * width_m / lengths.sum()
            # upright joints clear of those below
            apart = min(
                (min((a - e) % width_m, (e - a) % width_m) for a in at.tolist() for e in ends),
                default=1.0,
            )
            if apart > best[0]:
                best = (apart, at.tolist())
        ends = best[1]
        for left, right in zip(ends, [*ends[1:], ends[0] + width_m], strict=True):
            # here and there two low blocks take a tall one's place
            if tall > 0.24 and right - left < 0.40 and random.random() < 0.55:
                low = tall * random.uniform(0.42, 0.58)
                blocks.append((left, float(foot), right - left, low))
                blocks.append((left, float(foot) + low, right - left, tall - low))
            else:
                blocks.append((left, float(foot), right - left, tall))
    return blocks


def _lay(
    random: np.random.Generator,
    block: tuple[float, float, float, float],
    step: float,
    fields: _Fields,
    heights: Array,
    colour: Array,
) -> None:
    """Lay one block into `heights` and `colour`, in place."""
    left, foot = round(block[0] / step), round(block[1] / step)
    columns = round((block[0] + block[2]) / step) - left
    rows = round((block[1] + block[3]) / step) - foot
    length, tall = columns * step, rows * step
    x = np.asarray((np.arange(columns) + 0.5) * step, dtype=np.float64)[None, :]
    y = np.asarray((np.arange(rows) + 0.5) * step, dtype=np.float64)[:, None]
    start = int(random.integers(heights.shape[0])), int(random.integers(heights.shape[1]))
    broken, warp, grain, stain = (window(f, *start, rows, columns) for f in fields)

    def side(count: int) -> Array:
        long = curve(random, 2 * count + 64, step, longest_m=0.4, shortest_m=0.02)[:count]
        fine = curve(random, 2 * count + 64, step, longest_m=0.11, shortest_m=0.016)[:count]
        nibble = np.clip(0.7 * long + 0.5 * fine - 1.1, 0, None)
        return _JOINT_M / 2 + 0.0016 * long + 0.0006 * fine + 0.004 * nibble

    lean = random.normal(0, 0.006, 4)
    sides = [
        y - (side(columns) + lean[0] * (x[0] - length / 2))[None, :],
        tall - y - (side(columns) + lean[1] * (x[0] - length / 2))[None, :],
        x - (side(rows) + lean[2] * (y[:, 0] - tall / 2))[:, None],
        length - x - (side(rows) + lean[3] * (y[:, 0] - tall / 2))[:, None],
    ]
    edge = np.minimum(np.minimum(sides[0], sides[1]), np.minimum(sides[2], sides[3]))

    proud = float(np.clip(random.normal(0.036, 0.0035), 0.028, 0.044))
    face = proud + _breaks(random, x + 0.006 * warp, y + 0.006 * warp[::-1], length, tall)
    rough = random.uniform(0.0004, 0.0011)
    face = face + rough * broken
    if random.random() < 0.45:
        face = face - _furrows(random, x, y, warp)
    # the pitched margin: struck off at its own angle along each side, in scallops
    margin = _MORTAR_M + 0.003
    for number, inside in enumerate(sides):
        along = x[0] if number < 2 else y[:, 0]
        steep = random.uniform(0.5, 1.0)
        struck = _struck(random, along)
        reach = inside - (struck[None, :] if number < 2 else struck[:, None])
        face = np.minimum(face, margin + steep * np.maximum(reach, 0) + 0.0006 * broken)
    face = np.maximum(face, _MORTAR_M + 0.0008)
    inside = rise(edge, -0.5 * step, 0.5 * step)
    cells = cells_from(heights.shape, foot, left, rows, columns)
    heights[cells] += inside * (face - heights[cells])
    base = one_of(random, _COLOURS, _OFTEN) * np.exp(random.normal(0, 0.11))
    value = 1 + 0.075 * grain + 0.080 * stain + 0.03 * broken
    value = value - 0.30 * rise(grain, 1.8, 2.7) + 0.16 * rise(-grain, 1.9, 2.8)  # pits, shells
    # rain and dust have left the margins darker
    value = value * (1 - 0.16 * rise(stain, -1.2, 1.2) * (1 - rise(edge, 0.0, 0.03)))
    paint = base * value[..., None]
    iron = (0.45 * float(random.beta(0.8, 3.5)) * rise(stain + 0.3 * warp, 0.4, 1.8))[..., None]
    paint = paint + iron * (_IRON * value[..., None] - paint)
    colour[cells] += inside[..., None] * (paint - colour[cells])


def _struck(random: np.random.Generator, along: Array) -> Array:
    """How far each blow of the pitching tool went in, along one side. [m]

    Every blow takes off a flake as wide as the tool, 40 to 110 mm, deepest at its middle; two
    flakes meet in a blunt ridge. A sum of waves instead leaves teeth as even as a saw's.
    """
    depth = np.full(along.size, -0.001)
    at = -random.uniform(0.0, 0.08)
    while at < along[-1] + 0.08:
        wide = random.uniform(0.035, 0.11)
        deep, lean = random.gamma(2.0, 0.0024), random.uniform(-0.35, 0.35)
        t = (along - at - wide / 2) / (0.62 * wide)
        flake = np.clip(1 - np.abs(t) ** 2.4, 0, None) * (1 + lean * t)
        depth = np.maximum(depth, deep * flake - 0.001)
        at += wide
    return depth


def _breaks(random: np.random.Generator, x: Array, y: Array, length: float, tall: float) -> Array:
    """Broad breaks of the face: the least of tilted, gently hollow planes, highest 0. [m]"""
    face = np.full(np.broadcast(x, y).shape, np.inf)
    for _ in range(3 + random.poisson(length * tall / 0.0065)):
        at_x, at_y = random.uniform(0, length), random.uniform(0, tall)
        dx, dy = x - at_x, y - at_y
        lean_x, lean_y = random.normal(0, 0.15, 2)
        bowl = random.uniform(0.35, 2.0)
        plane = -random.gamma(1.6, 0.0022) + lean_x * dx + lean_y * dy
        face = np.minimum(face, plane + (dx * dx + dy * dy) / (2 * bowl))
    return np.asarray(np.maximum(face - np.quantile(face, 0.97), -0.014))


def _furrows(random: np.random.Generator, x: Array, y: Array, warp: Array) -> Array:
    """Rows of short furrows that the point leaves, all one way on one block. [m]"""
    angle = random.uniform(0.6, 1.1) * random.choice([-1.0, 1.0])
    pitch = random.uniform(0.024, 0.034)
    across = (x * np.sin(angle) + y * np.cos(angle) + 0.004 * warp) / pitch
    along = (x * np.cos(angle) - y * np.sin(angle)) / random.uniform(0.05, 0.09)
    row = np.floor(across)
    # each row's strokes begin where they like
    offsets = random.uniform(0, 1, 4096)[row.astype(int) % 4096]
    stroke = (along + offsets) % 1.0
    cut = np.clip(1 - ((across - row - 0.5) / 0.42) ** 2, 0, None)
    return np.asarray(
        random.uniform(0.0008, 0.0019) * cut * rise(stroke, 0.02, 0.3) * (1 - rise(stroke, 0.7, 1))
    )
