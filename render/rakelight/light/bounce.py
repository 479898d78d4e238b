"""Diffuse interreflection of the whole room, and inside the hollows of its reliefs."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import fitted, made_even
from rakelight.light.exchange import patch_exchange
from rakelight.light.gather import Directed, Gather, SubPatches, cut_again, prepare_gather
from rakelight.light.hollow_wall import (
    HollowWall,
    hollow_wall,
    on_pieces,
)
from rakelight.light.hollows import fill_hollows, vertex_light
from rakelight.light.meshes import stand_in
from rakelight.light.openness import open_moments
from rakelight.light.patch_means import patch_means
from rakelight.light.patches import SPLIT, Patches, cut_room
from rakelight.light.prepare import Prepared
from rakelight.light.rays import blockers
from rakelight.light.solve import arriving, flux_per_area, solve
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.white import LUMINANCE_WEIGHTS

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: Bodies that block and reflect; a figure is there for scale and changes no number.
BLOCKING = ("housing", "blocker", "mesh")


@dataclass(frozen=True, slots=True)
class BounceQuality:
    """Time against accuracy of bounced light.

    Parameters
    ----------
    edge_m, patch_m : float
        Patches at a surface's edges and in its middle. [m]
    point_edge_m, point_m : float
        Points that the light is brought to, likewise. [m]
    residual : float
        The exchange ends when all that is still to come is under this share of the largest
        exitance.
    """

    edge_m: float = 0.04
    patch_m: float = 0.25
    point_edge_m: float = 0.02
    point_m: float = 0.2
    residual: float = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class PreparedBounce:
    """All that bounced light needs and no run changes.

    Parameters
    ----------
    room : Room
        The room.
    quality : BounceQuality
        How finely it is cut.
    patches : Patches
        Its patches.
    subs : SubPatches
        Their parts.
    factors : ndarray of float32, shape (patches, patches)
        Form factors.
    closed : bool
        True if no light leaves the room.
    gathers : tuple of Gather
        One for each surface.
    walls : mapping of str to HollowWall
        Its reliefs.
    reflectance_rgb : ndarray of float32, shape (patches, 3)
        Diffuse reflectance; 0 for patches on reliefs, which have their own response.
    """

    room: Room
    quality: BounceQuality
    patches: Patches
    subs: SubPatches
    factors: Floats32
    closed: bool
    gathers: tuple[Gather, ...]
    walls: Mapping[str, HollowWall]
    reflectance_rgb: Floats32

    @property
    def on_bodies(self) -> NDArray[np.bool_]:
        """Patches on bodies, in the order that `bounce` takes their direct light."""
        out: NDArray[np.bool_] = self.patches.owner >= len(self.room.surfaces)
        return out


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the light went. Luminous flux, all bands weighted for luminance.

    Parameters
    ----------
    arrived_lm : float
        Direct light on surfaces and bodies. [lm]
    absorbed_lm : float
        Swallowed by them, all reflections counted. [lm]
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


def prepare_bounce(prepared: Prepared, quality: BounceQuality | None = None) -> PreparedBounce:
    """Patches, form factors, points and hollows: what every set of runs shares.

    Parameters
    ----------
    prepared : Prepared
        From `prepare`; its room's housings, blockers and meshes stand in the way.
    quality : BounceQuality, optional
        The default meets the stated accuracy.
    """
    quality = BounceQuality() if quality is None else quality
    room = prepared.room
    bodies = [stand_in(body) for body in room.bodies if body.kind in BLOCKING]
    patches = cut_room(room, quality.edge_m, quality.patch_m, bodies)
    what = blockers(room, bodies, patches)
    factors, closed = patch_exchange(patches, what)
    subs = cut_again(patches, [surface.frame for surface in room.surfaces])
    gathers = tuple(
        _closed_gather(
            prepare_gather(
                surface, patches, subs, what, cells, quality.point_edge_m, quality.point_m
            ),
            closed,
        )
        for surface, cells in zip(room.surfaces, patches.cells, strict=True)
    )
    reflectance = np.array(
        [surface.reflectance_rgb for surface in room.surfaces]
        + [body.reflectance_rgb for body in bodies]
    )[patches.owner].astype(np.float32)
    walls = {}
    for surface, gather, cells in zip(room.surfaces, gathers, patches.cells, strict=True):
        if surface.relief is None:
            continue
        ready = prepared.reliefs[surface.name]
        step = (surface.grid.step_u_m, surface.grid.step_v_m)
        above = ready.sides["up"].horizons if "up" in ready.sides else None
        moments = open_moments(surface.relief.heights_m, ready.normals, *step, above=above)
        wall = hollow_wall(
            surface, ready.normals, moments, patches, subs, cells, gather, factors, closed
        )
        walls[surface.name] = wall
        reflectance[wall.own] = 0
    return PreparedBounce(
        room, quality, patches, subs, factors, closed, gathers, walls, reflectance
    )


def _closed_gather(gather: Gather, closed: bool) -> Gather:
    """Make every point of a closed room see exactly one half-space, and its moments whole."""
    if not closed:
        return gather
    factors = gather.factors.copy()
    near = gather.near_factors.copy()
    sums = factors.sum(axis=2, dtype=np.float64)
    scale = (1 / np.maximum(sums[0], 1e-6)).astype(np.float32)
    factors *= scale[:, None]
    near *= scale[gather.near[:, 0]]
    if len(factors) > 1:
        made_even(factors, factors.sum(axis=2, keepdims=True))
    return replace(gather, factors=factors, near_factors=near)


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
    for surface, cells in zip(room.surfaces, patches.cells, strict=True):
        wall = prepared.walls.get(surface.name)
        if wall is None:
            field = np.tensordot(lit.direct_lx[surface.name], weights, axes=(0, 0))
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
        parts = [
            wall.catch.of(direct_lx, flat_lx)
            for direct_lx, flat_lx in zip(
                lit.direct_lx[surface.name], lit.flat_lx[surface.name], strict=True
            )
        ]
        caught: Floats32 = np.stack([part[0] for part in parts], axis=-1) @ weights
        shown: Floats32 = np.stack([part[1] for part in parts], axis=-1) @ weights
        by_patch, by_sub, inner = wall.first_reflection(caught, shown, own_rho)
        pieces[surface.name] = (caught, inner)
        wall_sources[surface.name] = by_patch
        wall_excess[surface.name] = by_sub - by_patch[wall.parents(prepared.subs)]
    if on_bodies_lx is not None:
        direct[prepared.on_bodies] = np.tensordot(on_bodies_lx, weights, axes=(0, 0))
    source = direct * rho
    names = list(prepared.walls)
    walls = list(prepared.walls.values())
    exitance, wall_exitance, residual, passes = solve(
        prepared.factors,
        source,
        rho,
        prepared.quality.residual,
        walls,
        [wall_sources[name] for name in names],
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
        )
        for name, wall, light in zip(names, walls, wall_exitance, strict=True)
    ]
    # what the patches of reliefs receive is counted on their pieces, below
    flat = np.ones(patches.count, bool)
    for wall in walls:
        flat[wall.own] = False
    areas = patches.areas_m2
    reached = arriving(prepared.factors, exitance, walls, wall_exitance)
    arrived = areas[flat] @ direct[flat].astype(np.float64)
    absorbed = areas[flat] @ ((1 - rho[flat]) * (direct + reached)[flat]).astype(np.float64)
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
    for surface, gather in zip(room.surfaces, prepared.gathers, strict=True):
        moments = gather.at_points(exitance, excess, directed)
        wall = prepared.walls.get(surface.name)
        level = np.maximum(gather.to_vertices(moments[0]), 0)
        if wall is None:
            light = level
        else:
            coefficients = fitted(moments)
            own_rho = surface.reflectance_rgb[:bands].astype(np.float32)
            room_lx = on_pieces(wall, coefficients)
            caught, inner = pieces[surface.name]
            by_room = fill_hollows(wall.hollows, room_lx, own_rho)
            hollow = inner + (by_room - room_lx)
            light = vertex_light(
                wall.hollows, wall.moments, hollow, gather.along_u, gather.along_v, coefficients
            )
            area = wall.hollows.area_m2.astype(np.float64)
            arrived += area @ caught
            absorbed += area @ ((caught + inner + by_room) * (1 - own_rho))
            flat_bounced[surface.name] = _luminance(level)
        bounced[surface.name] = light[..., 0] if bands == 1 else light
    luma = LUMINANCE_WEIGHTS if bands == 3 else np.ones(1)
    return (
        replace(lit, bounced_lx=bounced, flat_bounced_lx=flat_bounced),
        Balance(
            float(arrived @ luma), float(absorbed @ luma), float(lost @ luma), residual, passes
        ),
    )


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


def _luminance(field: Floats32) -> Floats32:
    if field.shape[-1] == 1:
        return field[..., 0]
    out: Floats32 = field @ LUMINANCE_WEIGHTS.astype(np.float32)
    return out
