"""Finishes without depth for floors, ceilings and plain walls: oak, terrazzo, flags, paint, felt.

Each is a map of diffuse reflectance that repeats without a seam, with no light in it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from rakelight.samples.periodic import Array, curve, field, rise, shape_of, window

_OAK = np.array([0.375, 0.262, 0.160])  # linear Rec.709 reflectances
_OAK_GAP = np.array([0.060, 0.045, 0.032])
_BOARD_M = 0.160
_BINDER = np.array([0.560, 0.540, 0.500])
_BRASS = np.array([0.420, 0.330, 0.170])
_CHIPS = np.array(
    [
        [0.640, 0.620, 0.580],  # white marble
        [0.420, 0.400, 0.370],  # grey
        [0.500, 0.420, 0.320],  # buff
        [0.180, 0.175, 0.170],  # black
        [0.400, 0.270, 0.210],  # rose
    ]
)
_CHIPS_OFTEN = np.array([0.36, 0.26, 0.20, 0.10, 0.08])
_FLAG = np.array([0.345, 0.320, 0.278])
_FLAG_M = (0.9, 0.6)
_FLAG_JOINT = np.array([0.240, 0.225, 0.200])
_PAINT = np.array([0.800, 0.790, 0.765])
_FELT = np.array([0.235, 0.232, 0.226])
_PANEL_M = 1.2


@dataclass(frozen=True, slots=True, eq=False)
class Finish:
    """A reflectance map that repeats in both directions.

    Parameters
    ----------
    reflectance_rgb : ndarray of float64, shape (rows, columns, 3)
        Linear Rec.709 diffuse reflectance, 0 to 1; row 0 at the top.
    width_m, height_m : float
        Physical size of one repeat. [m]
    """

    reflectance_rgb: Array
    width_m: float
    height_m: float


def _made(reflectance: Array, width_m: float, height_m: float) -> Finish:
    return Finish(np.clip(reflectance, 0.02, 0.9), width_m, height_m)


def oak_boards(
    seed: int = 2, *, width_m: float = 4.8, height_m: float = 2.4, step_m: float = 0.002
) -> Finish:
    """Oiled oak boards, 160 mm wide, laid along u in random lengths.

    Parameters
    ----------
    seed : int
        Same seed, same floor.
    width_m, height_m : float
        Size of the repeat; the height in whole boards. [m]
    step_m : float
        Distance between samples. [m]
    """
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    boards = shape_of(height_m, height_m, _BOARD_M)[0]
    random = np.random.default_rng([seed, 1])
    fibre = field(random, shape, step_m, longest_m=0.030, shortest_m=0.004, fall=0.9, stretch=28)
    pore = field(random, shape, step_m, longest_m=0.008, shortest_m=0.004, fall=0.5, stretch=12)
    figure = field(random, shape, step_m, longest_m=0.12, shortest_m=0.012, fall=1.6, stretch=16)
    out = np.empty((*shape, 3))
    u = (np.arange(columns) + 0.5) * step_m
    edge = round(0.0016 / step_m)
    for row in range(boards):
        one = np.random.default_rng([seed, 2, row])
        low, high = round(row * _BOARD_M / step_m), round((row + 1) * _BOARD_M / step_m)
        count = max(1, round(width_m / 1.75))
        share = one.uniform(0.7, 1.3, count)
        ends = one.uniform(0, width_m) + np.cumsum(share) * width_m / share.sum()
        for k in range(count):
            long = ends[k] - (ends[k - 1] if k else ends[-1] - width_m)
            here = np.flatnonzero((ends[k] - u) % width_m < long)
            tall = high - low
            start = int(one.integers(rows)), int(one.integers(columns))
            cut = tuple(
                np.take(
                    np.take(f, np.arange(start[0], start[0] + tall), axis=0, mode="wrap"),
                    (here + start[1]) % columns,
                    axis=1,
                )
                for f in (fibre, pore, figure)
            )
            # growth rings cut lengthwise: cathedral arches up the middle of some boards
            across = (np.arange(tall) - tall / 2)[:, None] * step_m
            arch = one.uniform(2.0, 6.0) * one.choice([-1, 1]) * across**2 / 0.02
            ring = np.sin(
                2 * np.pi * ((0.35 * u[here][None, :] + 8 * arch * 0.02) / 0.07 + 0.5 * cut[2])
            )
            strength = 0.02 + 0.05 * one.random()
            value = np.exp(one.normal(0, 0.13)) * (
                1 + strength * ring + 0.045 * cut[0] + 0.06 * cut[2] - 0.14 * rise(cut[1], 1.3, 2.6)
            )
            warm = 1 + one.normal(0, 0.05)
            wood = _OAK * value[..., None] ** (np.array([1.0, 1.10, 1.25]) * warm)
            from_end = np.minimum(
                (ends[k] - u[here]) % width_m, long - (ends[k] - u[here]) % width_m
            )
            shut = (from_end > 0.0012)[None, :, None]
            out[low:high, here] = np.where(shut, wood, _OAK_GAP)
        out[low : low + max(1, edge)] = _OAK_GAP
    return _made(out, width_m, height_m)


def _cells(
    random: np.random.Generator, shape: tuple[int, int], step: float, spacing_m: float
) -> tuple[Array, Array]:
    """Cells about random points: index of each sample's nearest, and distance to its border."""
    rows, columns = shape
    size = (rows * step, columns * step)
    count = max(4, round(size[0] * size[1] / spacing_m**2))
    points = random.uniform(0, 1, (count, 2)) * size
    tree = cKDTree(points, boxsize=size)
    v, u = np.meshgrid(
        (np.arange(rows) + 0.5) * step, (np.arange(columns) + 0.5) * step, indexing="ij"
    )
    away, index = tree.query(np.stack([v.ravel(), u.ravel()], axis=1), k=2)
    border = (away[:, 1] - away[:, 0]) / 2
    return index[:, 0].reshape(shape), np.asarray(border.reshape(shape))


def terrazzo(
    seed: int = 6, *, width_m: float = 2.4, height_m: float = 2.4, step_m: float = 0.002
) -> Finish:
    """Ground terrazzo: marble chips of 3 to 25 mm in a pale binder, brass strips every 1.2 m."""
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    cloud = field(random, shape, step_m, longest_m=0.04, shortest_m=0.004, fall=1.2)
    out = np.broadcast_to(_BINDER, (*shape, 3)) * (1 + 0.02 * cloud)[..., None]
    for spacing, share, gap in (
        (0.0055, 0.45, 0.0004),
        (0.012, 0.5, 0.0008),
        (0.024, 0.42, 0.0018),
    ):
        index, border = _cells(random, shape, step_m, spacing)
        count = int(index.max()) + 1
        kept = random.random(count) < share
        kind = random.choice(len(_CHIPS), count, p=_CHIPS_OFTEN)
        paint = _CHIPS[kind] * np.exp(random.normal(0, 0.10, count))[:, None]
        shrink = gap + random.uniform(0, 0.22, count) * spacing
        cover = kept[index] * rise(border - shrink[index], -step_m / 2, step_m / 2)
        marble = paint[index] * (1 + 0.06 * cloud)[..., None]
        out = out + cover[..., None] * (marble - out)
    u, v = (np.arange(columns) + 0.5) * step_m, (np.arange(rows) + 0.5) * step_m
    strip = np.minimum(
        np.abs((u + 0.6) % _PANEL_M - 0.6)[None, :], np.abs((v + 0.6) % _PANEL_M - 0.6)[:, None]
    )
    out = np.where((strip < 0.0021)[..., None], _BRASS, out)
    return _made(out, width_m, height_m)


def stone_flags(
    seed: int = 7, *, width_m: float = 3.6, height_m: float = 2.4, step_m: float = 0.002
) -> Finish:
    """Honed limestone flags of 900 x 600 mm, every second row moved half a flag, 4 mm joints."""
    shape = rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    cloud = field(random, shape, step_m, longest_m=0.35, shortest_m=0.008, fall=1.5, stretch=1.8)
    bed = field(random, shape, step_m, longest_m=0.06, shortest_m=0.006, fall=1.2, stretch=6.0)
    grain = field(random, shape, step_m, longest_m=0.010, shortest_m=0.004, fall=0.5)
    vein = field(random, shape, step_m, longest_m=0.5, shortest_m=0.02, fall=1.8)
    out = np.broadcast_to(_FLAG_JOINT, (*shape, 3)) * (1 + 0.05 * grain)[..., None]
    tall, long = round(_FLAG_M[1] / step_m), round(_FLAG_M[0] / step_m)
    x = (np.arange(long) + 0.5) * step_m
    y = (np.arange(tall) + 0.5) * step_m
    for number in range((rows // tall) * (columns // long)):
        one = np.random.default_rng([seed, 2, number])
        j, i = divmod(number, columns // long)
        at = (int(one.integers(rows)), int(one.integers(columns)))
        soft, layer, fine, line = (window(f, *at, tall, long) for f in (cloud, bed, grain, vein))
        if one.random() < 0.5:
            soft, line = soft[::-1], line[:, ::-1]
        ragged = 0.0020 + 0.0003 * curve(one, long, step_m, longest_m=0.3, shortest_m=0.01)
        edge = np.minimum(
            np.minimum(y[:, None] - ragged, _FLAG_M[1] - y[:, None] - ragged),
            np.minimum(x, _FLAG_M[0] - x)[None, :] - 0.0020,
        )
        value = np.exp(one.normal(0, 0.06)) * (
            1 + 0.055 * soft + 0.025 * layer + 0.018 * fine - 0.06 * rise(fine, 2.2, 3.0)
        )
        # healed cracks, paler
        value = value + 0.10 * np.exp(-((line / 0.025) ** 2)) * rise(soft, 0.2, 1.4)
        tint = np.array([1.0, 1.0 + one.normal(0, 0.003), 1.0 + one.normal(0, 0.015)])
        cover = rise(edge, -step_m / 2, step_m / 2)[..., None]
        cells = np.ix_(
            (j * tall + np.arange(tall)) % rows,
            (i * long + (j % 2) * (long // 2) + np.arange(long)) % columns,
        )
        out[cells] += cover * (_FLAG * tint * value[..., None] - out[cells])
    return _made(out, width_m, height_m)


def painted_plaster(
    seed: int = 9, *, width_m: float = 2.4, height_m: float = 2.4, step_m: float = 0.003
) -> Finish:
    """Matt white paint, rolled: nearly even, as it should be."""
    shape = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    roller = field(random, shape, step_m, longest_m=0.4, shortest_m=0.03, fall=1.2, stretch=0.3)
    nap = field(random, shape, step_m, longest_m=0.02, shortest_m=0.006, fall=0.6)
    tone = 1 + 0.008 * roller + 0.006 * nap
    return _made(_PAINT * tone[..., None], width_m, height_m)


def acoustic_felt(
    seed: int = 15, *, width_m: float = 2.4, height_m: float = 2.4, step_m: float = 0.002
) -> Finish:
    """Felt panels 1.2 m wide, pressed from dark, mid and pale fibres."""
    shape = _, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    mottle = field(random, shape, step_m, longest_m=0.08, shortest_m=0.006, fall=1.1)
    value = 1 + 0.035 * mottle
    for turn in (0.35, 1.0, 2.8):  # fibres lie every way, in tufts
        tuft = field(
            random, shape, step_m, longest_m=0.016, shortest_m=0.004, fall=0.6, stretch=turn
        )
        value = value + 0.06 * tuft + 0.12 * rise(tuft, 1.6, 3.0) - 0.10 * rise(-tuft, 1.6, 3.0)
    u = (np.arange(columns) + 0.5) * step_m
    away = np.abs((u + _PANEL_M / 2) % _PANEL_M - _PANEL_M / 2)
    panel = 1 + random.normal(0, 0.025, round(width_m / _PANEL_M))
    value = value * panel[(u / _PANEL_M).astype(int)] * (1 - 0.55 * (1 - rise(away, 0.001, 0.003)))
    return _made(_FELT * value[..., None], width_m, height_m)
