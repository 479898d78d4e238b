"""What bounced light needs before any run is lit: the room's part, and the housings put into it.

Patches, form factors, points and hollows of the room do not change when runs move, so that they
are found once. Housings move with their runs; they are put into the room's part as a few more
patches that hide what their shafts touch.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.borders import Border, find_borders
from rakelight.light.exchange import exchange_factors, open_flow
from rakelight.light.gather import (
    Gather,
    SubPatches,
    closed_gather,
    cut_again,
    hidden_gather,
    joined_gather,
    open_gather,
)
from rakelight.light.glow import Glow, find_glow
from rakelight.light.hollow_wall import HollowWall, facing_room, hollow_wall
from rakelight.light.horizon import half_turn
from rakelight.light.meshes import stand_in
from rakelight.light.outlook import Outlook, look_out, past_bodies, shares_by_factors, sight_of
from rakelight.light.patches import Patches, cut_bodies, cut_room, joined
from rakelight.light.places import patch_places
from rakelight.light.points import growth_on, point_grid
from rakelight.light.prepare import (
    Prepared,
    PreparedRelief,
    same_body,
    same_relief,
    same_surface,
)
from rakelight.light.rays import Blockers, body_blockers, hide, room_blockers
from rakelight.scene.surfaces import Body, Room, Surface

Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Bodies that block and reflect; a figure is there for scale and changes no number.
BLOCKING = ("housing", "blocker", "mesh")
#: Surfaces of a room up to which patches are as stated; beyond, their number stays alike. [m2]
USUAL_M2 = 110.0
#: Those that move with the runs.
MOVING = ("housing",)


@dataclass(frozen=True, slots=True)
class BounceQuality:
    """Time against accuracy of bounced light.

    Parameters
    ----------
    edge_m, patch_m : float
        Patches at a surface's edges and in its middle. [m]
    point_edge_m, point_m : float
        Points that the light is brought to, likewise. [m]
        In rooms of more surface than `USUAL_M2` the middle ones grow with the room.
    residual : float
        The exchange ends when all that is still to come is under this share of the largest
        exitance.
    """

    edge_m: float = 0.04
    patch_m: float = 0.3
    point_edge_m: float = 0.02
    point_m: float = 0.25
    residual: float = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class RoomPart:
    """What depends on the room and on the bodies that stay.

    Parameters
    ----------
    surfaces : tuple of Surface
        The room's.
    bodies : tuple of Body
        Those that stay.
    patches : Patches
        Of both.
    subs : SubPatches
        Their parts.
    what : Blockers
        What of them hides places from each other.
    flow_m2 : ndarray of float32, shape (patches, patches)
        Area times form factor, what stands between taken out. [m2]
    gathers : tuple of Gather
        One for each surface.
    walls : mapping of str to HollowWall
        Reliefs, not yet facing the room.
    outlooks : mapping of str to Outlook
        What the reliefs' points see of it.
    borders : tuple of Border
        Where reliefs cover a strip of their neighbours.
    """

    surfaces: tuple[Surface, ...]
    bodies: tuple[Body, ...]
    patches: Patches
    subs: SubPatches
    what: Blockers
    flow_m2: Floats32
    gathers: tuple[Gather, ...]
    walls: Mapping[str, HollowWall]
    outlooks: Mapping[str, Outlook]
    borders: tuple[Border, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PreparedBounce:
    """All that bounced light needs and no run's light changes.

    Parameters
    ----------
    room : Room
        The room.
    quality : BounceQuality
        How finely it is cut.
    fixed : RoomPart
        What does not change when runs move.
    patches : Patches
        Of the surfaces, the bodies that stay, and the housings.
    factors : ndarray of float32, shape (patches, patches)
        Form factors.
    closed : bool
        True if no light leaves the room.
    gathers : tuple of Gather
        One for each surface.
    walls : mapping of str to HollowWall
        Its reliefs.
    outlooks : mapping of str to Outlook
        What the reliefs' points see of the room, direction by direction.
    reflectance_rgb : ndarray of float32, shape (patches, 3)
        Diffuse reflectance; 0 for patches on reliefs, which have their own response.
    """

    room: Room
    quality: BounceQuality
    fixed: RoomPart
    patches: Patches
    factors: Floats32
    closed: bool
    gathers: tuple[Gather, ...]
    walls: Mapping[str, HollowWall]
    outlooks: Mapping[str, Outlook]
    reflectance_rgb: Floats32

    @property
    def subs(self) -> SubPatches:
        """Sub-patches, all of surfaces."""
        return self.fixed.subs

    @property
    def on_bodies(self) -> NDArray[np.bool_]:
        """Patches on bodies, in the order that `bounce` takes their direct light."""
        out: NDArray[np.bool_] = self.patches.owner >= len(self.room.surfaces)
        return out


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
    staying = _staying(prepared.room)
    return _with_housings(prepared, quality, _room_part(prepared, quality, staying, {}))


def moved_bounce(before: PreparedBounce, prepared: Prepared) -> PreparedBounce:
    """What `prepare_bounce` would return for a room that differs by its runs and housings.

    Parameters
    ----------
    before : PreparedBounce
        Of the room as it was.
    prepared : Prepared
        Of the room as it is, from `moved`.

    Returns
    -------
    PreparedBounce
        The same, to the last bit. Where nothing but runs and housings differs, the room's part
        is kept; where surfaces or other bodies differ, that is done again but for the hollows
        of reliefs that are the same.
    """
    room, fixed = prepared.room, before.fixed
    staying = _staying(room)
    if not (
        len(fixed.surfaces) == len(room.surfaces)
        and all(map(same_surface, fixed.surfaces, room.surfaces))
        and len(fixed.bodies) == len(staying)
        and all(map(same_body, fixed.bodies, staying))
    ):
        old = {surface.name: surface for surface in fixed.surfaces}
        kept = {
            surface.name: fixed.walls[surface.name]
            for surface in room.surfaces
            if surface.name in fixed.walls and same_relief(old[surface.name], surface)
        }
        fixed = _room_part(prepared, before.quality, staying, kept)
    return _with_housings(prepared, before.quality, fixed)


def _staying(room: Room) -> tuple[Body, ...]:
    kinds = [kind for kind in BLOCKING if kind not in MOVING]
    return tuple(stand_in(body) for body in room.bodies if body.kind in kinds)


def _larger(room: Room) -> float:
    """How much larger than stated patches are in the middle of a large room's surfaces."""
    area = sum(surface.grid.width_m * surface.grid.height_m for surface in room.surfaces)
    return max(1.0, float(np.sqrt(area / USUAL_M2)))


def _room_part(
    prepared: Prepared,
    quality: BounceQuality,
    bodies: tuple[Body, ...],
    known: Mapping[str, HollowWall],
) -> RoomPart:
    """Patches, flow, points and hollows; `known` are walls whose hollows serve again."""
    room = prepared.room
    larger = _larger(room)
    patches = cut_room(room, quality.edge_m, quality.patch_m * larger, bodies)
    what = room_blockers(room, bodies, patches)
    places, ends = patch_places(patches), patches.spread()
    flow = open_flow(patches, patches)
    hide(flow, what, places, places, ends, ends, upper=True)
    subs = cut_again(patches, [surface.frame for surface in room.surfaces])
    gathers = []
    walls, outlooks = {}, {}
    sight = sight_of(patches)
    for number, (surface, cells) in enumerate(zip(room.surfaces, patches.cells, strict=True)):
        most_m, growth = quality.point_m * larger, growth_on(surface)
        grid = point_grid(surface, number, bodies, quality.point_edge_m, most_m, growth)
        gather = open_gather(surface, grid, patches, subs)
        gathers.append(hidden_gather(gather, what, surface.frame.n, places, ends, subs))
        if surface.relief is not None:
            ready = prepared.reliefs[surface.name]
            old = known.get(surface.name)
            walls[surface.name] = hollow_wall(
                surface,
                ready.normals,
                ready.moments,
                patches,
                subs,
                cells,
                grid,
                None if old is None else old.hollows,
                _glow(surface, ready) if old is None else old.glow,
                ready.around,
            )
            outlooks[surface.name] = look_out(surface, grid, sight, subs)
    surfaces = tuple(room.surfaces)
    return RoomPart(
        surfaces=surfaces,
        bodies=bodies,
        patches=patches,
        subs=subs,
        what=what,
        flow_m2=flow,
        gathers=tuple(gathers),
        walls=walls,
        outlooks=outlooks,
        borders=find_borders(surfaces),
    )


def _glow(surface: Surface, ready: PreparedRelief) -> Glow | None:
    thin = ready.thin_horizons
    if thin is None or thin.size == 0:
        return None
    half = half_turn(len(thin) // 2)
    return find_glow(surface, ready.normals, thin, np.concatenate([half, half + np.pi]))


def _with_housings(prepared: Prepared, quality: BounceQuality, fixed: RoomPart) -> PreparedBounce:
    """Put the housings into the room's part and close it."""
    room = prepared.room
    housings = [body for body in room.bodies if body.kind in MOVING]
    count = len(fixed.surfaces)
    most_m = quality.patch_m * _larger(room)
    more = cut_bodies(housings, count + len(fixed.bodies), quality.edge_m, most_m)
    patches = joined(fixed.patches, more)
    flow, gathers, outlooks = fixed.flow_m2, fixed.gathers, fixed.outlooks
    if more is not None:
        what = body_blockers(housings)
        places, others = patch_places(fixed.patches), patch_places(more)
        ends, other_ends = fixed.patches.spread(), more.spread()
        first = fixed.patches.count
        flow = np.empty((patches.count, patches.count), np.float32)
        inner, cross, own = flow[:first, :first], flow[:first, first:], flow[first:, first:]
        inner[:] = fixed.flow_m2
        hide(inner, what, places, places, ends, ends, upper=True)
        cross[:] = open_flow(fixed.patches, more)
        own[:] = open_flow(more, more)
        for one in (fixed.what, what):
            hide(cross, one, places, others, ends, other_ends)
            hide(own, one, others, others, other_ends, other_ends, upper=True)
        flow[first:, :first] = cross.T
        none = SubPatches(
            np.zeros((0, 4, 3), np.float32),
            np.zeros(0, np.int32),
            np.full(more.count, -1, np.int32),
        )
        found = []
        for surface, gather in zip(room.surfaces, fixed.gathers, strict=True):
            n = surface.frame.n
            seen = hidden_gather(gather, what, n, places, ends, fixed.subs)
            other = open_gather(surface, gather.grid, more, none)
            for one in (fixed.what, what):
                other = hidden_gather(other, one, n, others, other_ends, none)
            found.append(joined_gather(seen, other))
        gathers = tuple(found)
        sight = sight_of(more, first)
        low, high = (
            np.array([f(body.points_m, axis=0) for body in housings]) for f in (np.min, np.max)
        )
        outlooks = {
            name: past_bodies(one, sight, low, high) for name, one in fixed.outlooks.items()
        }
    factors, scale = exchange_factors(flow, patches, count)
    closed = scale is not None
    if scale is not None:
        parent = fixed.subs.parent
        gathers = tuple(closed_gather(gather, scale, parent) for gather in gathers)
    outlooks = {
        surface.name: shares_by_factors(outlooks[surface.name], gather)
        for surface, gather in zip(room.surfaces, gathers, strict=True)
        if surface.name in outlooks
    }
    finishes = [surface.reflectance_rgb for surface in room.surfaces]
    finishes += [body.reflectance_rgb for body in (*fixed.bodies, *housings)]
    reflectance = np.array(finishes)[patches.owner].astype(np.float32)
    walls = {}
    for name, wall in fixed.walls.items():
        walls[name] = facing_room(wall, room.surface(name), patches, factors, closed)
        reflectance[wall.own] = 0
    return PreparedBounce(
        room=room,
        quality=quality,
        fixed=fixed,
        patches=patches,
        factors=factors,
        closed=closed,
        gathers=gathers,
        walls=walls,
        outlooks=outlooks,
        reflectance_rgb=reflectance,
    )
