"""Terracotta baguettes: extruded rods of fired clay, laid level before a dark membrane.

Rods are 50 mm tall with a rounded front and 25 mm apart; each is a little bent and turned from
the kiln and has its own shade of one firing. The die has drawn fine lines along its whole length,
the supports that it was fired on have left bands, and here and there grit was dragged or a grain of
lime has popped.
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
        [0.335, 0.163, 0.060],  # linear Rec.709 reflectances: the clay as fired
        [0.385, 0.203, 0.082],  # a little paler
        [0.285, 0.124, 0.046],  # a little redder
        [0.430, 0.250, 0.118],  # less fired
        [0.215, 0.098, 0.043],  # near the flame
    ]
)
_OFTEN = np.array([0.34, 0.24, 0.22, 0.10, 0.10])
_SMOKE = np.array([0.150, 0.076, 0.040])
_LIME = np.array([0.520, 0.400, 0.280])
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
    lines = np.zeros_like(heights)
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
            face, cover, drawn, paint = _rod(random, y, long, step_m)
            heights[cells] += cover * (face - heights[cells])
            lines[cells] = cover * drawn
            colour[cells] += cover[..., None] * (paint - colour[cells])
    whole = worn(heights.reshape(rows, _FINER, columns).mean(axis=1), step_m, (0.0036, 0.0022))
    whole = whole + lines.reshape(rows, _FINER, columns).mean(axis=1)
    return Sample(
        heights_m=np.clip(whole, 0, DEPTH_M)[::-1],
        reflectance_rgb=np.clip(
            colour.reshape(rows, _FINER, columns, 3).mean(axis=1)[::-1], 0.02, 0.85
        ),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _rod(
    random: np.random.Generator, y: Array, columns: int, step: float
) -> tuple[Array, Array, Array, Array]:
    """Heights [m], cover, what the die and the kiln left on it [m], and reflectance of one rod."""
    x = np.asarray((np.arange(columns) + 0.5) * step, dtype=np.float64)
    fine = float(y[1] - y[0])
    shape = (y.size, columns)
    sag = random.normal(0, 0.0007) * (1 - (2 * x / LENGTH_M - 1) ** 2)
    sag = sag + random.normal(0, 0.0004) + random.normal(0, 0.0005) * (2 * x / LENGTH_M - 1)
    off = y[:, None] - sag[None, :]
    half = _ROD_M / 2
    # between a round and a square, as dies are cut to spare clay
    round_ = np.clip(1 - np.abs(off / half) ** 2.6, 0, None) ** (1 / 2.6)
    twist = random.normal(0, 0.012) + random.normal(0, 0.016) * (2 * x / LENGTH_M - 1)
    face = _FRONT_M - _CHEEK_M * (1 - round_) + twist[None, :] * off
    face = face + (random.normal(0, 0.0004) + random.normal(0, 0.0008) * (x / LENGTH_M - 0.5))
    ends = np.minimum(x, LENGTH_M - x) - _END_GAP_M / 2
    cover = rise(half - np.abs(off), -0.0004, 0.0006) * rise(ends, -0.001, 0.001)[None, :]
    face = face - 0.0012 * (1 - rise(ends, 0.0, 0.003))[None, :] ** 2

    # the die's lines follow the rod; a few are scores that grit at its lip has cut
    at = np.clip(np.rint((off - y[0]) / fine).astype(int), 0, y.size - 1)
    die = curve(random, y.size, fine, longest_m=0.012, shortest_m=0.0032, fall=0.4)
    score = np.clip(die - 1.2, 0, None)[at]
    die = die[at]
    drag = field(random, shape, step, longest_m=0.010, shortest_m=0.003, fall=0.8, stretch=24.0)
    skin = field(random, shape, step, longest_m=0.02, shortest_m=0.004, fall=0.8, stretch=1.5)
    torn = rise(field(random, shape, step, longest_m=0.03, shortest_m=0.004, stretch=4.0), 2.0, 2.9)
    drawn = 0.000050 * die + 0.00004 * drag + 0.00002 * skin - 0.00014 * score - 0.00009 * torn

    base = one_of(random, _COLOURS, _OFTEN) * np.exp(random.normal(0, 0.05))
    other = one_of(random, _COLOURS, _OFTEN)
    flame = field(random, shape, step, longest_m=0.6, shortest_m=0.03, fall=1.5, stretch=1.6)
    share = (0.6 * rise(flame, -0.5, 2.0))[..., None]
    value = 1 + 0.06 * flame + 0.075 * drag + 0.065 * die + 0.055 * skin - 0.16 * score
    paint = (base + share * (other - base)) * (value - 0.14 * torn)[..., None]
    smoke, lime = _kiln_marks(random, x, off, skin, flame)
    paint = paint + smoke[..., None] * (_SMOKE - paint)
    paint = paint + lime[..., None] * (_LIME - paint)
    return np.asarray(face), np.asarray(cover), np.asarray(drawn - 0.0004 * lime), np.asarray(paint)


def _kiln_marks(
    random: np.random.Generator, x: Array, off: Array, skin: Array, flame: Array
) -> tuple[Array, Array]:
    """Shares of smoke and of lime: bands of the supports, smoked edges, popped grains."""
    smoke = np.zeros(off.shape)
    ragged = x[None, :] + 0.0016 * skin + 0.003 * flame + 0.2 * off
    # rods lie on three supports; on some the band has crept round to the front
    for place in (0.16, 0.5, 0.84):
        middle = place * LENGTH_M + random.normal(0, 0.02)
        wide, strong = random.uniform(0.006, 0.014), max(0.0, random.normal(0.08, 0.24))
        reach = rise(random.choice([-1.0, 1.0]) * off, -0.022, 0.020)
        smoke += min(strong, 0.5) * reach * (1 - rise(np.abs(ragged - middle), wide, 2 * wide))
    edge = random.choice([-1.0, 1.0]) * off
    smoke += max(0.0, random.normal(0.08, 0.22)) * rise(edge + 0.006 * flame, 0.0, 0.026)
    lime = np.zeros(off.shape)
    for _ in range(random.poisson(2.0)):
        at_x, at_y = random.uniform(0, LENGTH_M), random.uniform(-0.02, 0.02)
        radius = random.uniform(0.0012, 0.0026)
        away = np.hypot(x[None, :] - at_x, off - at_y) / radius
        lime = np.maximum(lime, random.uniform(0.4, 0.9) * (1 - rise(away, 0.6, 1.5)))
    speck = rise(skin, 2.7, 3.6)
    return np.clip(smoke + 0.5 * speck, 0, 0.7), lime
