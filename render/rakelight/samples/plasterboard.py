"""Taped plasterboard laid level: joints every 1.2 m up the wall, filled, taped and painted.

The filler stands less than a millimetre proud.

Nobody sees any of it in a room lit from its middle; from 50 mm in front of the ceiling's edge
it is all there: the filler's humps, filled screws, the board's own bow, the roller's stipple.
"""

import numpy as np

from rakelight.samples.periodic import Array, Sample, curve, field, rise, shape_of

DEPTH_M = 0.0024
BOARD_M = 1.2
HUMP_M = 0.0008  # of a tapered joint at its highest; cross joints have no taper to fill
_CROSS_M = 0.00080
_STUD_M = 0.6
_SCREW_M = 0.3
_COLOUR = np.array([0.790, 0.785, 0.765])  # linear Rec.709 reflectance of matt white paint


def taped_plasterboard(
    seed: int = 4, *, width_m: float = 3.6, height_m: float = 2.4, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of taped plasterboard.

    Parameters
    ----------
    seed : int
        Same seed, same wall.
    width_m, height_m : float
        Size of the repeat; the height in whole boards of 1.2 m, the width in whole bays of
        0.6 m. Each board has one cross joint in the width. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 2.4 mm; no hump reaches 1 mm.

    Raises
    ------
    ValueError
        If the size is no whole number of boards and bays.
    """
    boards, bays = height_m / BOARD_M, width_m / _STUD_M
    if abs(boards - round(boards)) > 1e-6 or abs(bays - round(bays)) > 1e-6:
        raise ValueError(
            f"{width_m} x {height_m} m is no whole number of {BOARD_M} m boards and {_STUD_M} m "
            "bays"
        )
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    u = np.asarray((np.arange(columns) + 0.5) * step_m, dtype=np.float64)
    v = np.asarray((np.arange(rows) + 0.5) * step_m, dtype=np.float64)
    stipple = field(random, shape, step_m, longest_m=0.014, shortest_m=0.007, fall=0.5)
    roller = field(random, shape, step_m, longest_m=0.25, shortest_m=0.02, fall=1.2, stretch=0.25)
    frame = field(random, shape, step_m, longest_m=1.6, shortest_m=0.4, fall=2.0)
    heights = 0.00060 + 0.00010 * frame + 0.000014 * stipple + 0.000004 * roller
    level, cross, filled = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for number in range(round(boards)):
        one = np.random.default_rng([seed, 2, number])
        foot = number * BOARD_M
        # a board bows out a little between its studs
        mine = (v >= foot) & (v < foot + BOARD_M)
        heights[mine] += one.normal(0.00008, 0.00004) * np.sin(np.pi * u / _STUD_M)[None, :] ** 2
        up = (v - foot + height_m / 2) % height_m - height_m / 2
        hump, cover = _joint(one, up, columns, HUMP_M, step_m)
        level += hump.T
        filled = np.maximum(filled, cover.T)
        # boards are cut over a stud, and never over the joint below
        at = _STUD_M * ((1 + 3 * number) % round(bays))
        across = (u - at + width_m / 2) % width_m - width_m / 2
        hump, cover = _joint(one, across, rows, _CROSS_M, step_m)
        # the last strokes along the level joints take it down and draw it out past them
        middle = np.abs((v - foot - BOARD_M / 2 + height_m / 2) % height_m - height_m / 2)
        down = curve(one, columns, step_m, longest_m=0.3, shortest_m=0.02)[None, :]
        out = (middle - BOARD_M / 2)[:, None] + 0.02 * down
        weight = (1 - 0.45 * rise(out, -0.30, -0.02)) * (1 - rise(out, -0.12, 0.10))
        cross += hump * weight
        filled = np.maximum(filled, cover * weight)
    # where two joints meet, the blade runs them into one
    heights += (level**3 + cross**3) ** (1 / 3)
    _screws(np.random.default_rng([seed, 3]), heights, filled, (width_m, height_m), step_m)
    # paint dries flatter over filler than over paper
    tone = 1 + 0.005 * stipple + 0.004 * roller - 0.014 * filled
    return Sample(
        heights_m=np.clip(heights, 0.0, DEPTH_M),
        reflectance_rgb=np.clip(_COLOUR * tone[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _joint(
    random: np.random.Generator, across: Array, count: int, hump_m: float, step: float
) -> tuple[Array, Array]:
    """Hump [m] and cover of one joint, shape (count, across.size); `across` is the distance."""

    def along(longest: float, shortest: float) -> Array:
        return curve(random, count, step, longest_m=longest, shortest_m=shortest)[:, None]

    # three coats, each wider than the last and feathered out with a blade that never runs true
    half = 0.130 * (1 + 0.05 * along(0.9, 0.10))
    away = np.abs(across[None, :] - 0.006 * along(1.2, 0.15))
    share = np.clip(away / half, 0, 1)
    tall = hump_m * np.clip(0.80 + 0.09 * along(0.8, 0.10), 0.4, 1.0)
    # the tape's own edges show through, 52 mm apart
    tape = 0.00005 * (1 - rise(away, 0.022, 0.030))
    # the last blade's edge left a thin line here and there
    lip = 0.00004 * np.clip(along(0.5, 0.02) - 0.4, 0, 2)
    edge = lip * np.exp(-(((away - 0.93 * half) / 0.0035) ** 2))
    hump = (tall - 0.00005) * (1 - share**2) ** 2 + tape + edge
    return np.clip(hump, 0, None), np.asarray(1 - rise(share, 0.85, 1.0))


def _screws(
    random: np.random.Generator,
    heights: Array,
    filled: Array,
    size_m: tuple[float, float],
    step: float,
) -> None:
    """Fill the screws' heads: some proud, some sunk, each wiped once. In place."""
    rows, columns = heights.shape
    reach = int(0.045 / step)
    offsets = np.arange(-reach, reach + 1)
    # half a spacing off the joints, so that none lies under their filler
    for at_u in np.arange(0, size_m[0] - _STUD_M / 2, _STUD_M):
        for at_v in np.arange(_SCREW_M / 2, size_m[1], _SCREW_M):
            row = round((at_v + random.normal(0, 0.012)) / step)
            column = round((at_u + random.normal(0, 0.006)) / step)
            lean = random.normal(0, 0.5)
            x = offsets[None, :] * step + lean * offsets[:, None] * step * 0.3
            y = offsets[:, None] * step
            away = np.hypot(x / 0.026, y / random.uniform(0.024, 0.040))
            patch = (1 - np.clip(away, 0, 1) ** 2) ** 2
            cells = np.ix_((row + offsets) % rows, (column + offsets) % columns)
            tall = random.normal(0.00011, 0.00007)
            sunk = 0.00010 * (random.random() < 0.3) * np.exp(-((away / 0.3) ** 2))
            heights[cells] += tall * patch - sunk
            filled[cells] = np.maximum(filled[cells], 0.8 * rise(1 - away, 0.0, 0.3))
