"""Terracotta baguettes: extruded rods of fired clay, laid level before a dark membrane.

Rods are 50 mm tall with a rounded front and 25 mm apart; each is a little bent and turned from
the kiln, has its own firing colour, and shows the fine streaks of the die along its length.
"""

import numpy as np

from rakelight.samples.periodic import Array, Sample, curve, field, one_of, rise, shape_of, worn

DEPTH_M = 0.048
PITCH_M = 0.075
LENGTH_M = 1.2
_ROD_M = 0.050
_FRONT_M = 0.0445
_CHEEK_M = 0.0195  # from the front back to where the sides run straight
_END_GAP_M = 0.008
_FINER = 2
_COLOURS = np.array(
    [
        [0.315, 0.152, 0.086],  # linear Rec.709 reflectances: brick red
        [0.360, 0.186, 0.102],  # orange
        [0.265, 0.120, 0.072],  # deep red
        [0.400, 0.240, 0.150],  # pale, less fired
        [0.205, 0.102, 0.070],  # brown, near the flame
    ]
)
_OFTEN = np.array([0.36, 0.24, 0.18, 0.14, 0.08])
_BEHIND = np.array([0.050, 0.048, 0.046])


def terracotta_baguettes(
    seed: int = 27, *, width_m: float = 2.4, height_m: float = 1.8, step_m: float = 0.0015
) -> Sample:
    """Draw one repeat of terracotta baguettes.

    Parameters
    ----------
    seed : int
        Same seed, same rods.
    width_m, height_m : float
        Size of the repeat: whole rods of 1.2 m, whole pitches of 75 mm. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 48 mm from the membrane to the limit that no rod passes.

    Raises
    ------
    ValueError
        If the rods would not fill the repeat.
    """
    across, up = width_m / LENGTH_M, height_m / PITCH_M
    if abs(across - round(across)) > 1e-6 or abs(up - round(up)) > 1e-6:
        raise ValueError(
            f"{width_m} x {height_m} m is no whole number of {LENGTH_M} m rods and {PITCH_M} m "
            "pitches"
        )
    rows, columns = shape_of(width_m, height_m, step_m)
    fine = step_m / _FINER
    heights = np.full((rows * _FINER, columns), 0.0012)
    colour = np.broadcast_to(_BEHIND, (rows * _FINER, columns, 3)).copy()
    long = round(LENGTH_M / step_m)
    # each row starts where it likes, but no end lies near the one below
    shift = 0.0
    for row in range(round(up)):
        random = np.random.default_rng([seed, row])
        shift = (shift + random.uniform(0.25, 0.75) * LENGTH_M) % LENGTH_M
        low = round(row * PITCH_M / fine)
        tall = round((row + 1) * PITCH_M / fine) - low
        y = np.asarray((np.arange(tall) + 0.5) * fine - PITCH_M / 2, dtype=np.float64)
        for place in range(round(across)):
            left = round((shift + place * LENGTH_M) / step_m)
            cells = np.ix_(np.arange(low, low + tall), (left + np.arange(long)) % columns)
            face, cover, paint = _rod(random, y, long, step_m)
            heights[cells] += cover * (face - heights[cells])
            colour[cells] += cover[..., None] * (paint - colour[cells])
    return Sample(
        heights_m=worn(
            np.clip(heights.reshape(rows, _FINER, columns).mean(axis=1), 0, DEPTH_M)[::-1],
            step_m,
            0.0036,
        ),
        reflectance_rgb=np.clip(
            colour.reshape(rows, _FINER, columns, 3).mean(axis=1)[::-1], 0.02, 0.85
        ),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _rod(
    random: np.random.Generator, y: Array, columns: int, step: float
) -> tuple[Array, Array, Array]:
    """Heights [m], cover and reflectance of one rod."""
    x = (np.arange(columns) + 0.5) * step
    sag = random.normal(0, 0.0009) * (1 - (2 * x / LENGTH_M - 1) ** 2)
    sag = sag + random.normal(0, 0.0004) + random.normal(0, 0.0006) * (2 * x / LENGTH_M - 1)
    off = y[:, None] - sag[None, :]
    half = _ROD_M / 2
    # between a round and a square, as dies are cut to spare clay
    round_ = np.clip(1 - np.abs(off / half) ** 2.6, 0, None) ** (1 / 2.6)
    twist = random.normal(0, 0.012) + random.normal(0, 0.016) * (2 * x / LENGTH_M - 1)
    face = _FRONT_M - _CHEEK_M * (1 - round_) + twist[None, :] * off
    face = face + (random.normal(0, 0.0004) + random.normal(0, 0.0008) * (x / LENGTH_M - 0.5))
    die = curve(random, y.size, float(y[1] - y[0]), longest_m=0.02, shortest_m=0.003, fall=0.7)
    drag = field(
        random, (y.size, columns), step, longest_m=0.01, shortest_m=0.003, fall=0.8, stretch=10.0
    )
    face = face + 0.000045 * die[:, None]
    ends = np.minimum(x, LENGTH_M - x) - _END_GAP_M / 2
    cover = rise(half - np.abs(off), -0.0004, 0.0006) * rise(ends, -0.001, 0.001)[None, :]
    face = face - 0.0012 * (1 - rise(ends, 0.0, 0.003))[None, :] ** 2
    base = one_of(random, _COLOURS, _OFTEN) * np.exp(random.normal(0, 0.06))
    other = one_of(random, _COLOURS, _OFTEN)
    flame = field(random, (y.size, columns), step, longest_m=0.5, shortest_m=0.05, fall=1.6)
    speck = field(random, (y.size, columns), step, longest_m=0.006, shortest_m=0.003, fall=0.5)
    share = (0.35 * rise(flame, 0.0, 2.2))[..., None]
    value = 1 + 0.05 * flame + 0.065 * drag + 0.03 * die[:, None] - 0.30 * rise(speck, 2.1, 3.0)
    paint = (base + share * (other - base)) * value[..., None]
    return np.asarray(face), np.asarray(cover), np.asarray(paint)
