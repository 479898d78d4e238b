"""The room's light by direction, brought from a relief's points to its vertices."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import EVEN, TERMS, terms_of
from rakelight.light.hollow_wall import HollowWall
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
    terms = _terms_of_bins()
    bins = len(EDGES_DEG) - 1
    share = np.tile(np.diff(np.sin(np.radians(EDGES_DEG)) ** 2), len(terms) // bins)
    weighed = terms * share[:, None]
    fit = np.linalg.solve(weighed.T @ terms, weighed.T)
    return terms.astype(np.float32), fit.astype(np.float32)


def _terms_of_bins() -> Floats:
    """Means of the terms over each bin's rays, shape (bins, TERMS)."""
    terms = terms_of(rays_of_bins(around_rad())).astype(np.float64)
    out: Floats = terms.reshape(-1, ACROSS * UP, terms.shape[1]).mean(axis=1)
    return out


def beyond_at_vertices(
    wall: HollowWall, grid: PointGrid, linear: Floats32, beyond: Floats32, near: Floats32
) -> Floats32:
    """What vertices receive of light that a linear fit leaves out, shape (rows, columns). [lx]

    Parameters
    ----------
    wall : HollowWall
        The relief; its vertices' horizons are known.
    grid : PointGrid
        Its points.
    linear : ndarray of float32, shape (TERMS, points)
        The fit's coefficients, weighted for luminance. [lx]
    beyond : ndarray of float32, shape (points, bins)
        From `linear_and_beyond`. [lx]
    near : ndarray of float32, shape (points, azimuths)
        From `nearness`. [1/m]

    Notes
    -----
    With a the normal's component along an azimuth, n that out of the wall, and x the horizon's
    elevation, the facing cosine integrated up to the horizon is a (x + sin x cos x) / 2 -
    n cos(x)^2 / 2, as in `find_glow`. The sum over bins of light times the difference of that
    between their edges is taken edge by edge, as light that begins or ends there.

    What stands 10 mm out of a wall sees a bright strip of the next surface, 100 mm away from the
    wall, under a flatter angle than the mean plane does: the edges move with a vertex's height.
    A stone 0.2 m from a corner received 7 % less of all light in a grazed room without, and bricks
    under a ceiling, on a wall 12 mm out of true, 10 % less.
    """
    assert wall.around is not None
    turn = around_rad()
    whole = beyond + np.einsum("ck,kp->pc", _terms_of_bins().astype(np.float32), linear)
    horizon = np.maximum(np.pi / 2 - np.arange(CODES + 1) * (np.pi / CODES), 0)
    at, mix = grid.along_u
    breaks = np.flatnonzero((np.diff(at, axis=0) != 0).any(axis=1)) + 1
    width = np.float32(2 / turn.size)  # an azimuth's, over pi
    out = np.zeros(wall.moments.shape[1:], np.float32)
    beyond_terms(
        wall.around,
        wall.normals,
        np.stack(_up_to(horizon)).astype(np.float32),
        _terms_above(horizon).astype(np.float32),
        np.sin(turn).astype(np.float32),
        np.cos(turn).astype(np.float32),
        _edges().astype(np.float32),
        at,
        np.ascontiguousarray(mix.T),
        np.concatenate([[0], breaks, [len(at)]]).astype(np.int32),
        _by_row(grid, linear.T * width),
        _by_row(grid, _steps(whole, turn.size) * width),
        _by_row(grid, near),
        wall.hollows.relief.heights_m,
        out,
    )
    return out


def add_beyond(
    light: Floats32,
    more: Floats32,
    openness: Floats32,
    plane: Floats32,
    grid: PointGrid,
    level: Floats32,
    colours: Floats32,
) -> None:
    """Add to vertices' light of the room what a linear fit left out, in place.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, bands)
        Of the room as a linear function of direction, by `vertex_light`; below 0 where the
        light is far from linear. Each vertex's colour stays, but where the linear part says
        little: there it is the mean plane's. [lx]
    more : ndarray of float32, shape (rows, columns)
        From `beyond_at_vertices`; changed. [lx]
    openness : ndarray of float32, shape (rows, columns)
        Form factor of each vertex to the room.
    plane : ndarray of float32, shape (rows, columns)
        Light on the mean plane, weighted for luminance. [lx]
    grid : PointGrid
        The wall's points.
    level : ndarray of float32, shape (points, bands)
        What they receive on the mean plane. [lx]
    colours : ndarray of float32, shape (2, bands)
        From `colours_of`: no vertex takes others.
    """
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
    colour = share * _at_one(colour) + (1 - share) * _at_one(
        grid.at(row, column, grid.spread(level))
    )
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


def _by_row(grid: PointGrid, at_points: Floats32) -> Floats32:
    """Values of points, shape (points, k), at every row of vertices, (rows, u k)."""
    field = grid.spread(at_points)
    flat = field.reshape(len(field), -1)
    at, mix = grid.along_v
    weights = np.zeros((len(at), len(flat)), np.float32)
    for k in range(at.shape[1]):  # a node at the edge may be there twice
        weights[np.arange(len(at)), at[:, k]] += mix[:, k]
    out: Floats32 = weights @ flat
    return out


def _steps(light: Floats32, turns: int) -> Floats32:
    """How much less light there is above the bins' edges than below, (points, turns edges)."""
    light = light.reshape(len(light), turns, -1)
    out: Floats32 = -np.diff(light, axis=2, prepend=np.float32(0), append=np.float32(0))
    return out.reshape(len(light), -1)


def _edges() -> Floats:
    """Of the bins' edges by elevation, what `beyond_terms` takes: shape (7, edges).

    With t the tangent, d/dt of (x + sin x cos x) / 2 is cos(x)^4 and that of -cos(x)^2 / 2 is
    sin x cos(x)^3. The lowest edge stays: the mean plane has no light below.
    """
    elevation = np.radians(EDGES_DEG)
    cosine, tangent = np.cos(elevation), np.tan(elevation)
    square = cosine**2
    moved = np.stack(
        [
            square**2,
            tangent * square**2,
            -2 * tangent * square**3,
            square**3 * (1 - 3 * tangent**2) / 2,
        ]
    )
    moved[:, [0, -1]] = 0
    out: Floats = np.stack([tangent, *_up_to(elevation), *moved])
    return out


def _terms_above(horizon_rad: Floats) -> Floats:
    """Integrals, from horizons on, of 1, w along an azimuth and w_n, a bin's mean each.

    Shape (2, 3, horizons): with cos^2 and with sin cos.
    """
    edges = np.maximum(np.radians(EDGES_DEG)[:, None], horizon_rad)
    parts = np.diff(np.stack(_up_to(edges)), axis=1)
    turn = around_rad()
    one, u, v, n = _terms_of_bins().reshape(turn.size, -1, TERMS)[0].T  # all azimuths alike
    terms = np.stack([one, u * np.sin(turn[0]) + v * np.cos(turn[0]), n], axis=1)
    out: Floats = np.einsum("jt,pjh->pth", terms, parts)
    return out


def _up_to(elevation_rad: NDArray[np.floating[Any]]) -> tuple[Floats, Floats]:
    """Integrals of cos^2 and of sin cos up to elevations, less constants."""
    cosine = np.cos(elevation_rad)
    return (elevation_rad + np.sin(elevation_rad) * cosine) / 2, -(cosine**2) / 2
