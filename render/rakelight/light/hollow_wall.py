"""A relief's hollows between the room's patches and the wall's vertices.

Light that grazes a relief from above falls on facets that look up, and they send it up: the
wall is not a diffuse emitter, the ceiling gets more of it and the floor less. So each patch of
the wall takes light in, and gives it out, as a smooth function of direction. Treated as diffuse,
a grazed ledgestone made the ceiling 16 % too dark and the opposite wall 18 % too bright, against
a path tracer.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.areas import facing_share
from rakelight.light.catch import Catch, facets_see
from rakelight.light.cuts import whole_relief
from rakelight.light.directions import EVEN, TERMS, fitted, made_even, terms_of
from rakelight.light.gather import SubPatches
from rakelight.light.glow import Glow, cells_of
from rakelight.light.hollow_members import members_of, place_in
from rakelight.light.hollows import Hollows, fill_hollows, find_hollows, means_over_pieces, received
from rakelight.light.patches import Cells, Patches
from rakelight.light.points import PointGrid, cubic_weights
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class HollowWall:
    """A relief as the room's exchange sees it.

    Parameters
    ----------
    hollows : Hollows
        Its pieces and their links.
    moments : ndarray of float32, shape (4, rows, columns)
        Openness of its vertices and the openness's moments.
    normals : ndarray of float32, shape (3, rows, columns)
        Their unit normals.
    around : ndarray of uint8, shape (azimuths, rows, columns), or None
        What lies open above their horizons, from `open_moments`.
    own : ndarray of int32, shape (own,)
        Its patches among the room's.
    own_subs : ndarray of int32, shape (own subs,)
        Its sub-patches among the room's.
    catch : Catch
        How much of the runs' light each piece catches.
    even : ndarray of float32, shape (TERMS, pieces)
        Means of `moments` over the pieces, weighted as even light on the vertices.
    pieces, patch, sub : ndarray of int32, shape (pairs,)
        Which pieces make up which of `own` and of `own_subs` (-1: none).
    block_u, block_v : tuple of ndarray
        Points and weights that interpolate at each block's column and row.
    seen : ndarray of float32, shape (TERMS, own, patches)
        Form factors from its patches, times the terms of the direction.
    given : ndarray of float32, shape (TERMS, patches, own)
        The same from the other end: what exitance of its patches that goes as each term brings
        to each patch of the room.
    response_rgb : ndarray of float32, shape (own, TERMS, TERMS, 3)
        What each patch gives out (second axis) for what comes in (third), both as coefficients
        of the terms, hollows and all.
    glow : Glow or None
        Which way its vertices send light.
    zone : ndarray of int32, shape (own,)
        Zone of the glow that each of its patches lies in.
    cells : ndarray of int32, shape (patches, own)
        Cell of the glow's table of directions in which each patch of the room lies.
    """

    hollows: Hollows
    moments: Floats32
    normals: Floats32
    around: NDArray[np.uint8] | None
    own: Ints
    own_subs: Ints
    catch: Catch
    even: Floats32
    pieces: Ints
    patch: Ints
    sub: Ints
    block_u: tuple[Ints, Floats32]
    block_v: tuple[Ints, Floats32]
    seen: Floats32
    given: Floats32
    response_rgb: Floats32
    glow: Glow | None
    zone: Ints
    cells: Ints

    @property
    def apparent_rgb(self) -> Floats32:
        """Reflectance of the wall's patches for diffuse light, hollows and all, (own, 3)."""
        out: Floats32 = np.einsum("k,nkb->nb", EVEN.astype(np.float32), self.response_rgb[:, :, 0])
        return out

    def first_reflection(
        self, direct: Floats32, shown: Floats32, reflectance: Floats32
    ) -> tuple[Floats32, Floats32, Floats32, Floats32]:
        """What the runs' light makes the wall give out, hollows and all.

        Parameters
        ----------
        direct : ndarray of float32, shape (pieces, bands)
            From `Catch.of`, of all groups. [lx]
        shown : ndarray of float32, shape (TERMS, pieces, bands)
            Likewise. [lx]
        reflectance : ndarray of float32, shape (bands,)
            Diffuse.

        Returns
        -------
        ndarray of float32, shape (own, TERMS, bands) and (own subs, TERMS, bands)
            Exitance of patches and sub-patches by terms. [lm/m2]
        ndarray of float32, shape (pieces, bands)
            What the hollows' walls add to the direct light. [lx]
        ndarray of float32, shape (own, bands)
            Exitance of patches, mean over all directions, less what the hollows add. [lm/m2]
        """
        moments = self.hollows.moments
        # the vertices' openness differs a little from the pieces'; by it light would be lost
        opened = moments[0] / np.maximum(self.even[0], np.float32(1e-6))
        gone = shown[0] * opened[:, None]
        np.clip(gone, 0, direct, out=gone)
        hidden = np.maximum(1 - moments[0], np.float32(1e-3))[:, None]
        kept = (direct - gone) / hidden  # what does not leave by the mouth
        inner = fill_hollows(self.hollows, received(self.hollows, kept * reflectance), reflectance)
        outs: list[Floats32] = []
        straight: list[Floats32] = []
        for where, count in ((self.patch, self.own.size), (self.sub, self.own_subs.size)):
            place = (self.hollows.area_m2, self.pieces, where, count)
            out = given_out(*place, shown, self.even)  # against the vertices' own even light
            straight.append(np.einsum("k,nkb->nb", EVEN.astype(np.float32), out) * reflectance)
            out += given_out(*place, moments[..., None] * inner, moments)
            outs.append(out * reflectance)
        return outs[0], outs[1], inner, straight[0]

    def parents(self, subs: SubPatches) -> Ints:
        """Place in `own` of each own sub-patch's patch, shape (own subs,)."""
        return place_in(self.own, subs.parent[self.own_subs], int(self.own.max()) + 1)


def hollow_wall(
    surface: Surface,
    normals: Floats32,
    moments: Floats32,
    patches: Patches,
    subs: SubPatches,
    cells: Cells,
    points: PointGrid,
    hollows: Hollows | None = None,
    glow: Glow | None = None,
    around: NDArray[np.uint8] | None = None,
) -> HollowWall:
    """Find a relief's hollows and how its patches take in and give out light.

    Parameters
    ----------
    surface : Surface
        The wall, with a relief.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    moments : ndarray of float32, shape (4, rows, columns)
        From `open_moments`.
    patches, subs, cells : Patches, SubPatches, Cells
        The room's, and the wall's cells.
    points : PointGrid
        The wall's.
    hollows : Hollows, optional
        From `find_hollows`, where they are known.
    glow : Glow, optional
        From `find_glow`; without it the first reflection has four terms, as later ones have.
    around : ndarray of uint8, shape (azimuths, rows, columns), optional
        From `open_moments`; without it the room's light at vertices is linear in direction.

    Returns
    -------
    HollowWall
        Not yet facing any room: see `facing_room`.
    """
    if surface.relief is None:
        raise ValueError(f"{surface.name} has no relief")
    hollows = find_hollows(whole_relief(surface)) if hollows is None else hollows
    step = (surface.grid.step_u_m, surface.grid.step_v_m)
    facing = facing_share(surface.relief.heights_m, normals, *step)
    own = cells.patch[cells.patch >= 0]
    own_subs = np.flatnonzero(np.isin(subs.parent, own)).astype(np.int32)
    zone = np.zeros(own.size, np.int32)
    if glow is not None:
        middles = surface.frame.from_room(patches.centres_m[own])
        zone = glow.zone_at(middles[:, 0], middles[:, 1])
    members, patch, sub = members_of(surface, hollows, patches, subs, cells, own, own_subs)
    grid = surface.grid
    rows, columns = hollows.bins.shape
    rho = surface.reflectance_rgb.astype(np.float32)
    bands = 1 if np.ptp(rho) == 0 else 3
    response = np.empty((own.size, TERMS, TERMS, bands), np.float32)
    # all terms at once: the links are read once for each reflection
    arriving = np.repeat(hollows.moments.T, bands, axis=1)
    each = np.tile(rho[:bands], TERMS)
    exitance = fill_hollows(hollows, arriving, each) * each
    for k in range(TERMS):
        light = hollows.moments[..., None] * exitance[:, k * bands : (k + 1) * bands]
        response[:, :, k] = given_out(
            hollows.area_m2, members, patch, own.size, light, hollows.moments
        )
    return HollowWall(
        hollows=hollows,
        moments=moments,
        normals=normals,
        around=around,
        own=own,
        own_subs=own_subs,
        catch=Catch(
            hollows,
            moments,
            facing,
            normals[2],
            facets_see(hollows, moments[0], facing, normals[2]),
        ),
        even=_even_means(hollows, moments, facing),
        pieces=members,
        patch=patch,
        sub=sub,
        block_u=cubic_weights(points.u_m, _middles(columns, hollows.size, grid.step_u_m)),
        block_v=cubic_weights(points.v_m, _middles(rows, hollows.size, grid.step_v_m)),
        seen=np.zeros((TERMS, own.size, 0), np.float32),
        given=np.zeros((TERMS, 0, own.size), np.float32),
        response_rgb=np.broadcast_to(response, (own.size, TERMS, TERMS, 3)).copy(),
        glow=glow,
        zone=zone,
        cells=np.zeros((0, own.size), np.int32),
    )


def facing_room(
    wall: HollowWall, surface: Surface, patches: Patches, factors: Floats32, closed: bool
) -> HollowWall:
    """Put a wall before a room.

    Parameters
    ----------
    wall : HollowWall
        The wall.
    surface : Surface
        Its surface.
    patches : Patches
        Of the room and all bodies.
    factors : ndarray of float32, shape (patches, patches)
        Form factors.
    closed : bool
        Whether the room is.
    """
    way = _ways(surface, patches, wall.own)
    seen = _seen(way, wall.own, factors, closed)
    areas = patches.areas_m2.astype(np.float32)
    given = np.moveaxis(seen, 2, 1) * (areas[wall.own] / areas[:, None])
    cells = cells_of(way).T if wall.glow is not None else np.zeros((0, wall.own.size), np.int32)
    return replace(
        wall, seen=seen, given=np.ascontiguousarray(given), cells=np.ascontiguousarray(cells)
    )


def _ways(surface: Surface, patches: Patches, own: Ints) -> Floats:
    """Unit directions from a wall's patches to all, in its frame, shape (own, patches, 3)."""
    way = patches.centres_m[None] - patches.centres_m[own][:, None]
    way = surface.frame.direction_from_room(way)
    way /= np.maximum(np.linalg.norm(way, axis=2, keepdims=True), 1e-9)
    return way


def _seen(way: Floats, own: Ints, factors: Floats32, closed: bool) -> Floats32:
    """Form factors of a wall's patches with the moments of their directions."""
    # in memory term by term: products of every fourth number are several times slower
    seen: Floats32 = np.ascontiguousarray(np.moveaxis(terms_of(way), 2, 0) * factors[own])
    if closed:
        made_even(seen, seen.sum(axis=2, keepdims=True))
    return seen


def _even_means(hollows: Hollows, moments: Floats32, facing: Floats32) -> Floats32:
    """Means of the moments over the pieces, weighted as `Catch` weighs even light."""
    fields = np.concatenate([facing[None], moments * facing])
    means = means_over_pieces(hollows, fields).T
    out: Floats32 = means[1:] / np.maximum(means[0], np.float32(1e-6))
    return out


def _middles(blocks: int, size: int, step_m: float) -> Floats:
    out: Floats = (np.arange(blocks, dtype=np.float64) + 0.5) * (size * step_m)
    return out


def given_out(
    wall_area_m2: Floats32, members: Ints, where: Ints, count: int, light: Floats32, even: Floats32
) -> Floats32:
    """Light that leaves the hollows' mouths, by patch, as a function of direction.

    Parameters
    ----------
    wall_area_m2 : ndarray of float32, shape (pieces,)
        True area of the pieces. [m2]
    members, where : ndarray of int32, shape (pairs,)
        Pieces and the patch of each; -1 is left out.
    count : int
        Number of patches.
    light : ndarray of float32, shape (TERMS, pieces, bands)
        Exitance times openness and its moments, mean over each piece. [lm/m2]
    even : ndarray of float32, shape (TERMS, pieces)
        The same for exitance 1.

    Returns
    -------
    ndarray of float32, shape (count, TERMS, bands)
        Coefficients of the terms, for each patch's mean plane. [lm/m2]

    Notes
    -----
    A piece sends into the room what it would receive from there (reciprocity): its area times
    its moments. The sums are set against those of pieces that all have exitance 1, whose light
    must leave as from an even diffuse plane.
    """
    used = where >= 0
    members, where = members[used], where[used]
    area = wall_area_m2[members].astype(np.float64) + 1e-12
    mouth = np.bincount(where, area * even[0, members], count)
    mouth = np.where(mouth > 0, mouth, 1.0)
    out = np.empty((TERMS, count, light.shape[2]), np.float32)
    level = np.empty((TERMS, count), np.float32)
    for k in range(TERMS):
        level[k] = np.bincount(where, area * even[k, members], count) / mouth
        for band in range(light.shape[2]):
            out[k, :, band] = np.bincount(where, area * light[k, members, band], count) / mouth
    made_even(out, level[..., None])
    return np.moveaxis(fitted(out), 0, 1)


def on_pieces(wall: HollowWall, coefficients: Floats32) -> Floats32:
    """What each piece receives of the room through its openness, shape (pieces, bands). [lx]"""
    columns, mix_u = wall.block_u
    rows, mix_v = wall.block_v
    wide: Floats32 = np.einsum("kvctb,ct->kvcb", coefficients[:, :, columns], mix_u)
    field = np.einsum("krtcb,rt->krcb", wide[:, rows], mix_v)
    repeats = wall.hollows.bins.ravel()
    out = np.zeros((wall.hollows.area_m2.size, coefficients.shape[-1]), np.float32)
    for k in range(TERMS):
        at = np.repeat(field[k].reshape(repeats.size, -1), repeats, axis=0)
        out += wall.hollows.moments[k][:, None] * at
    return np.maximum(out, 0)
