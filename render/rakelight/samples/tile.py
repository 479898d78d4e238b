"""Folded tile: square tiles, each folded up to a point of its own, with narrow joints.

They are pressed clay under a matt glaze: the folds are rounded, the faces a little full, and the
glaze has drawn back from the sharp parts, where the body shows warmer.
"""

import numpy as np

from rakelight.samples.periodic import Array, Sample, block_mean, field, rise, shape_of, worn

DEPTH_M = 0.026
TILE_M = 0.15
_FINER = 2
_FOLD_M = 0.0045  # about half of a fold's round
_COLOUR = np.array([0.700, 0.690, 0.660])  # linear Rec.709 reflectance of a matt white glaze
_BODY = np.array([0.600, 0.560, 0.500])  # of the clay, through thin glaze
_GROUT = np.array([0.420, 0.410, 0.390])


def folded_tile(
    seed: int = 17, *, width_m: float = 2.4, height_m: float = 1.8, step_m: float = 0.0015
) -> Sample:
    """Draw one repeat of folded tile.

    Parameters
    ----------
    seed : int
        Same seed, same tiles.
    width_m, height_m : float
        Size of the repeat in whole tiles of 150 mm. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 26 mm from the joints to the highest point that a tile can have.

    Raises
    ------
    ValueError
        If the size is no whole number of tiles.
    """
    across, up = width_m / TILE_M, height_m / TILE_M
    if abs(across - round(across)) > 1e-6 or abs(up - round(up)) > 1e-6:
        raise ValueError(f"{width_m} x {height_m} m is no whole number of {TILE_M} m tiles")
    shape_of(width_m, height_m, step_m)
    fine = step_m / _FINER
    shape = rows, columns = shape_of(width_m, height_m, fine)
    random = np.random.default_rng([seed, 1])
    glaze = field(random, shape, fine, longest_m=0.10, shortest_m=0.012, fall=1.8)
    speck = field(random, shape, fine, longest_m=0.006, shortest_m=0.003, fall=0.5)
    heights = np.empty(shape)
    colour = np.empty((*shape, 3))
    v = (np.arange(rows) + 0.5) * fine
    u = (np.arange(columns) + 0.5) * fine
    for number in range(round(across) * round(up)):
        one = np.random.default_rng([seed, 2, number])
        j, i = divmod(number, round(across))
        in_rows = slice(np.searchsorted(v, j * TILE_M), np.searchsorted(v, (j + 1) * TILE_M))
        in_columns = slice(np.searchsorted(u, i * TILE_M), np.searchsorted(u, (i + 1) * TILE_M))
        x = np.asarray(u[in_columns] - i * TILE_M, dtype=np.float64)[None, :]
        y = np.asarray(v[in_rows] - j * TILE_M, dtype=np.float64)[:, None]
        heights[in_rows, in_columns], cover, bare = _tile(one, x, y, fine)
        cells = in_rows, in_columns
        value = np.exp(one.normal(0, 0.025)) * (1 + 0.014 * glaze[cells] + 0.008 * speck[cells])
        tint = np.exp(one.normal(0, 0.010) * np.array([0.6, 0.0, -1.0]))
        bare = np.clip(bare * (0.55 + 0.25 * glaze[cells]), 0, 0.9)
        bare = np.maximum(bare, 0.30 * rise(speck[cells], 3.0, 3.8))[..., None]
        white = (_COLOUR + bare * (_BODY - _COLOUR)) * tint * value[..., None]
        colour[in_rows, in_columns] = _GROUT + cover[..., None] * (white - _GROUT)
    # less than a tenth of a degree: beyond it, faces that the light just clears turn mottled
    heights += 0.000004 * glaze
    return Sample(
        heights_m=np.clip(worn(block_mean(heights, _FINER), step_m, 0.0012), 0.0, DEPTH_M)[::-1],
        reflectance_rgb=block_mean(np.clip(colour, 0.02, 0.85), _FINER)[::-1],
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _tile(
    random: np.random.Generator, x: Array, y: Array, fine: float
) -> tuple[Array, Array, Array]:
    """Heights of one tile [m], where it covers the joint, and where its glaze is thin."""
    # the point lies off the middle, in one of four places, so that the folds read as a pattern
    turn = int(random.integers(4))
    top_x = TILE_M * (0.32, 0.68, 0.68, 0.32)[turn]
    top_y = TILE_M * (0.32, 0.32, 0.68, 0.68)[turn]
    top = float(random.choice([0.013, 0.018, 0.0225]))
    rim = 0.0025
    # a point over a square: the least of the four planes through the rim and the point, rounded
    # where they meet; a glaze fills no hollow and keeps no edge
    planes = np.stack(
        np.broadcast_arrays(
            x / top_x, (TILE_M - x) / (TILE_M - top_x), y / top_y, (TILE_M - y) / (TILE_M - top_y)
        )
    )
    soft = _FOLD_M / (0.5 * TILE_M)
    least = planes.min(axis=0)
    share = np.exp((least - planes) / soft)
    round_ = least - soft * np.log(share.sum(axis=0))
    fold = rise(least - round_, 0.35 * soft, 0.69 * soft)
    # pressed faces are a little full, each press and each kiln place in its own way
    full = random.normal(0.03, 0.02) * np.sin(np.pi * np.clip(round_, 0, 1))
    face = rim + top * np.maximum(round_ + full, -0.1)
    lean_x, lean_y = random.normal(0, 0.0022, 2)
    face = face + random.normal(0, 0.00025)
    face = face + lean_x * (x - TILE_M / 2) + lean_y * (y - TILE_M / 2)
    # corners rounded to 2 mm
    near_x, near_y = np.minimum(x, TILE_M - x) - 0.001, np.minimum(y, TILE_M - y) - 0.001
    corner = 0.002
    edge = np.minimum(np.minimum(near_x, near_y), corner)
    outside = np.hypot(np.clip(corner - near_x, 0, None), np.clip(corner - near_y, 0, None))
    edge = np.minimum(edge, corner - outside)
    cover = rise(edge, -0.4 * fine, 0.6 * fine)
    face = np.maximum(face, 0.0012)
    return np.asarray(0.0006 + cover * (face - 0.0006)), cover, fold
