"""Board-marked concrete: the print of upright sawn boards, with fins where the paste ran between.

Each board prints its own level, a slight cup, its growth rings with a knot here and there,
and the end where the next board met it.
"""

import numpy as np

from rakelight.samples.periodic import (
    Array,
    Sample,
    cells_around,
    curve,
    field,
    rise,
    shape_of,
    worn,
)

DEPTH_M = 0.010
_COLOUR = np.array([0.345, 0.335, 0.315])  # linear Rec.709 reflectance of grey concrete


def board_concrete(
    seed: int = 3, *, width_m: float = 2.7, height_m: float = 2.4, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of board-marked concrete.

    Parameters
    ----------
    seed : int
        Same seed, same concrete.
    width_m, height_m : float
        Size of the repeat, at least 0.4 m wide, whole steps. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Boards 100 to 150 mm wide, steps of 1 to 4 mm between them, fins on top; depth 10 mm.
    """
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    wander = field(random, shape, step_m, longest_m=0.5, shortest_m=0.03, fall=2.0)
    grain = field(random, shape, step_m, longest_m=0.02, shortest_m=0.005, fall=1.2)
    blotch = field(random, shape, step_m, longest_m=0.6, shortest_m=0.01, fall=1.5, stretch=0.6)
    heights = np.zeros(shape)
    tone = np.zeros(shape)
    widths = _board_widths(random, columns, step_m)
    level = 0.0
    left = int(random.integers(columns))
    for number, count in enumerate(widths):
        board = np.random.default_rng([seed, 2, number])
        last = level
        while not 0.0009 <= abs(level - last) <= 0.004:
            level = float(board.uniform(-0.0019, 0.0019))
        print_m, shade = _board(board, rows, count, step_m)
        cells = np.ix_(np.arange(rows), (left + np.arange(count)) % columns)
        heights[cells] = level + print_m
        tone[cells] = shade
        left += count
    at = left - sum(widths)
    for number, count in enumerate(widths):
        _fin(np.random.default_rng([seed, 3, number]), heights, at % columns, step_m)
        at += count
    heights += 0.0045 + 0.00025 * wander + 0.00003 * grain
    _air_holes(np.random.default_rng([seed, 4]), heights, step_m)
    value = 1 + 0.055 * blotch + 0.025 * grain + tone
    return Sample(
        # paste rounds what it prints; finer than this would beat against a wall's mesh
        heights_m=worn(np.clip(heights, 0.0, DEPTH_M), step_m, 0.0018),
        reflectance_rgb=np.clip(_COLOUR * value[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _board_widths(random: np.random.Generator, columns: int, step_m: float) -> list[int]:
    """Widths in samples, 100 to 150 mm, that fill the repeat."""
    count = max(3, round(columns * step_m / 0.125))
    share = random.uniform(0.88, 1.12, count)
    ends = np.rint(np.cumsum(share) / share.sum() * columns).astype(int)
    return [int(width) for width in np.diff(ends, prepend=0)]


def _board(
    random: np.random.Generator, rows: int, columns: int, step: float
) -> tuple[Array, Array]:
    """Print of one board about 0 [m], and its tone; both close on themselves upward."""
    u = (np.arange(columns) + 0.5) * step
    v = (np.arange(rows) + 0.5) * step
    width, tall = columns * step, rows * step
    drift = 0.006 * curve(random, rows, step, longest_m=1.5, shortest_m=0.2, fall=2.0)
    # distance from the heart of the tree; rings are crossed where the board cuts them
    ring = (u - random.uniform(-0.3, 1.3) * width)[None, :] + drift[:, None]
    for _ in range(random.poisson(1.6)):
        knot_u, knot_v = random.uniform(0.15, 0.85) * width, random.uniform(0, tall)
        size = random.uniform(0.007, 0.016)
        away = np.abs(v - knot_v)
        away = np.minimum(away, tall - away)[:, None]
        across = (u - knot_u)[None, :]
        push = np.exp(-((across / (2.2 * size)) ** 2) - (away / (4.5 * size)) ** 2)
        ring = ring + np.sign(across) * 1.3 * size * push * np.tanh(np.abs(across) / (0.4 * size))
    spacing = random.uniform(0.009, 0.019)
    phase = ring / spacing + 0.35 * np.sin(ring / (2.7 * spacing) + random.uniform(0, 6))
    saw = phase - np.floor(phase)
    late = rise(saw, 0.35, 0.8) * (1 - rise(saw, 0.8, 1.0))  # hard late wood prints a groove
    fibre = field(
        random, (rows, columns), step, longest_m=0.4, shortest_m=0.09, fall=0.9, stretch=1 / 20
    )
    strength = random.uniform(0.00025, 0.00065)
    cup = random.normal(0, 0.0005) * ((2 * u / width - 1) ** 2 - 1 / 3)
    print_m = cup[None, :] - strength * late + 0.00012 * fibre
    # where two boards met end to end
    end = random.uniform(0, tall)
    past = (v - end) % tall
    seam = np.minimum(past, tall - past)
    print_m = print_m + (random.normal(0, 0.0004) * (past / tall - 0.5))[:, None]
    print_m = print_m + (0.0007 * np.exp(-((seam / 0.0025) ** 2)))[:, None]
    shade = random.normal(0, 0.055) - 0.025 * late + 0.015 * fibre
    return np.asarray(print_m), np.asarray(shade)


def _fin(random: np.random.Generator, heights: Array, column: int, step: float) -> None:
    """Paste that ran between two boards: a thin crest, knocked off here and there."""
    rows, columns = heights.shape
    where = curve(random, rows, step, longest_m=0.8, shortest_m=0.01, fall=1.2)
    ragged = curve(random, rows, step, longest_m=0.05, shortest_m=0.004, fall=0.8)
    tall = rise(where, -0.4, 0.5) * (0.0016 + 0.0006 * ragged + 0.0005 * where)
    for offset, share in ((-2, 0.06), (-1, 0.55), (0, 1.0), (1, 0.25)):
        heights[:, (column + offset) % columns] += share * np.clip(tall, 0, 0.0036)


def _air_holes(random: np.random.Generator, heights: Array, step: float) -> None:
    for _ in range(random.poisson(38 * heights.size * step * step)):
        radius = min(0.0016 + random.exponential(0.0011), 0.007)
        offsets, cells = cells_around(random, heights.shape, radius, step)
        away = np.hypot(offsets[:, None] * step * random.uniform(0.7, 1.0), offsets * step)
        heights[cells] -= 0.55 * np.sqrt(np.clip(radius**2 - away**2, 0, None))
