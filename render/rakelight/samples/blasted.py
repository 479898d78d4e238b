"""Shot-blasted concrete: the skin is gone, the matrix worn back, and the aggregate stands out.

The aggregate is river gravel of 6 to 32 mm, graded as it is sold: few large stones, many small
ones, packed as they settled against the form, here in a nest, there drowned in mortar. Most lie
so deep that only a crown shows; some were knocked out and left their beds. Between them lies
sand and fine gravel, nearly flush. The forms' joints, their ties and the air that was trapped
against them are still to be seen.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.samples.periodic import (
    Array,
    Sample,
    cells_around,
    field,
    one_of,
    rise,
    shape_of,
    worn,
)

DEPTH_M = 0.009
PANEL_M = (1.2, 0.9)  # of the forms
_GRAVEL_M = (0.0030, 0.0160)  # radii
_GRAVEL_PER_M2 = 8500.0  # tried; the packing refuses about half
_FINER_SHARE = 1.9  # numbers fall with the radius to this power
_FINES_PER_M2 = 8000.0
_MATRIX = np.array([0.385, 0.362, 0.322])  # linear Rec.709 reflectance of the scoured matrix
_COLOURS = np.array(
    [
        [0.330, 0.315, 0.290],  # grey
        [0.235, 0.225, 0.212],  # dark grey
        [0.430, 0.375, 0.300],  # buff
        [0.300, 0.235, 0.180],  # brown
        [0.540, 0.515, 0.475],  # quartz
        [0.145, 0.140, 0.136],  # basalt
    ]
)
_OFTEN = np.array([0.31, 0.19, 0.22, 0.10, 0.12, 0.06])


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
    scour = field(random, shape, step_m, longest_m=0.5, shortest_m=0.05, fall=1.5)
    pits = field(random, shape, step_m, longest_m=0.04, shortest_m=0.009, fall=1.3)
    sand = field(random, shape, step_m, longest_m=0.006, shortest_m=0.003, fall=0.4)
    flat = field(random, shape, step_m, longest_m=1.2, shortest_m=0.15, fall=2.0)
    surface = 0.0055 + 0.00035 * flat
    heights = surface - 0.0010 - 0.00025 * scour - 0.00022 * pits
    value = 1 + 0.06 * sand + 0.04 * scour - 0.05 * np.clip(pits, 0, None)
    colour = _MATRIX * value[..., None]
    area = width_m * height_m
    for number in range(round(_FINES_PER_M2 * area)):
        _fine(np.random.default_rng([seed, 2, number]), step_m, colour)
    low, high = _GRAVEL_M
    count = round(_GRAVEL_PER_M2 * area)
    # large stones settle first, the smaller find room between them
    power = -_FINER_SHARE
    share = random.uniform(0, 1, count)
    radii = (low**power + share * (high**power - low**power)) ** (1 / power)
    radii = np.sort(radii)[::-1]
    # mortar where the stones sank away from the form: none finds room there
    sunk = field(random, shape, step_m, longest_m=0.25, shortest_m=0.018, fall=1.4)
    taken = sunk > 1.05
    for number, radius in enumerate(radii.tolist()):
        one = np.random.default_rng([seed, 3, number])
        _gravel(one, radius, step_m, surface, heights, colour, taken, sand)
    forms = np.random.default_rng([seed, 4])
    _form_joints(forms, heights, colour, step_m)
    _blow_holes(forms, heights, colour, step_m)
    return Sample(
        # dulled by the shot
        heights_m=np.clip(worn(heights, step_m, 0.0022), 0.0, DEPTH_M),
        reflectance_rgb=np.clip(colour, 0.02, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _pick(random: np.random.Generator) -> Array:
    """Colour of one stone; dust of the matrix dulls every one a little."""
    base = one_of(random, _COLOURS, _OFTEN) * np.exp(random.normal(0, 0.12))
    return np.asarray(0.92 * base + 0.08 * _MATRIX)


def _fine(random: np.random.Generator, step: float, colour: Array) -> None:
    """Paint one grain of 2 to 7 mm, too fine to be told from the matrix by its height."""
    radius = 0.0010 * (1 - random.uniform(0, 0.92)) ** -0.5
    offsets, cells = cells_around(random, colour.shape[:2], radius, step)
    away = np.hypot(offsets[:, None] * random.uniform(0.8, 1.3), offsets) * step
    cover = (rise(radius - away, -0.7 * step, 0.7 * step))[..., None]
    colour[cells] += cover * (_pick(random) - colour[cells])


def _gravel(
    random: np.random.Generator,
    radius: float,
    step: float,
    surface: Array,
    heights: Array,
    colour: Array,
    taken: NDArray[np.bool_],
    sand: Array,
) -> None:
    """Set one rounded stone where there is room for it, in place."""
    offsets, cells = cells_around(random, heights.shape, 1.4 * radius, step)
    x, y = offsets[None, :] * step, offsets[:, None] * step
    turn = random.uniform(0, np.pi)
    long = float(np.exp(random.normal(0, 0.20)))
    long = min(max(long, 0.72), 1.38)
    a = (x * np.cos(turn) + y * np.sin(turn)) / long
    b = (y * np.cos(turn) - x * np.sin(turn)) * long
    # its outline: an egg with a flat or two worn round
    angle = np.arctan2(b, a)
    lobes = random.normal(0, 0.05) * np.cos(2 * angle + random.uniform(0, 6))
    lobes = lobes + random.normal(0, 0.045) * np.cos(3 * angle + random.uniform(0, 6))
    away = np.hypot(a, b) / (radius * (1 + lobes))
    body = away < 1
    # some lie against each other, some keep a bed of mortar round them
    room = 1 + abs(random.normal(0, 0.16))
    if (taken[cells] & (away < 0.94)).any():
        return
    taken[cells] |= away < room
    if random.random() < 0.035:
        # knocked out by the shot: the bed that it left
        bed = 0.22 * radius * np.sqrt(np.clip(1 - away**2, 0, None))
        heights[cells] -= np.minimum(bed, 0.0018)
        colour[cells] *= (1 - 0.10 * (away < 0.9))[..., None]
        return
    proud = float(np.clip(random.normal(0.00010, 0.00055), -0.0009, 0.0016))
    proud = min(proud + 0.10 * radius, 0.0021)
    lean = random.normal(0, 0.09 * min(1.0, 0.006 / radius), 2)
    dome = np.sqrt(np.clip(1 - away**2, 0, None))
    # from broken and flat to round
    crown = random.uniform(0.16, 0.40) * radius * (1 - dome)
    face = surface[cells] + proud + lean[0] * a + lean[1] * b - crown
    shown = body & (face > heights[cells])
    heights[cells] = np.where(shown, face, heights[cells])
    paint = _pick(random) * (1 + random.uniform(0.03, 0.10) * sand[cells])[..., None]
    cover = (shown * rise(1 - away, 0.0, step / radius))[..., None]
    colour[cells] += cover * (paint - colour[cells])


def _form_joints(random: np.random.Generator, heights: Array, colour: Array, step: float) -> None:
    """Grooves that the forms' chamfers left, and the plugged cones of their ties. In place."""
    rows, columns = heights.shape
    u, v = (np.arange(columns) + 0.5) * step, (np.arange(rows) + 0.5) * step
    wide, tall = columns * step, rows * step
    across, up = wide / max(1, round(wide / PANEL_M[0])), tall / max(1, round(tall / PANEL_M[1]))
    from_u = np.abs((u + across / 2) % across - across / 2)[None, :]
    from_v = np.abs((v + up / 2) % up - up / 2)[:, None]
    joint = np.minimum(from_u, from_v)
    groove = 1 - rise(joint, 0.0020, 0.0085)
    heights += groove * (0.0016 - heights)
    colour *= (1 - 0.16 * groove)[..., None]
    for at_u in np.arange(across / 4, wide, across / 2):
        for at_v in np.arange(up / 4, tall, up / 2):
            away = np.hypot(
                (u - at_u - random.normal(0, 0.002))[None, :],
                (v - at_v - random.normal(0, 0.002))[:, None],
            )
            plug = 1 - rise(away, 0.0105, 0.0145)
            heights += plug * (0.0022 + random.normal(0, 0.0003) - heights)
            colour += plug[..., None] * (0.86 * _MATRIX - colour)


def _blow_holes(random: np.random.Generator, heights: Array, colour: Array, step: float) -> None:
    for _ in range(random.poisson(30 * heights.size * step * step)):
        radius = min(0.0028 + random.exponential(0.0020), 0.011)
        offsets, cells = cells_around(random, heights.shape, radius, step)
        away = np.hypot(offsets[:, None] * step * random.uniform(0.75, 1.2), offsets * step)
        deep = 0.5 * np.sqrt(np.clip(radius**2 - away**2, 0, None))
        heights[cells] -= np.minimum(deep, 0.0030)
        colour[cells] *= (1 - 0.12 * (deep > 0))[..., None]
