"""Upright timber slats before a dark backing: 30 mm wide, about 35 mm deep, 15 mm apart."""

import numpy as np

from rakelight.samples.periodic import Sample, block_mean, curve, field, rise, shape_of, worn

DEPTH_M = 0.038
PITCH_M = 0.045
_SLAT_M = 0.030
_FINER = 2
_OAK = np.array(  # linear Rec.709 reflectances: pale sap, straw, honey, brown heart
    [[0.490, 0.376, 0.228], [0.430, 0.309, 0.172], [0.370, 0.250, 0.131], [0.290, 0.191, 0.102]]
)
_OFTEN = np.array([0.18, 0.42, 0.28, 0.12])
_FELT = np.array([0.060, 0.056, 0.052])


def vertical_slats(
    seed: int = 21, *, width_m: float = 2.43, height_m: float = 2.4, step_m: float = 0.0015
) -> Sample:
    """Draw one repeat of vertical slats.

    Parameters
    ----------
    seed : int
        Same seed, same slats.
    width_m, height_m : float
        Size of the repeat; the width in whole pitches of 45 mm. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 38 mm from the backing to the limit that no slat passes.

    Raises
    ------
    ValueError
        If the width is no whole number of pitches.
    """
    slats = width_m / PITCH_M
    if abs(slats - round(slats)) > 1e-6:
        raise ValueError(f"a width of {width_m} m is no whole number of {PITCH_M} m pitches")
    rows, columns = shape_of(width_m, height_m, step_m)
    fine = step_m / _FINER
    heights = np.empty((rows, columns))
    colour = np.empty((rows, columns, 3))
    u = (np.arange(columns * _FINER) + 0.5) * fine
    for number in range(round(slats)):
        random = np.random.default_rng([seed, number])
        first = round(number * PITCH_M / step_m)
        last = round((number + 1) * PITCH_M / step_m)
        x = u[first * _FINER : last * _FINER] - (number + 0.5) * PITCH_M
        x = x - random.normal(0, 0.0003)
        edge = _SLAT_M / 2 - np.abs(x)
        inside = rise(edge, -0.4 * fine, 0.6 * fine)
        # planed faces with eased edges; a slat is set a little deep, turned, and not quite straight
        bow = 0.00025 * curve(random, rows, step_m, longest_m=2.4, shortest_m=0.4, fall=2.0)
        face = 0.0352 + random.normal(0, 0.0003) + random.normal(0, 0.004) * x
        face = face - 0.0030 * (1 - rise(edge, 0.0, 0.0045)) ** 2
        profile = block_mean((0.0012 + inside * (face - 0.0012))[None, :].repeat(2, 0), _FINER)[0]
        cover = block_mean(inside[None, :].repeat(2, 0), _FINER)[0]
        shape = (rows, last - first)
        fibre = field(
            random, shape, step_m, longest_m=0.4, shortest_m=0.10, fall=0.8, stretch=1 / 28
        )
        pore = np.clip(fibre - 1.1, 0, None)
        heights[:, first:last] = profile + cover * bow[:, None]
        ring = field(random, shape, step_m, longest_m=0.9, shortest_m=0.3, fall=1.4, stretch=1 / 50)
        one, other = _OAK[random.choice(len(_OAK), 2, p=_OFTEN)]
        # heartwood runs in from one side of some slats; rings are bold in one, fine in the next
        heart = rise(ring + 0.9 * random.normal(0, 1), 0.2, 1.6)[..., None]
        base = one + (0.15 + 0.5 * random.beta(0.8, 1.6)) * heart * (other - one)
        bold = random.uniform(0.05, 0.20)
        value = np.exp(random.normal(0, 0.11)) * (
            1 + bold * ring + random.uniform(0.04, 0.09) * fibre - 0.16 * pore
        )
        value = np.clip(value, 0.35, 1.6)
        wood = base * value[..., None] ** np.array([1.0, 1.12, 1.3])
        colour[:, first:last] = _FELT + cover[None, :, None] * (wood - _FELT)
    return Sample(
        heights_m=worn(np.clip(heights, 0.0, DEPTH_M), step_m, 0.0036),
        reflectance_rgb=np.clip(colour, 0.02, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )
