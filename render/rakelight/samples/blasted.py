"""Shot-blasted concrete: the skin is gone, the matrix worn back, and the aggregate stands out.

Stones are broken gravel from sand size to 20 mm: each the least of a few planes, its corners
dulled by the shot, set at its own depth. Between them the matrix is scoured deeper where it was
softer.
"""

import numpy as np
from scipy.ndimage import gaussian_filter

from rakelight.samples.periodic import Array, Sample, field, rise, shape_of

DEPTH_M = 0.009
_PER_M2 = 7000.0
_MATRIX = np.array([0.385, 0.365, 0.330])  # linear Rec.709 reflectance of the scoured matrix
_COLOURS = np.array(
    [
        [0.330, 0.315, 0.290],  # grey
        [0.235, 0.225, 0.212],  # dark grey
        [0.430, 0.375, 0.300],  # buff
        [0.300, 0.225, 0.165],  # brown
        [0.520, 0.500, 0.465],  # quartz
        [0.145, 0.140, 0.136],  # basalt
    ]
)
_OFTEN = np.array([0.33, 0.20, 0.20, 0.10, 0.10, 0.07])


def shot_blasted_concrete(
    seed: int = 31, *, width_m: float = 2.4, height_m: float = 1.8, step_m: float = 0.0015
) -> Sample:
    """Draw one repeat of shot-blasted concrete.

    Parameters
    ----------
    seed : int
        Same seed, same concrete.
    width_m, height_m : float
        Size of the repeat, whole steps. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 9 mm; most of it lies within 4 mm.
    """
    shape = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    # more shot in some passes than in others: bands of the nozzle's width, and soft spots
    scour = field(random, shape, step_m, longest_m=0.5, shortest_m=0.03, fall=1.5)
    pits = field(random, shape, step_m, longest_m=0.03, shortest_m=0.004, fall=1.3)
    sand = field(random, shape, step_m, longest_m=0.006, shortest_m=0.003, fall=0.4)
    flat = field(random, shape, step_m, longest_m=1.2, shortest_m=0.15, fall=2.0)
    surface = 0.0045 + 0.00035 * flat
    heights = surface - 0.0014 - 0.00035 * scour - 0.00030 * pits + 0.00010 * sand
    value = 1 + 0.035 * sand + 0.03 * scour - 0.05 * np.clip(pits, 0, None)
    colour = _MATRIX * value[..., None]
    count = round(_PER_M2 * width_m * height_m)
    # small ones first: the large ones were there before the paste closed round them
    size_m = np.sort(0.0030 * (1 - random.uniform(0, 0.97, count)) ** (-1 / 2.0)).clip(0, 0.0125)
    for number in range(count):
        one = np.random.default_rng([seed, 2, number])
        _stone(one, float(size_m[number]), step_m, surface, heights, colour, sand)
    _blow_holes(np.random.default_rng([seed, 3]), heights, colour, step_m)
    heights = gaussian_filter(heights, 0.0010 / step_m, mode="wrap")  # dulled by the shot
    return Sample(
        heights_m=np.clip(heights, 0.0, DEPTH_M),
        reflectance_rgb=np.clip(colour, 0.02, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _stone(
    random: np.random.Generator,
    radius: float,
    step: float,
    surface: Array,
    heights: Array,
    colour: Array,
    sand: Array,
) -> None:
    """Set one stone of the aggregate, in place."""
    rows, columns = heights.shape
    row, column = int(random.integers(rows)), int(random.integers(columns))
    reach = int(1.4 * radius / step) + 2
    offsets = np.arange(-reach, reach + 1)
    cells = np.ix_((row + offsets) % rows, (column + offsets) % columns)
    x, y = np.meshgrid(offsets * step, offsets * step)
    turn = random.uniform(0, np.pi)
    long = random.uniform(0.75, 1.35)
    a = (x * np.cos(turn) + y * np.sin(turn)) / long
    b = (y * np.cos(turn) - x * np.sin(turn)) * long
    # its outline: a few straight sides
    inside = np.full(x.shape, np.inf)
    first = random.uniform(0, 2 * np.pi)
    sides = int(random.integers(5, 8))
    for k in range(sides):
        angle = first + 2 * np.pi * (k + random.uniform(-0.3, 0.3)) / sides
        off = radius * random.uniform(0.7, 1.0)
        inside = np.minimum(inside, off - a * np.cos(angle) - b * np.sin(angle))
    # its top: a facet or two, rounded off toward the sides
    top = random.normal(-0.00045, 0.00040) + 0.055 * radius
    lean = random.normal(0, 0.10, 2)
    face = top + lean[0] * a + lean[1] * b
    face = np.minimum(face, top + 0.0004 + random.normal(0, 0.22) * a + random.normal(0, 0.22) * b)
    shoulder = min(0.45 * radius, 0.0030)
    face = face - 0.55 * shoulder * (1 - rise(inside, 0.0, shoulder)) ** 1.5
    face = surface[cells] + face + 0.00005 * sand[cells]
    shown = inside > 0
    above = shown & (face > heights[cells])
    heights[cells] = np.where(above, face, heights[cells])
    base = _COLOURS[int(random.choice(len(_COLOURS), p=_OFTEN))] * np.exp(random.normal(0, 0.10))
    # dust of the matrix dulls every stone a little
    base = 0.90 * base + 0.10 * _MATRIX
    paint = base * (1 + 0.05 * sand[cells])[..., None]
    cover = (above * rise(inside, -0.5 * step, 0.5 * step))[..., None]
    colour[cells] += cover * (paint - colour[cells])


def _blow_holes(random: np.random.Generator, heights: Array, colour: Array, step: float) -> None:
    rows, columns = heights.shape
    for _ in range(random.poisson(26 * rows * columns * step * step)):
        radius = min(0.0025 + random.exponential(0.0016), 0.009)
        reach = int(radius / step) + 2
        offsets = np.arange(-reach, reach + 1)
        row, column = int(random.integers(rows)), int(random.integers(columns))
        away = np.hypot(offsets[:, None] * step * random.uniform(0.75, 1.2), offsets * step)
        cells = np.ix_((row + offsets) % rows, (column + offsets) % columns)
        deep = 0.5 * np.sqrt(np.clip(radius**2 - away**2, 0, None))
        heights[cells] -= np.minimum(deep, 0.0030)
        colour[cells] *= (1 - 0.12 * (deep > 0))[..., None]
