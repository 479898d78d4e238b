"""Diffuse interreflection of the whole room, and inside the hollows of its reliefs."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.borders import past_borders
from rakelight.light.bounce_parts import BLOCKING as BLOCKING
from rakelight.light.bounce_parts import BounceQuality as BounceQuality
from rakelight.light.bounce_parts import PreparedBounce as PreparedBounce
from rakelight.light.bounce_parts import moved_bounce as moved_bounce
from rakelight.light.bounce_parts import prepare_bounce as prepare_bounce
from rakelight.light.gather import Directed
from rakelight.light.glow import Beyond, beyond_terms
from rakelight.light.hollow_wall import HollowWall, on_pieces
from rakelight.light.hollows import fill_hollows, vertex_light
from rakelight.light.near_light import (
    FIRST_QUARTER,
    QUARTER,
    all_looks,
    from_around,
    sent_by_facets,
)
from rakelight.light.outlook import by_direction, nearness
from rakelight.light.patch_means import own_means, patch_means
from rakelight.light.patches import SPLIT
from rakelight.light.room_light import (
    add_beyond,
    beyond_at_vertices,
    colours_of,
    linear_and_beyond,
)
from rakelight.light.solve import arriving, flux_per_area, solve
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Surface
from rakelight.scene.white import LUMINANCE_WEIGHTS, luminous

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the light went. Luminous flux, all bands weighted for luminance.

    Parameters
    ----------
    arrived_lm : float
        Direct light on surfaces and bodies. [lm]
    absorbed_lm : float
        Swallowed by them: direct light as it was caught, and of reflected light what the
        vertices' values say, all reflections counted. [lm]
    lost_lm : float
        Left through the room's openings, by the form factors' missing share. [lm]
    residual : float
        What was still to come when the exchange ended, over the largest exitance.
    passes : int
        Reflections followed.
    """

    arrived_lm: float
    absorbed_lm: float
    lost_lm: float
    residual: float
    passes: int

    @property
    def error(self) -> float:
        """Light that the sums miss, over what arrived."""
        if self.arrived_lm == 0:
            return 0.0
        return (self.absorbed_lm + self.lost_lm) / self.arrived_lm - 1


def bounce(
    prepared: PreparedBounce, lit: Lit, on_bodies_lx: Floats32 | None = None
) -> tuple[Lit, Balance]:
    """Add what is reflected from surface to surface.

    Parameters
    ----------
    prepared : PreparedBounce
        From `prepare_bounce`.
    lit : Lit
        Direct light, from `direct`. Its stated other light is not reflected again: whoever
        states an illuminance states all of it.
    on_bodies_lx : ndarray of float32, shape (groups, patches on bodies), optional
        Direct light of each group at full output on the bodies' patches; none unless given. [lx]

    Returns
    -------
    Lit
        With `bounced_lx` for every surface and `flat_bounced_lx` for those with relief. Three
        bands (linear Rec.709) as soon as a reflectance is coloured or lit groups differ in
        colour, else one.
    Balance
        Where the light went.
    """
    room, patches = prepared.room, prepared.patches
    bands = bands_of(prepared, lit)
    weights = _band_weights(lit, bands)
    rho = prepared.reflectance_rgb[:, :bands]
    source = np.zeros((patches.count, bands), np.float32)  # exitance of the first reflection
    excess = np.zeros((len(prepared.subs.parent), bands), np.float32)
    direct = np.zeros((patches.count, bands), np.float32)
    pieces: dict[str, tuple[Floats32, Floats32]] = {}
    wall_sources: dict[str, Floats32] = {}
    wall_excess: dict[str, Floats32] = {}
    beyond: list[Beyond | None] = []
    beside, before_plane = past_borders(prepared.fixed.borders, lit.direct_lx)
    for surface, cells in zip(room.surfaces, patches.cells, strict=True):
        wall = prepared.walls.get(surface.name)
        if wall is None:
            seen_lx = beside.get(surface.name, lit.direct_lx[surface.name])
            field = np.tensordot(seen_lx, weights, axes=(0, 0))
            own = cells.patch[cells.patch >= 0]
            mean, fine = patch_means(surface, cells, field)
            inside = cells.patch >= 0
            direct[own] = mean[inside]
            first = prepared.subs.start[cells.patch]
            cut = inside & (first >= 0)
            index = first[cut][:, None] + np.arange(SPLIT**2)
            excess[index] = (fine[cut] - mean[cut][:, None]) * rho[own[0]]
            continue
        own_rho = surface.reflectance_rgb[:bands].astype(np.float32)
        # by group, so that two groups together give the sum of each
        taken_lm = before_plane.get(surface.name, np.zeros(len(lit.output)))
        parts = [
            wall.catch.of(direct_lx, flat_lx, more_lm)
            for direct_lx, flat_lx, more_lm in zip(
                lit.direct_lx[surface.name], lit.flat_lx[surface.name], taken_lm, strict=True
            )
        ]
        caught: Floats32 = np.stack([part[0] for part in parts], axis=-1) @ weights
        shown: Floats32 = np.stack([part[1] for part in parts], axis=-1) @ weights
        by_patch, by_sub, inner, straight = wall.first_reflection(caught, shown, own_rho)
        pieces[surface.name] = (caught, inner)
        wall_sources[surface.name] = by_patch
        beyond.append(_beyond(wall, lit.direct_lx[surface.name], weights, straight))
        wall_excess[surface.name] = by_sub - by_patch[wall.parents(prepared.subs)]
    if on_bodies_lx is not None:
        direct[prepared.on_bodies] = np.tensordot(on_bodies_lx, weights, axes=(0, 0))
    source = direct * rho
    names = list(prepared.walls)
    walls = list(prepared.walls.values())
    more: list[Floats32 | None] = [None] * len(walls)
    for i, (wall, one) in enumerate(zip(walls, beyond, strict=True)):
        if one is not None:
            more[i], beyond[i] = one.arriving(wall.cells, wall.seen[0], wall.given[0])
    exitance, wall_exitance, residual, passes = solve(
        prepared.factors,
        source,
        rho,
        prepared.quality.residual,
        walls,
        [wall_sources[name] for name in names],
        more,
    )
    directed = [
        Directed(
            axes=_axes(room.surface(name)),
            patches=wall.own,
            subs=wall.own_subs,
            centres_m=patches.centres_m[wall.own],
            sub_centres_m=prepared.subs.corners_m[wall.own_subs].mean(axis=1, dtype=np.float64),
            exitance=light,
            excess=wall_excess[name],
            beyond=one,
        )
        for name, wall, light, one in zip(names, walls, wall_exitance, beyond, strict=True)
    ]
    # what the patches of reliefs receive is counted on their pieces, below
    flat = np.ones(patches.count, bool)
    for wall in walls:
        flat[wall.own] = False
    areas = patches.areas_m2
    reached = arriving(prepared.factors, exitance, walls, wall_exitance, more)
    arrived = areas[flat] @ direct[flat].astype(np.float64)
    at = prepared.on_bodies  # no vertices there: by patches
    absorbed = areas[flat] @ ((1 - rho[flat]) * direct[flat]).astype(np.float64)
    absorbed += areas[at] @ ((1 - rho[at]) * reached[at]).astype(np.float64)
    lost = np.zeros(bands)
    if not prepared.closed:
        missing = np.clip(1 - prepared.factors.sum(axis=1, dtype=np.float64), 0, None)
        for wall, light in zip(walls, wall_exitance, strict=True):
            exitance[wall.own] = flux_per_area(light)
        lost = (areas * missing) @ exitance
        for wall in walls:
            exitance[wall.own] = 0
    bounced: dict[str, Floats32] = {}
    flat_bounced: dict[str, Floats32] = {}
    for surface, gather, cells in zip(room.surfaces, prepared.gathers, patches.cells, strict=True):
        at_points = gather.at_points(exitance, excess, directed)
        wall = prepared.walls.get(surface.name)
        if wall is None:
            light = gather.grid.to_vertices(gather.grid.spread(at_points))
            np.maximum(light, 0, out=light)
            own = cells.patch[cells.patch >= 0]
            mean = own_means(surface, cells, light)
            absorbed += areas[own] @ ((1 - rho[own]) * mean).astype(np.float64)
        else:
            seen = by_direction(prepared.outlooks[surface.name], exitance, excess, directed)
            linear, beyond_linear = linear_and_beyond(seen, at_points)
            coefficients = gather.grid.spread(linear)
            own_rho = surface.reflectance_rgb[:bands].astype(np.float32)
            room_lx = on_pieces(wall, coefficients)
            caught, inner = pieces[surface.name]
            by_room = fill_hollows(wall.hollows, room_lx, own_rho)
            hollow = inner + (by_room - room_lx)
            along = (gather.grid.along_u, gather.grid.along_v)
            light, by_pieces = vertex_light(
                wall.hollows, wall.moments, hollow, *along, coefficients
            )
            plane = gather.grid.to_vertices(gather.grid.spread(luminous(at_points)[:, None]))
            flat_bounced[surface.name] = np.maximum(plane[..., 0], 0)
            if wall.around is None:
                np.maximum(light, 0, out=light)
            else:
                near = nearness(prepared.outlooks[surface.name], surface)
                more_lx = beyond_at_vertices(
                    wall, gather.grid, luminous(linear), beyond_linear, near
                )
                usual = (wall.moments[0], flat_bounced[surface.name], gather.grid, at_points)
                add_beyond(light, more_lx, *usual, colours_of(seen))
                del more_lx  # 4 bytes a vertex
            around = before = by_pieces
            for azimuths in (FIRST_QUARTER, QUARTER):
                before = around
                sent = sent_by_facets(surface, wall.normals, lit, weights, light + around, own_rho)
                looking = (wall.normals, wall.moments[0], sent, by_pieces, azimuths)
                around = from_around(surface, *looking)
                del sent, looking  # 16 bytes a vertex, before the next ones
            all_looks(around, before, wall.moments[0], own_rho)
            area = wall.hollows.area_m2.astype(np.float64)
            arrived += area @ caught
            absorbed += (area @ caught + wall.catch.flux(light, around)) * (1 - own_rho)
            light += around
        bounced[surface.name] = light[..., 0] if bands == 1 else light
    luma = LUMINANCE_WEIGHTS if bands == 3 else np.ones(1)
    return (
        replace(lit, bounced_lx=bounced, flat_bounced_lx=flat_bounced),
        Balance(
            float(arrived @ luma), float(absorbed @ luma), float(lost @ luma), residual, passes
        ),
    )


def _beyond(
    wall: HollowWall, direct_lx: Floats32, weights: Floats32, exitance: Floats32
) -> Beyond | None:
    """What four terms leave out of a relief's first reflection."""
    if wall.glow is None:
        return None
    sent = np.stack([wall.glow.of(light) for light in direct_lx], axis=-1) @ weights
    return beyond_terms(wall.glow, sent, wall.zone, exitance)


def _axes(surface: Surface) -> Floats:
    frame = surface.frame
    out: Floats = np.stack([frame.u, frame.v, frame.n], axis=1)
    return out


def bands_of(prepared: PreparedBounce, lit: Lit) -> int:
    """3 where colours differ, else 1."""
    finishes = [surface.reflectance_rgb for surface in prepared.room.surfaces]
    finishes += [body.reflectance_rgb for body in prepared.room.bodies if body.kind in BLOCKING]
    grey = bool(np.ptp(np.array(finishes), axis=1).max(initial=0.0) < 1e-6)
    colours = lit.white_rgb[lit.output > 0]
    alike = len(colours) == 0 or bool(np.ptp(colours, axis=0).max() < 1e-9)
    return 1 if grey and alike else 3


def _band_weights(lit: Lit, bands: int) -> Floats32:
    """Factor of each group in each band, shape (groups, bands)."""
    if bands == 1:
        return lit.output[:, None].astype(np.float32)
    out: Floats32 = (lit.output[:, None] * lit.white_rgb).astype(np.float32)
    return out
