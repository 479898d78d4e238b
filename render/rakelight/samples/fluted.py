"""Fluted plaster: hollow upright flutes run in place with a mould, and rubbed down by hand."""

import numpy as np

from rakelight.samples.periodic import Sample, curve, field, rise, shape_of, worn

DEPTH_M = 0.018
PITCH_M = 0.060
_ARRIS_M = 0.007  # the flat that is left between two flutes
_CUT_M = 0.0145
_COLOUR = np.array([0.735, 0.715, 0.670])  # linear Rec.709 reflectance of limewashed plaster


def fluted_plaster(
    seed: int = 8, *, width_m: float = 2.4, height_m: float = 1.8, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of fluted plaster.

    Parameters
    ----------
    seed : int
        Same seed, same flutes.
    width_m, height_m : float
        Size of the repeat, the width in whole flutes of 60 mm. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 18 mm; flutes about 14 mm deep with flats of 7 mm between them.

    Raises
    ------
    ValueError
        If the width is no whole number of flutes.
    """
    flutes = width_m / PITCH_M
    if abs(flutes - round(flutes)) > 1e-6:
        raise ValueError(f"a width of {width_m} m is no whole number of {PITCH_M} m flutes")
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    sweep = field(random, shape, step_m, longest_m=0.9, shortest_m=0.10, fall=2.0)
    rubbed = field(random, shape, step_m, longest_m=0.10, shortest_m=0.01, fall=1.6, stretch=0.3)
    grain = field(random, shape, step_m, longest_m=0.016, shortest_m=0.008, fall=0.6)
    clouds = field(random, shape, step_m, longest_m=0.6, shortest_m=0.02, fall=1.5, stretch=0.6)
    u = (np.arange(columns) + 0.5) * step_m
    number = np.floor(u / PITCH_M).astype(int)
    # the mould is never set twice quite alike, and its rail is not quite straight
    off = random.normal(0, 0.00035, round(flutes))[number]
    deep = random.normal(0, 0.00025, round(flutes))[number]
    wander = np.stack(
        [
            0.00030 * curve(random, rows, step_m, longest_m=1.8, shortest_m=0.25, fall=2.0)
            for _ in range(round(flutes))
        ],
        axis=1,
    )[:, number]
    x = u - (number + 0.5) * PITCH_M + off + wander
    half = (PITCH_M - _ARRIS_M) / 2
    # an arc whose chord is the flute's width: steep at the arris, as a mould cuts it
    radius = (half * half + _CUT_M * _CUT_M) / (2 * _CUT_M)
    depth = np.sqrt(np.clip(radius**2 - x**2, 0, None)) - (radius - _CUT_M)
    cut = np.clip(depth, 0, None) * (1 + deep / _CUT_M)
    chipped = np.clip(rubbed - 2.1, 0, None) * (1 - rise(np.abs(np.abs(x) - half), 0.0, 0.006))
    heights = 0.0160 - cut - 0.0009 * chipped
    heights = heights + 0.00022 * sweep + 0.00007 * rubbed + 0.000012 * grain
    tone = 1 + 0.020 * clouds + 0.012 * rubbed + 0.006 * grain
    return Sample(
        heights_m=worn(np.clip(heights, 0.0, DEPTH_M), step_m, 0.0018),
        reflectance_rgb=np.clip(_COLOUR * tone[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )
