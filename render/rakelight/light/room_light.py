"""The room's light by direction, brought from a relief's points to its vertices."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import EVEN, terms_of
from rakelight.light.kernels.outlook_light import beyond_terms
from rakelight.light.openness import CODES, around_rad
from rakelight.light.outlook import ACROSS, EDGES_DEG, UP, rays_of_bins
from rakelight.light.points import PointGrid
from rakelight.scene.white import luminous

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: A vertex receives at least this share of its openness times the light on the mean plane: what
#: a smooth curve between points takes away beyond that, it never had to give.
LEAST = 0.02
#: Where the linear fit gives a vertex less than these shares of that, its colour begins to go over
#: to the mean plane's, and has.
OWN_COLOUR = (0.4, 0.1)


def linear_and_beyond(light: Floats32, level: Floats32) -> tuple[Floats32, Floats32]:
    """Light by direction as a linear fit, and what that leaves out, weighted for luminance.

    Parameters
    ----------
    light : ndarray of float32, shape (points, bins, bands)
        From `by_direction`. [lm/m2]
    level : ndarray of float32, shape (points, bands)
        What each point receives on the mean plane, patch by patch: the fit meets that. [lx]

    Returns
    -------
    ndarray of float32, shape (TERMS, points, bands)
        Coefficients of the terms. [lx]
    ndarray of float32, shape (points, bins)
        Light in each bin, less the fit; nothing of it reaches the mean plane. [lx]
    """
    terms, fit = _fit()
    out: Floats32 = np.einsum("kc,pcb->kpb", fit, light)
    beyond = luminous(light) - np.einsum("ck,kp->pc", terms, luminous(out))
    # added alike from all around, not scaled: two groups together give the sum of each
    out[0] += level - np.einsum("k,kpb->pb", EVEN.astype(np.float32), out)
    return out, beyond


def _fit() -> tuple[Floats32, Floats32]:
    """Terms of each bin, shape (bins, TERMS), and each bin's part in the fit's coefficients."""
    way = rays_of_bins(around_rad())
    bins = len(EDGES_DEG) - 1
    terms = terms_of(way).astype(np.float64)
    terms = terms.reshape(-1, ACROSS * UP, terms.shape[1]).mean(axis=1)
    share = np.tile(np.diff(np.sin(np.radians(EDGES_DEG)) ** 2), len(terms) // bins)
    weighed = terms * share[:, None]
    fit = np.linalg.solve(weighed.T @ terms, weighed.T)
    return terms.astype(np.float32), fit.astype(np.float32)


def add_beyond(
    light: Floats32,
    around: NDArray[np.uint8],
    normals: Floats32,
    grid: PointGrid,
    beyond: Floats32,
    openness: Floats32,
    plane: Floats32,
    nodes: Floats32,
    colours: Floats32,
    heights_m: Floats32,
    rise: Floats32 | None = None,
) -> None:
    """Add to vertices' light of the room what a linear fit left out, in place.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, bands)
        Of the room as a linear function of direction, by `vertex_light`; below 0 where the
        light is far from linear. Each vertex's colour stays, but where the linear part says
        little: there it is the mean plane's. [lx]
    around : ndarray of uint8, shape (azimuths, rows, columns)
        Codes of the horizons, from `open_moments`.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    grid : PointGrid
        The wall's points.
    beyond : ndarray of float32, shape (v, u, bins)
        From `linear_and_beyond`, by row and column of points. [lx]
    openness : ndarray of float32, shape (rows, columns)
        Form factor of each vertex to the room.
    plane : ndarray of float32, shape (rows, columns)
        Light on the mean plane, weighted for luminance. [lx]
    nodes : ndarray of float32, shape (v, u, bands)
        The same at the points, by band. [lx]
    colours : ndarray of float32, shape (2, bands)
        From `colours_of`: no vertex takes others.
    heights_m : ndarray of float32, shape (rows, columns)
        Over the mean plane. [m]
    rise : ndarray of float32, like `beyond`, optional
        How that changes with height. [lx/m]

    Notes
    -----
    With a the normal's component along an azimuth, n that out of the wall, and x the horizon's
    elevation, the facing cosine integrated up to the horizon is a (x + sin x cos x) / 2 -
    n cos(x)^2 / 2, as in `find_glow`. The sum over bins of light times the difference of that
    between their edges is taken edge by edge, as light that begins or ends there.
    """
    f32 = np.float32
    turn = around_rad()
    horizon = np.pi / 2 - np.arange(CODES + 1) * (np.pi / CODES)
    edge_a, edge_n = _up_to(np.radians(EDGES_DEG))
    at, mix = grid.along_u
    breaks = np.flatnonzero((np.diff(at, axis=0) != 0).any(axis=1)) + 1
    more = np.zeros(light.shape[:2], f32)
    beyond_terms(
        around,
        normals,
        np.stack(_up_to(np.maximum(horizon, 0))).astype(f32),
        np.sin(turn).astype(f32),
        np.cos(turn).astype(f32),
        edge_a.astype(f32),
        edge_n.astype(f32),
        at,
        np.ascontiguousarray(mix.T),
        np.concatenate([[0], breaks, [len(at)]]).astype(np.int32),
        _steps_by_row(grid, beyond, turn.size),
        heights_m,
        np.zeros((len(heights_m), 0), f32)
        if rise is None
        else _steps_by_row(grid, rise, turn.size),
        more,
    )
    usual = openness * plane
    own = luminous(light)
    more += own
    np.maximum(more, LEAST * usual, out=more)
    if light.shape[2] == 1:
        light[..., 0] = more
        return
    high, low = (np.float32(share) for share in OWN_COLOUR)
    weak = own < high * usual
    for band, (least, most) in enumerate(colours.T):
        weak |= (light[..., band] < least * own) | (light[..., band] > most * own)
    row, column = np.nonzero(weak)
    colour = np.maximum(light[weak], 0)
    known = ~weak & (own > 0)  # none of both where a picture hangs before the wall
    light *= np.divide(more, own, out=np.zeros_like(more), where=known)[..., None]
    if not row.size:
        return
    share = own[weak] / np.maximum(usual[weak], np.float32(1e-9))
    share = np.clip((share - low) / (high - low), 0, 1)[:, None].astype(np.float32)
    colour = share * _at_one(colour) + (1 - share) * _at_one(grid.at(row, column, nodes))
    light[weak] = _at_one(np.clip(colour, *colours)) * more[weak][:, None]


def colours_of(light: Floats32) -> Floats32:
    """Least and most of each band in light by direction whose luminance is 1, shape (2, bands).

    Parameters
    ----------
    light : ndarray of float32, shape (points, bins, bands)
        From `by_direction`. [lm/m2]
    """
    flat = light.reshape(-1, light.shape[2])
    level = luminous(flat)
    some = level > np.float32(1e-3) * level.mean()
    if not some.any():
        return np.ones((2, light.shape[2]), np.float32)
    each = flat[some] / level[some][:, None]
    return np.stack([each.min(axis=0), each.max(axis=0)])


def _at_one(light: Floats32) -> Floats32:
    """Light whose luminance is 1, shape (n, bands)."""
    light = np.maximum(light, 0)
    light /= np.maximum(luminous(light), np.float32(1e-9))[:, None]
    return light


def _steps_by_row(grid: PointGrid, beyond: Floats32, turns: int) -> Floats32:
    """Steps of the light at the bins' edges, at every row of vertices, (rows, u turns edges)."""
    beyond = beyond.reshape(*beyond.shape[:2], turns, -1)
    steps = np.empty((*beyond.shape[:3], beyond.shape[3] + 1), np.float32)
    steps[..., 0] = -beyond[..., 0]
    steps[..., 1:-1] = beyond[..., :-1] - beyond[..., 1:]
    steps[..., -1] = beyond[..., -1]
    steps *= np.float32(2 / turns)  # an azimuth's width over pi
    steps = steps.reshape(len(steps), -1)
    at, mix = grid.along_v
    weights = np.zeros((len(at), len(steps)), np.float32)
    for k in range(at.shape[1]):  # a node at the edge may be there twice
        weights[np.arange(len(at)), at[:, k]] += mix[:, k]
    out: Floats32 = weights @ steps
    return out


def _up_to(elevation_rad: NDArray[np.floating[Any]]) -> tuple[Floats, Floats]:
    """Integrals of cos^2 and of sin cos up to elevations, less constants."""
    cosine = np.cos(elevation_rad)
    return (elevation_rad + np.sin(elevation_rad) * cosine) / 2, -(cosine**2) / 2
