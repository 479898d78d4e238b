"""Routed wave panel: one ridge beside the other, cut into boards by a ball-nosed tool, lacquered.

The machine repeats itself: every board is the same, ridges run parallel in long sweeps, and their
crests are sharp but for the sandpaper. Boards are 1.2 by 2.4 m; the pattern goes on across their
joints, which are shut but can be seen. Along every pass the tool has left a track a few
hundredths of a millimetre deep.
"""

import numpy as np

from rakelight.samples.periodic import Sample, field, rise, shape_of, worn

DEPTH_M = 0.024
BOARD_M = 1.2
_CRESTS_PER_BOARD = 13
_BACK = 0.66  # share of a ridge that is its long back
_SWEEP_M = (0.058, 0.016)  # how far a ridge swings aside in its long and its short waves
_PASSES = 16  # of the tool over one ridge
_COLOUR = np.array([0.760, 0.750, 0.725])  # linear Rec.709 reflectance of a white lacquer


def wave_panel(
    seed: int = 14, *, width_m: float = 2.4, height_m: float = 2.4, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of the routed wave panel.

    Parameters
    ----------
    seed : int
        Same seed, same boards: how they were set and sprayed; the waves are the machine's.
    width_m, height_m : float
        Size of the repeat; the width in whole boards of 1.2 m. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 24 mm; crests about 92 mm apart.

    Raises
    ------
    ValueError
        If the width is no whole number of boards.
    """
    boards = width_m / BOARD_M
    if abs(boards - round(boards)) > 1e-6:
        raise ValueError(f"a width of {width_m} m is no whole number of {BOARD_M} m boards")
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    u = ((np.arange(columns) + 0.5) * step_m)[None, :]
    across = 2 * np.pi * u / BOARD_M
    up = (2 * np.pi * (np.arange(rows) + 0.5) / rows)[:, None]  # once round in the repeat
    long, short = _SWEEP_M
    aside = long * np.sin(2 * up + 0.8 * np.sin(up)) + short * np.sin(3 * up - across + 0.7)
    phase = _CRESTS_PER_BOARD * (u + aside) / BOARD_M
    share = phase - np.floor(phase)
    ridge = np.where(share < _BACK, share / _BACK, (1 - share) / (1 - _BACK)) ** 1.7
    tall = 0.0150 + 0.0030 * np.sin(up + 0.6) + 0.0015 * np.cos(across + 2 * up)
    track = 0.00004 * np.abs(np.cos(np.pi * phase * _PASSES))
    heights = 0.0025 + tall * ridge + track
    # no two boards are set quite alike
    number = (u[0] / BOARD_M).astype(int).clip(0, round(boards) - 1)
    out = random.normal(0, 0.00025, round(boards))[number]
    lean = random.normal(0, 0.0006, round(boards))[number] * ((u[0] / BOARD_M) % 1.0 - 0.5)
    heights = heights + (out + lean)[None, :]
    upright = np.abs((u + BOARD_M / 2) % BOARD_M - BOARD_M / 2)
    level = np.minimum(up, 2 * np.pi - up) * height_m / (2 * np.pi)
    joint = np.minimum(upright, level)
    heights = heights - 0.0016 * (1 - rise(joint, 0.0005, 0.0055))
    orange = field(random, shape, step_m, longest_m=0.02, shortest_m=0.006, fall=0.8)
    cloud = field(random, shape, step_m, longest_m=0.8, shortest_m=0.10, fall=1.6)
    tone = 1 + 0.006 * orange + 0.006 * cloud - 0.30 * (1 - rise(joint, 0.0003, 0.0020))
    tone = tone * (1 + 0.014 * random.normal(0, 1, round(boards)))[number]
    return Sample(
        heights_m=worn(np.clip(heights, 0.0, DEPTH_M), step_m, 0.0024),
        reflectance_rgb=np.clip(_COLOUR * tone[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )
