"""What a relief's vertices see of the room, direction by direction.

A vertex under a ledge sees a slice of the room. Taken as linear in direction, the room's light on
such vertices of a grazed ledgestone was 10 % off (RMS), and on open ones that look aside 5 %. So
each point of the wall looks along fixed rays at the room's patches, and what it sees, by bins of
azimuth and elevation, less the linear part, is weighted at each vertex with what its horizons
leave of each bin. Light that is the same all over, or linear, is left as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.directions import EVEN, terms_of
from rakelight.light.gather import Directed, SubPatches
from rakelight.light.glow import cells_of
from rakelight.light.kernels.outlook_light import beyond_terms
from rakelight.light.openness import CODES, around_rad
from rakelight.light.patches import SPLIT, Patches
from rakelight.light.points import PointGrid
from rakelight.scene.surfaces import Surface
from rakelight.scene.white import LUMINANCE_WEIGHTS

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Edges of the bins by elevation over the mean plane; an even number. [deg]
EDGES_DEG = (0.0, 5.0, 10.0, 16.0, 24.0, 33.0, 43.0, 55.0, 70.0, 90.0)
#: Rays of a bin: across and up.
ACROSS, UP = 3, 2
#: Rays start this far off the surface. [m]
LIFT_M = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What the points of a wall see along their rays.

    Parameters
    ----------
    starts_m : ndarray of float32, shape (points, 3)
        Where each point's rays start. [m]
    ways : ndarray of float32, shape (rays, 3)
        Their unit directions in the room, bin by bin.
    seen : ndarray of int32, shape (points, rays)
        Patch that each meets; -1: none.
    sub : ndarray of int32, shape (points, rays)
        Sub-patch; -1: none.
    length_m : ndarray of float32, shape (points, rays)
        How far away it is. [m]
    """

    starts_m: Floats32
    ways: Floats32
    seen: Ints
    sub: Ints
    length_m: Floats32


def rays_of_bins(azimuths_rad: Floats) -> Floats:
    """Directions (u, v, n) that stand for equal cosine within each bin, shape (rays, 3).

    Azimuth by azimuth, elevation by elevation.
    """
    width = 2 * np.pi / azimuths_rad.size
    turn = azimuths_rad[:, None] + width * ((np.arange(ACROSS) + 0.5) / ACROSS - 0.5)
    square = np.sin(np.radians(EDGES_DEG)) ** 2
    share = (np.arange(UP) + 0.5) / UP
    height = np.sqrt(square[:-1, None] + np.diff(square)[:, None] * share)
    flat = np.sqrt(1 - height**2)
    shape = (azimuths_rad.size, height.shape[0], ACROSS, UP)
    turn, height, flat = (
        np.broadcast_to(x, shape) for x in (turn[:, None, :, None], height[:, None], flat[:, None])
    )
    out: Floats = np.stack([np.sin(turn) * flat, np.cos(turn) * flat, height], axis=-1)
    return out.reshape(-1, 3)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Patches that rays can meet.

    Parameters
    ----------
    scene : object
        The ray tracer's.
    patch : ndarray of int32, shape (triangles,)
        Patch of each of its triangles.
    normals : ndarray of float32, shape (triangles, 3)
        Where its front is.
    """

    scene: EmbreeScene
    patch: Ints
    normals: Floats32


def sight_of(patches: Patches, first: int = 0) -> Sight:
    """Let rays meet patches, which are numbered from `first`."""
    corners, most = patches.corners_m, int(patches.counts.max())
    fans = [corners[:, [0, k, k + 1]][patches.counts > k + 1] for k in range(1, most - 1)]
    which = [np.flatnonzero(patches.counts > k + 1) for k in range(1, most - 1)]
    patch = np.concatenate(which)
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(np.concatenate(fans), np.float32))
    normals = patches.normals[patch].astype(np.float32)
    return Sight(scene, (patch + first).astype(np.int32), normals)


def look_out(surface: Surface, grid: PointGrid, sight: Sight, subs: SubPatches) -> Outlook:
    """What a surface's points see of the patches.

    Parameters
    ----------
    surface : Surface
        With relief.
    grid : PointGrid
        Its points.
    sight : Sight
        Of the room and the bodies that stay.
    subs : SubPatches
        Of the room's patches.
    """
    frame = surface.frame
    axes = np.stack([frame.u, frame.v, frame.n])
    ways = (rays_of_bins(around_rad()) @ axes).astype(np.float32)
    starts = (grid.points_m + LIFT_M * frame.n).astype(np.float32)
    shape = (len(starts), len(ways))
    seen, length = _met(sight, np.repeat(starts, shape[1], axis=0), np.tile(ways, (shape[0], 1)))
    outlook = Outlook(
        starts,
        ways,
        seen.reshape(shape),
        np.full(shape, -1, np.int32),
        length.reshape(shape),
    )
    return replace(outlook, sub=_subs_at(outlook, subs))


def past_bodies(outlook: Outlook, sight: Sight, low_m: Floats, high_m: Floats) -> Outlook:
    """Put more bodies, within a box each, shape (bodies, 3) [m], before what is seen."""
    with np.errstate(divide="ignore"):
        per = 1 / outlook.ways
    rays = np.zeros(outlook.seen.shape, np.bool_)
    for low, high in zip(low_m.astype(np.float32), high_m.astype(np.float32), strict=True):
        enter = np.zeros(rays.shape, np.float32)
        leave = outlook.length_m.copy()
        for k in range(3):
            a = (low[k] - outlook.starts_m[:, k, None]) * per[:, k]
            b = (high[k] - outlook.starts_m[:, k, None]) * per[:, k]
            np.maximum(enter, np.minimum(a, b), out=enter)
            np.minimum(leave, np.maximum(a, b), out=leave)
        rays |= enter <= leave
    point, ray = np.nonzero(rays)
    seen, length = _met(sight, outlook.starts_m[point], outlook.ways[ray])
    nearer = length < outlook.length_m[point, ray]
    at = (point[nearer], ray[nearer])
    out = replace(
        outlook, seen=outlook.seen.copy(), sub=outlook.sub.copy(), length_m=outlook.length_m.copy()
    )
    out.seen[at], out.sub[at], out.length_m[at] = seen[nearer], -1, length[nearer]
    return out


def _met(sight: Sight, starts_m: Floats32, ways: Floats32) -> tuple[Ints, Floats32]:
    """Patch that each ray meets, -1 where none or its back, and how far away. [m]"""
    if not len(ways):
        return np.zeros(0, np.int32), np.zeros(0, np.float32)
    met = sight.scene.run(starts_m, ways, output=True)
    face = np.asarray(met["primID"])
    found = face >= 0
    length = np.where(found, met["tfar"], np.inf).astype(np.float32)
    front = np.einsum("nk,nk->n", ways, sight.normals[face]) < 0
    patch = np.where(found & front, sight.patch[face], -1)
    return patch.astype(np.int32), length


def _subs_at(outlook: Outlook, subs: SubPatches) -> Ints:
    """Sub-patch that each ray meets; -1 for patches that are not cut."""
    point, ray = np.nonzero((outlook.seen >= 0) & (subs.start[outlook.seen] >= 0))
    first = subs.start[outlook.seen[point, ray]]
    place = outlook.starts_m[point] + outlook.ways[ray] * outlook.length_m[point, ray, None]
    # from the corner of the first sub-patch, along the sides of its row and of its column
    corners = subs.corners_m[first]
    place -= corners[:, 0]
    number = []
    for k in (3, 1):
        side = corners[:, k] - corners[:, 0]
        share = np.einsum("nk,nk->n", place, side) / np.einsum("nk,nk->n", side, side)
        number.append(np.clip(share.astype(np.int32), 0, SPLIT - 1))
    out = np.full(outlook.seen.shape, -1, np.int32)
    out[point, ray] = first + number[0] * SPLIT + number[1]
    return out


def _luminous(light: Floats32) -> Floats32:
    if light.shape[-1] == 1:
        return light[..., 0]
    # not by a matrix product, whose sums may depend on threads
    out: Floats32 = np.einsum("...b,b->...", light, LUMINANCE_WEIGHTS.astype(np.float32))
    return out


def by_direction(
    outlook: Outlook,
    exitance: Floats32,
    excess: Floats32,
    directed: Sequence[Directed] = (),
) -> Floats32:
    """Light at a wall's points by bins of direction, shape (points, bins, bands). [lm/m2]

    Parameters
    ----------
    outlook : Outlook
        What the points see.
    exitance, excess, directed
        As `Gather.at_points` has them.
    """
    level, finer = (
        np.concatenate([light, np.zeros_like(light[:1])]) for light in (exitance, excess)
    )  # -1: nothing is met
    light = level[outlook.seen]
    light += finer[outlook.sub]
    for one in directed:
        place = np.full(len(level), -1, np.int32)
        place[one.patches] = np.arange(one.patches.size)
        own = place[outlook.seen]
        point, ray = np.nonzero(own >= 0)
        if not point.size:
            continue
        patch = own[point, ray]
        way = -outlook.ways.astype(np.float64) @ one.axes
        place = np.full(len(finer), -1, np.int32)
        place[one.subs] = np.arange(one.subs.size)
        parts = np.concatenate([one.excess, np.zeros_like(one.excess[:1])])
        terms = one.exitance[patch] + parts[place[outlook.sub[point, ray]]]
        shown = np.einsum("nk,nkb->nb", terms_of(way)[ray], terms)
        if one.beyond is not None:
            beyond = one.beyond
            cell = cells_of(way)[ray] + beyond.zone[patch] * np.int32(beyond.table.shape[1])
            more = np.take(beyond.table.reshape(-1, beyond.table.shape[2]), cell, axis=0)
            shown += (more - beyond.offset[patch]) * beyond.exitance[patch]
        light[point, ray] = shown
    out: Floats32 = light.reshape(len(light), -1, ACROSS * UP, light.shape[2]).mean(axis=2)
    return out


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
    beyond = _luminous(light) - np.einsum("ck,kp->pc", terms, _luminous(out))
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
) -> None:
    """Add to vertices' light of the room what a linear fit left out, in place.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, bands)
        Of the room, by `vertex_light`. Each vertex's colour stays. [lx]
    around : ndarray of uint8, shape (azimuths, rows, columns)
        Codes of the horizons, from `open_moments`.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    grid : PointGrid
        The wall's points.
    beyond : ndarray of float32, shape (v, u, bins)
        From `linear_and_beyond`, by row and column of points. [lx]

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
        more,
    )
    if light.shape[2] == 1:
        light += more[..., None]
        np.maximum(light, 0, out=light)
        return
    usual = _luminous(light)
    more = np.divide(more, usual, out=np.zeros_like(more), where=usual > 0)
    more += 1
    light *= np.maximum(more, 0, out=more)[..., None]


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
    out = np.zeros((len(at), steps.shape[1]), np.float32)
    for k in range(at.shape[1]):
        out += mix[:, k, None] * steps[at[:, k]]
    return out


def _up_to(elevation_rad: NDArray[np.floating[Any]]) -> tuple[Floats, Floats]:
    """Integrals of cos^2 and of sin cos up to elevations, less constants."""
    cosine = np.cos(elevation_rad)
    return (elevation_rad + np.sin(elevation_rad) * cosine) / 2, -(cosine**2) / 2
