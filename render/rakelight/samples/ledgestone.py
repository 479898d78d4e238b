"""Split ledgestone: long thin stones, dry-stacked, their faces broken off with a hammer.

A face is a tilted plane out of which bites are taken: shallow bowls, longer along the bed than
across it, as a conchoidal break leaves them; where two bowls meet there is an arris. Bedding
shows as laminae, each broken off at its own depth along its own ragged line. Stones lie on each
other, so a joint is a crack a few millimetres deep; only here and there does a gap open behind.
Everything is drawn on a grid twice as fine and averaged down, so that no edge is a staircase.
"""

import numpy as np
from scipy.ndimage import gaussian_filter, minimum_filter

from rakelight.samples.coursing import Stone, lay_courses
from rakelight.samples.periodic import (
    Array,
    Sample,
    block_mean,
    cells_from,
    curve,
    field,
    rise,
    shape_of,
    window,
    worn,
)

DEPTH_M = 0.044
_FINER = 2
_CRISP_M = 0.0019
_CRACK_M = 0.0032  # how far a joint lies behind the lower of its stones

# linear Rec.709 reflectances of a warm grey and buff sandstone, and how often each is met
_COLOURS = np.array(
    [
        [0.430, 0.370, 0.285],  # buff
        [0.365, 0.335, 0.290],  # warm grey
        [0.270, 0.268, 0.258],  # grey
        [0.410, 0.315, 0.205],  # honey
        [0.500, 0.455, 0.385],  # pale
        [0.205, 0.185, 0.162],  # umber
        [0.330, 0.235, 0.165],  # rust
    ]
)
_OFTEN = np.array([0.23, 0.24, 0.18, 0.11, 0.10, 0.08, 0.06])
_RUST = np.array([0.330, 0.205, 0.120])
_JOINT = np.array([0.125, 0.110, 0.092])


def split_ledgestone(
    seed: int = 16, *, width_m: float = 3.6, height_m: float = 1.8, step_m: float = 0.0015
) -> Sample:
    """Draw one repeat of split ledgestone.

    Parameters
    ----------
    seed : int
        Same seed, same stone.
    width_m, height_m : float
        Size of the repeat, at least 1.8 x 0.12 m, whole steps. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 44 mm from the deepest joint to the limit that no stone passes.
    """
    shape_of(width_m, height_m, step_m)
    step = step_m / _FINER
    rows, columns = shape_of(width_m, height_m, step)
    stones = lay_courses(seed, round(width_m * 1000), round(height_m * 1000))
    wall = _Wall(np.random.default_rng([seed, 2]), rows, columns, step)
    faces = np.zeros((rows, columns))
    edges = np.zeros((rows, columns))
    colour = np.broadcast_to(_JOINT, (rows, columns, 3)) * (1 + 0.12 * wall.grain[..., None])
    colour = np.ascontiguousarray(colour)
    for number, stone in enumerate(stones):
        _carve(wall, np.random.default_rng([seed, 3, number]), stone, faces, edges, colour)
    floor = wall.joints(faces)
    inside = rise(edges, -0.4 * step, 0.6 * step)
    heights = block_mean(floor + inside * (np.maximum(faces, floor) - floor), _FINER)
    # arrises are worn; what is broken within a face stays crisp
    crisp = rise(block_mean(edges, _FINER), 0.0025, 0.0085)
    heights = worn(heights, step_m) * (1 - crisp) + worn(heights, step_m, _CRISP_M) * crisp
    return Sample(
        heights_m=np.clip(heights, 0.0, DEPTH_M)[::-1],
        reflectance_rgb=block_mean(np.clip(colour, 0.02, 0.85), _FINER)[::-1],
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


class _Wall:
    """The repeating fields that every stone takes its own piece of."""

    def __init__(self, random: np.random.Generator, rows: int, columns: int, step: float) -> None:
        shape = (rows, columns)
        self.rows, self.columns, self.step = rows, columns, step
        self.broken = field(
            random, shape, step, longest_m=0.036, shortest_m=0.009, fall=1.6, stretch=2.0
        )
        self.warp_u = field(random, shape, step, longest_m=0.06, shortest_m=0.008, fall=2.2)
        self.warp_v = field(random, shape, step, longest_m=0.06, shortest_m=0.008, fall=2.2)
        self.grain = field(
            random, shape, step, longest_m=0.006, shortest_m=0.0016, fall=0.8, stretch=1.3
        )
        self.gaps = field(
            random, shape, step, longest_m=0.10, shortest_m=0.012, fall=1.4, stretch=1.6
        )
        self.rough = field(
            random, shape, step, longest_m=0.060, shortest_m=0.015, fall=1.4, stretch=1.7
        )
        self.stain = field(
            random, shape, step, longest_m=0.25, shortest_m=0.006, fall=1.7, stretch=2.0
        )
        self.streak = field(
            random, shape, step, longest_m=0.02, shortest_m=0.0016, fall=0.9, stretch=9.0
        )

    def joints(self, faces: Array) -> Array:
        """Floor of the joints: just behind the lower stone, and here and there deep."""
        reach = 2 * round(0.005 / self.step) + 1
        lower = minimum_filter(faces, reach, mode="wrap")
        deep = 0.0022 + 0.0009 * self.warp_u + 0.0005 * self.broken
        shallow = gaussian_filter(lower, 0.003 / self.step, mode="wrap") - _CRACK_M
        open_ = rise(self.gaps, 0.9, 1.7)
        return np.asarray(shallow + open_ * (np.minimum(deep, shallow) - shallow))

    def piece(self, values: Array, random: np.random.Generator, rows: int, columns: int) -> Array:
        """Cut a piece of a field from anywhere, so that no feature crosses a joint."""
        return window(
            values,
            int(random.integers(values.shape[0])),
            int(random.integers(values.shape[1])),
            rows,
            columns,
        )


def _carve(
    wall: _Wall,
    random: np.random.Generator,
    stone: Stone,
    faces: Array,
    edges: Array,
    colour: Array,
) -> None:
    """Break one stone's face, find its outline, and paint it, in place."""
    step = wall.step
    foot, left = round(stone.foot / 1000 / step), round(stone.left / 1000 / step)
    rows = round((stone.foot + stone.rise) / 1000 / step) - foot
    columns = round((stone.left + stone.length) / 1000 / step) - left
    length, tall = columns * step, rows * step
    x = np.asarray((np.arange(columns) + 0.5) * step, dtype=np.float64)
    y = np.asarray((np.arange(rows) + 0.5) * step, dtype=np.float64)
    edge = _outline(random, x, y, length, tall)
    warp_u = wall.piece(wall.warp_u, random, rows, columns)
    warp_v = wall.piece(wall.warp_v, random, rows, columns)
    warped_x = x[None, :] + 0.0018 * warp_u
    warped_y = y[:, None] + 0.0008 * warp_v
    broken = wall.piece(wall.broken, random, rows, columns)

    layered = float(random.beta(1.1, 1.3))  # 0: massive, 1: slaty
    proud = _proud(random)
    face = _bites(random, warped_x, warped_y, length, tall, 1 - 0.55 * layered)
    bedding, tone = _laminae(random, y[:, None] + 0.0005 * warp_v, step, layered)
    fine = float(random.uniform(0.00010, 0.00028))
    rough = float(random.uniform(0.0002, 0.0006)) * (1 - 0.35 * layered)
    # a hammer's break is rougher in one part of a face than in another
    uneven = np.clip(1 + 0.55 * wall.piece(wall.gaps, random, rows, columns), 0.25, 2.2)
    face = (
        proud
        + face
        + bedding
        + rough * uneven * wall.piece(wall.rough, random, rows, columns)
        + fine * broken
    )
    # an arris is broken, not moulded: sharp for a hand's breadth, then a spall has gone
    arris = 0.004 + 0.004 * np.clip(broken, 0, 2)
    chipped = 0.0016 * np.clip(0.9 * warp_u - 0.15, 0.0, 1.8)
    face -= chipped * (1 - rise(edge, 0.0, arris)) ** 2
    inside = rise(edge, -0.4 * step, 0.6 * step)

    cells = cells_from(faces.shape, foot, left, rows, columns)
    faces[cells] = np.maximum(face, 0.0062)
    edges[cells] = edge
    paint = _paint(wall, random, edge, tone, layered)
    colour[cells] += inside[..., None] * (paint - colour[cells])


def _proud(random: np.random.Generator) -> float:
    """How far a stone stands out: most near the middle, some held back, some proud. [m]"""
    kind = random.random()
    if kind < 0.14:
        return float(random.uniform(0.0215, 0.027))
    if kind < 0.84:
        return float(random.uniform(0.028, 0.0345))
    return float(random.uniform(0.0345, 0.0400))


def _outline(random: np.random.Generator, x: Array, y: Array, length: float, tall: float) -> Array:
    """Distance inside the stone's ragged outline, negative in the joint, (rows, columns). [m]"""
    step = x[1] - x[0]

    def ragged(count: int, gap: float, wander: float) -> Array:
        long = curve(random, 2 * count + 64, step, longest_m=0.12, shortest_m=0.006)[:count]
        fine = curve(random, 2 * count + 64, step, longest_m=0.03, shortest_m=0.006)[:count]
        nibble = np.clip(long * 0.6 + fine * 0.6 - 1.0, 0, None)  # here and there a bit is gone
        return gap + wander * long + 0.00025 * fine + 0.0016 * nibble

    slope = random.normal(0, 0.008)
    bed_low = ragged(x.size, random.uniform(0.0008, 0.0018), 0.0008) + slope * (x - length / 2)
    bed_high = ragged(x.size, random.uniform(0.0008, 0.0018), 0.0008) + random.normal(0, 0.008) * (
        x - length / 2
    )
    lean = random.normal(0, 0.10, 2)
    end_low = ragged(y.size, random.uniform(0.0010, 0.0026), 0.0014) + lean[0] * (y - tall / 2)
    end_high = ragged(y.size, random.uniform(0.0010, 0.0026), 0.0014) + lean[1] * (y - tall / 2)
    edge = np.minimum(
        np.minimum(
            y[:, None] - np.maximum(bed_low, 0.0006),
            (tall - y)[:, None] - np.maximum(bed_high, 0.0006),
        ),
        np.minimum(
            x[None, :] - np.maximum(end_low, 0.0006)[:, None],
            (length - x)[None, :] - np.maximum(end_high, 0.0006)[:, None],
        ),
    )
    # corners knocked off
    for corner_x, corner_y in ((0, 0), (length, 0), (0, tall), (length, tall)):
        if random.random() < 0.5:
            size = random.uniform(0.003, 0.014)
            angle = random.uniform(0.25, 1.3)
            away = np.abs(x - corner_x)[None, :] * np.cos(angle) + np.abs(y - corner_y)[
                :, None
            ] * np.sin(angle)
            edge = np.minimum(edge, away - size)
    return np.asarray(edge)


def _bites(
    random: np.random.Generator, x: Array, y: Array, length: float, tall: float, strength: float
) -> Array:
    """Tilted face with bowls broken out of it, at most 0 at its highest. [m]"""
    centre_x, centre_y = x - length / 2, y - tall / 2
    tilt_x = random.normal(0, 0.016)
    tilt_y = random.normal(0, 0.065)
    face = tilt_x * centre_x + tilt_y * centre_y
    # broad facets
    for _ in range(2 + random.poisson(length * tall / 0.0016)):
        at_x, at_y = random.uniform(0, length), random.uniform(-0.1, 1.1) * tall
        depth = strength * random.gamma(1.6, 0.0016)
        bowl_x, bowl_y = random.uniform(0.2, 1.5), random.uniform(0.06, 0.40)
        lean_x, lean_y = random.normal(0, 0.045), random.normal(0, 0.12)
        dx, dy = x - at_x, y - at_y
        here = tilt_x * (at_x - length / 2) + tilt_y * (at_y - tall / 2) - depth
        bowl = here + lean_x * dx + lean_y * dy + dx * dx / (2 * bowl_x) + dy * dy / (2 * bowl_y)
        face = np.minimum(face, bowl)
    # flakes struck off the edges, mostly the bed edges
    for _ in range(random.poisson(length / 0.075)):
        if random.random() < 0.85:
            at_x, at_y = random.uniform(0, length), tall * float(random.integers(2))
        else:
            at_x, at_y = length * float(random.integers(2)), random.uniform(0, tall)
        depth = random.gamma(2.0, 0.0017)
        bowl_x, bowl_y = random.uniform(0.02, 0.12), random.uniform(0.008, 0.035)
        dx, dy = x - at_x, y - at_y
        here = tilt_x * (at_x - length / 2) + tilt_y * (at_y - tall / 2) - depth
        face = np.minimum(face, here + dx * dx / (2 * bowl_x) + dy * dy / (2 * bowl_y))
    return np.asarray(face - max(0.0, float(face.max())))


def _laminae(
    random: np.random.Generator, y: Array, step: float, layered: float
) -> tuple[Array, Array]:
    """Bedding: how far each lamina is broken back [m], and its tone about 0, (rows, columns)."""
    columns = y.shape[1]
    along = np.arange(columns) * step

    def drawn(longest: float, shortest: float, fall: float) -> Array:
        return curve(
            random, 2 * columns + 64, step, longest_m=longest, shortest_m=shortest, fall=fall
        )[:columns]

    dip = random.normal(0, 0.014)
    bed = y + (dip * along + 0.0011 * drawn(0.3, 0.02, 1.5))[None, :]
    thick = random.gamma(1.5, random.uniform(0.0035, 0.0085), 120) + 0.0045
    top = np.cumsum(thick) + bed.min() - 0.004
    index = np.searchsorted(top, bed)
    count = int(index.max()) + 1
    tone = random.normal(0, 1, count)
    back = np.empty((count, columns))
    for i in range(count):
        ragged = drawn(0.35, 0.010, 1.6)
        # breaks off in a few steps along its length, ragged in between
        stepped = 0.6 * np.floor(0.9 * drawn(0.5, 0.02, 1.6) + 0.5) + 0.45 * ragged
        back[i] = np.clip(random.gamma(1.3, 0.7) + stepped, 0, 4.5)
    taken = np.take_along_axis(back, index, axis=0)
    # each lamina is a little undercut or battered, so its face catches light of its own
    lean = random.normal(0, 0.16, count)[index] * (bed - (top - thick / 2)[index]) * layered
    # bedding shows in some places and is lost in others
    shown = np.clip(0.7 + 0.6 * drawn(0.3, 0.04, 1.8), 0.0, 1.4)[None, :]
    strength = 0.00010 + 0.00115 * layered**1.4
    return np.asarray(-strength * shown * taken + lean), np.asarray(tone[index])


def _paint(
    wall: _Wall, random: np.random.Generator, edge: Array, tone: Array, layered: float
) -> Array:
    """Linear reflectance of one stone, shape (rows, columns, 3); no light in it."""
    rows, columns = edge.shape
    base, other, vein = (_COLOURS[random.choice(len(_COLOURS), 3, p=_OFTEN)][i] for i in range(3))
    base = (0.80 * base + 0.20 * other) * np.exp(random.normal(0, 0.13))
    grain, stain, streak = (
        wall.piece(values, random, rows, columns)
        for values in (wall.grain, wall.stain, wall.streak)
    )
    bedded = 0.03 + 0.11 * layered
    value = 1 + 0.12 * grain + 0.08 * stain + bedded * streak + (0.03 + 0.07 * layered) * tone
    # dark and pale minerals
    value -= 0.26 * rise(grain, 1.7, 2.6)
    value += 0.24 * rise(-grain, 1.9, 2.8)
    # dust and soot stay near the joints
    value *= 1 - 0.20 * rise(0.7 * stain - 0.5 * streak, -1.0, 1.6) * (1 - rise(edge, 0.0, 0.012))
    # a bed of another colour runs through some stones
    share = (0.55 * layered * rise(tone + 0.25 * streak, 0.5, 1.1))[..., None]
    paint = (base + share * (vein - base)) * value[..., None]
    rust = float(random.beta(0.6, 3.0)) * rise(stain + 0.35 * tone + 0.3 * streak, 0.3, 1.9)
    return np.asarray(paint + (0.70 * rust)[..., None] * (_RUST * value[..., None] - paint))
