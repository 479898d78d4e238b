"""Running-bond brick: uneven faces, worn arrises, raked joints about 8 mm deep."""

import numpy as np

from rakelight.samples.periodic import (
    Array,
    Sample,
    block_mean,
    cells_from,
    field,
    one_of,
    rise,
    shape_of,
    window,
    worn,
)

DEPTH_M = 0.014
MODULE_M = (0.225, 0.075)  # brick and joint: 215 x 65 mm and 10 mm
_JOINT_M = 0.010
_FINER = 2
_COLOURS = np.array(
    [
        [0.245, 0.124, 0.063],  # linear Rec.709 reflectances: red
        [0.285, 0.158, 0.082],  # orange
        [0.190, 0.094, 0.053],  # deep red
        [0.335, 0.212, 0.125],  # buff
        [0.210, 0.124, 0.078],  # brown
        [0.125, 0.080, 0.066],  # overfired
    ]
)
_OFTEN = np.array([0.34, 0.22, 0.18, 0.09, 0.10, 0.07])
_MORTAR = np.array([0.340, 0.315, 0.275])


def running_brick(
    seed: int = 9, *, width_m: float = 3.6, height_m: float = 1.8, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of running-bond brick.

    Parameters
    ----------
    seed : int
        Same seed, same wall.
    width_m, height_m : float
        Size of the repeat: whole bricks of 225 mm, an even number of 75 mm courses. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 14 mm; joints lie about 8 mm behind the faces.

    Raises
    ------
    ValueError
        If the bond would not close.
    """
    across, courses = width_m / MODULE_M[0], height_m / MODULE_M[1]
    if abs(across - round(across)) > 1e-6 or abs(courses / 2 - round(courses / 2)) > 1e-6:
        raise ValueError(f"{width_m} x {height_m} m is not a whole number of bricks and courses")
    shape_of(width_m, height_m, step_m)
    step = step_m / _FINER
    shape = shape_of(width_m, height_m, step)
    random = np.random.default_rng([seed, 1])
    sand = field(random, shape, step, longest_m=0.008, shortest_m=0.0022, fall=0.5)
    crease = field(random, shape, step, longest_m=0.07, shortest_m=0.006, fall=1.5, stretch=5.0)
    wander = field(random, shape, step, longest_m=0.16, shortest_m=0.008, fall=1.9)
    heights = 0.0032 + 0.00045 * wander + 0.0002 * crease
    rough = 0.00009 * sand
    colour = _MORTAR * (1 + 0.11 * sand + 0.05 * wander)[..., None]
    for number in range(round(across) * round(courses)):
        brick = np.random.default_rng([seed, 2, number])
        course, place = divmod(number, round(across))
        left = (place + 0.5 * (course % 2)) * MODULE_M[0]
        corner = (left, course * MODULE_M[1])
        _lay(brick, corner, step, (sand, crease, wander), heights, rough, colour)
    whole = worn(block_mean(heights, _FINER), step_m, 0.0028) + block_mean(rough, _FINER)
    return Sample(
        heights_m=np.clip(whole, 0.0, DEPTH_M)[::-1],
        reflectance_rgb=block_mean(np.clip(colour, 0.02, 0.85), _FINER)[::-1],
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _lay(
    random: np.random.Generator,
    corner_m: tuple[float, float],
    step: float,
    fields: tuple[Array, Array, Array],
    heights: Array,
    rough: Array,
    colour: Array,
) -> None:
    """Lay one brick into `heights`, `rough` and `colour`, in place.

    `rough` is what no wear rounds: sand, drag lines, grains that the wire tore out.
    """
    rows, columns = round(MODULE_M[1] / step), round(MODULE_M[0] / step)
    row, column = round(corner_m[1] / step), round(corner_m[0] / step)
    x = ((np.arange(columns) + 0.5) * step)[None, :]
    y = ((np.arange(rows) + 0.5) * step)[:, None]
    start = int(random.integers(heights.shape[0])), int(random.integers(heights.shape[1]))
    sand, crease, wander = (window(f, *start, rows, columns) for f in fields)

    gap = _JOINT_M / 2 + random.normal(0, 0.0006, 4) + 0.0003
    lean = random.normal(0, 0.004, 4)
    mid_x, mid_y = MODULE_M[0] / 2, MODULE_M[1] / 2
    sides = (
        y - gap[0] - lean[0] * (x - mid_x),
        MODULE_M[1] - y - gap[1] - lean[1] * (x - mid_x),
        x - gap[2] - lean[2] * (y - mid_y),
        MODULE_M[0] - x - gap[3] - lean[3] * (y - mid_y),
    )
    # rounded corners: distance inside a box of radius 3 mm
    near_v = np.minimum(sides[0], sides[1])
    near_u = np.minimum(sides[2], sides[3])
    corner = 0.003
    edge = corner - np.hypot(np.clip(corner - near_v, 0, None), np.clip(corner - near_u, 0, None))
    edge = np.where((near_v > corner) & (near_u > corner), np.minimum(near_v, near_u), edge)
    edge = edge - 0.0006 * np.abs(wander) - 0.0016 * np.clip(wander - 1.5, 0, None)

    face = 0.0112 + np.clip(random.normal(0, 0.00075), -0.0016, 0.0016)
    face = face + random.normal(0, 0.004) * (x - mid_x) + random.normal(0, 0.009) * (y - mid_y)
    # sand-faced bricks are creased where the clay was thrown; the others were cut by a wire
    folded = float(random.beta(0.7, 0.9))
    face = face - 0.0007 * folded * np.clip(crease - 1.0, 0, 1.6)
    face = face + (0.00014 + 0.00016 * folded) * wander
    # a corner is knocked off here and there, along a slant
    from_x = np.abs(x - random.choice([0.0, MODULE_M[0]]))
    from_y = np.abs(y - random.choice([0.0, MODULE_M[1]]))
    slant = random.uniform(0.5, 1.6)
    knocked = (from_x + slant * from_y) / np.hypot(1, slant)
    chip = max(0.0, random.normal(-0.002, 0.014)) * (1 + 0.15 * wander)
    face = face - 0.4 * np.clip(chip - knocked, 0, 0.010)
    face = face - 0.0021 * (1 - rise(edge, 0.0, 0.0055)) ** 2
    inside = rise(edge, -0.6 * step, 0.9 * step)
    cells = cells_from(heights.shape, row, column, rows, columns)
    heights[cells] += inside * (face - heights[cells])
    torn = random.gamma(2.0, 0.00003) * rise(sand, 1.2, 3.0)
    drag = 0.00005 * (1 - folded) * crease
    grit = random.uniform(0.00003, 0.00009) * sand
    rough[cells] += inside * (grit + drag - torn - rough[cells])
    base = one_of(random, _COLOURS, _OFTEN) * np.exp(random.normal(0, 0.10))
    # fired darker along one end or edge, paler where the salts came out
    fired = (
        random.normal(0, 0.13) * (x - mid_x) / mid_x + random.normal(0, 0.07) * (y - mid_y) / mid_y
    )
    value = 1 + 0.08 * wander + 0.11 * sand - 0.10 * rise(crease, 1.4, 2.4) + fired
    # grit and burnt specks
    value = value - 0.35 * rise(sand, 2.0, 2.9) + 0.25 * rise(-sand, 2.2, 3.0)
    bloom = 0.30 * random.beta(0.6, 3.0) * rise(wander, 0.0, 2.0)
    paint = base * value[..., None]
    paint = paint + bloom[..., None] * (_MORTAR - paint)
    colour[cells] += inside[..., None] * (paint - colour[cells])
