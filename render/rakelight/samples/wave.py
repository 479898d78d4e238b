"""Routed wave panel: dunes cut into boards by a ball-nosed tool, lacquered.

The crests wander up the wall, run together and part again. Boards are 1.2 m wide; the pattern
goes on across their joints, which are shut but can be seen. Along every pass the tool has left
a track a few hundredths of a millimetre deep.
"""

import numpy as np

from rakelight.samples.periodic import Sample, field, rise, shape_of, worn

DEPTH_M = 0.024
BOARD_M = 1.2
_CRESTS_PER_BOARD = 13
_COLOUR = np.array([0.760, 0.750, 0.725])  # linear Rec.709 reflectance of a white lacquer


def wave_panel(
    seed: int = 14, *, width_m: float = 2.4, height_m: float = 2.4, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of the routed wave panel.

    Parameters
    ----------
    seed : int
        Same seed, same waves.
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
    shape = _, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    drift = field(random, shape, step_m, longest_m=2.0, shortest_m=0.35, fall=2.2, stretch=0.5)
    bend = field(random, shape, step_m, longest_m=0.9, shortest_m=0.20, fall=2.2, stretch=0.45)
    swell = field(random, shape, step_m, longest_m=1.5, shortest_m=0.30, fall=2.0, stretch=0.6)
    u = ((np.arange(columns) + 0.5) * step_m)[None, :]
    phase = _CRESTS_PER_BOARD * u / BOARD_M + 0.30 * drift + 0.10 * bend
    share = phase - np.floor(phase)
    # a dune: a long back, a short face, the crest eased with sandpaper
    crest = 0.62
    dune = np.where(share < crest, share / crest, (1 - share) / (1 - crest))
    dune = 0.5 - 0.5 * np.cos(np.pi * dune)
    dune = dune**1.35
    tall = 0.0135 + 0.0032 * np.clip(swell, -2, 2)
    track = 0.00003 * np.cos(2 * np.pi * phase * 16)
    heights = 0.0020 + tall * dune + track
    joint = np.abs((u + BOARD_M / 2) % BOARD_M - BOARD_M / 2)
    heights = heights - 0.0007 * (1 - rise(joint, 0.0006, 0.0030))
    orange = field(random, shape, step_m, longest_m=0.02, shortest_m=0.006, fall=0.8)
    tone = 1 + 0.006 * orange - 0.22 * (1 - rise(joint, 0.0004, 0.0018))
    tone = (
        tone
        * (1 + 0.012 * random.normal(0, 1, round(boards)))[
            (u / BOARD_M).astype(int).clip(0, round(boards) - 1)
        ]
    )
    return Sample(
        heights_m=worn(np.clip(heights, 0.0, DEPTH_M), step_m, 0.0015),
        reflectance_rgb=np.clip(_COLOUR * tone[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )
