"""What depends only on the room and its reliefs: computed once, handed on as a value."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.cuts import whole_relief
from rakelight.light.horizon import half_turn, horizon_tangents
from rakelight.light.normals import vertex_normals
from rakelight.light.openness import AZIMUTHS, open_moments
from rakelight.light.turned import TIE_M, Side, TurnedRelief, turn_field, turn_frame, turn_vectors
from rakelight.light.visibility import Beside
from rakelight.scene.frame import Frame
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Body, Room, Surface

#: A run counts as parallel to a wall's u or v when its axis strays less than this from it.
PARALLEL = 1e-6
#: Half turns of horizons that a run at an angle needs where it lies over the wall.
TWO_SIDES: tuple[Side, Side] = ("up", "down")


@dataclass(frozen=True, slots=True, eq=False)
class PreparedRelief:
    """A relief ready for light.

    Parameters
    ----------
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals as (u, v, n).
    moments : ndarray of float32, shape (4, rows, columns)
        From `open_moments`: openness of each vertex, and where it is open to.
    sides : mapping of str to TurnedRelief
        The relief with its horizons, for each side on which runs lie.
    thin_horizons : ndarray of float32, shape (azimuths, rows', columns'), optional
        Tangents at `thin_places`, of even steps over the whole turn.
    around : ndarray of uint8, shape (2 AZIMUTHS, rows, columns), optional
        What lies open above each vertex's horizons, at `around_rad`, as `open_moments` has it.
    """

    normals: NDArray[np.float32]
    moments: NDArray[np.float32]
    sides: Mapping[Side, TurnedRelief]
    thin_horizons: NDArray[np.float32] | None = None
    around: NDArray[np.uint8] | None = None

    @property
    def openness(self) -> NDArray[np.float32]:
        """Form factor of each vertex to the open half-space, shape (rows, columns)."""
        out: NDArray[np.float32] = self.moments[0]
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A room with all that its runs do not change.

    Parameters
    ----------
    room : Room
        Surfaces, bodies and runs.
    quality : Quality
        Numbers of steps.
    reliefs : mapping of str to PreparedRelief
        By surface.
    beside : Beside
        What `direct` finds on the way and needs again when runs move.
    """

    room: Room
    quality: Quality
    reliefs: Mapping[str, PreparedRelief]
    beside: Beside = field(default_factory=dict, repr=False)


def sides_of(surface: Surface, line: LitLine) -> tuple[Side, ...]:
    """Sides of the surface on which a run lies, if any can be lit from it.

    A run over the wall, or at an angle to it, has light from above and from below; each side
    takes the part of the run that lies beyond the vertex.
    """
    frame, grid = surface.frame, surface.grid
    axis = frame.direction_from_room(line.axis)
    ends = frame.from_room(line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis)
    reach = frame.direction_from_room(line.across) * line.opening_width_m / 2
    low = ends.min(axis=0) - np.abs(reach)
    high = ends.max(axis=0) + np.abs(reach)
    if high[2] <= 0:
        return ()
    if abs(axis[0]) > 1 - PARALLEL:
        sides: tuple[tuple[Side, bool], ...] = (
            ("up", high[1] > 0),
            ("down", low[1] < grid.height_m),
        )
    elif abs(axis[1]) > 1 - PARALLEL:
        sides = (("right", high[0] > 0), ("left", low[0] < grid.width_m))
    else:
        whole: tuple[tuple[Side, bool], ...] = (
            ("up", low[1] >= grid.height_m),
            ("down", high[1] <= 0),
            ("right", low[0] >= grid.width_m),
            ("left", high[0] <= 0),
        )
        for side, there in whole:
            if there:
                return (side,) if _reaches(surface, line, side) else ()
        return tuple(side for side in TWO_SIDES if _reaches(surface, line, side))
    return tuple(side for side, there in sides if there and _lights(surface, line, side))


def _reaches(surface: Surface, line: LitLine, side: Side) -> bool:
    """Whether a run at any angle sends light worth counting to vertices that have it on a side.

    Looks along the distribution from five places on the run, 2 degrees apart.
    """
    frame = surface.frame
    up = np.linspace(-1.0, 1.0, 91)
    turn = np.radians(np.arange(0.0, 360.0, 2.0))
    ring = np.sqrt(1 - up**2)
    ways = np.stack(
        [ring[:, None] * np.cos(turn), ring[:, None] * np.sin(turn), up[:, None] + 0 * turn], -1
    ).reshape(-1, 3)
    worth = line.candela_per_metre(ways) > (1e-4 * np.max(line.intensity.candela) * line.per_metre)
    ways = frame.direction_from_room(ways[worth])
    ways = ways[ways[:, 2] < -1e-6]
    away = {"up": -ways[:, 1], "down": ways[:, 1], "right": -ways[:, 0], "left": ways[:, 0]}[side]
    ways = ways[away > 0]
    spread = np.linspace(line.lit_m[0, 0], line.lit_m[-1, 1], 5)
    starts = frame.from_room(line.origin_m + spread[:, None] * line.axis)
    for start in starts:
        land = start + ways * (start[2] / -ways[:, 2:])
        margin = 0.1 * (1 + abs(start[2]))
        inside = (land[:, :2] > -margin) & (
            land[:, :2] < np.array([surface.grid.width_m, surface.grid.height_m]) + margin
        )
        if np.any(inside.all(axis=1)):
            return True
    return False


def _lights(surface: Surface, line: LitLine, side: Side) -> bool:
    """Whether the run sends light worth counting to the part of the wall that has it there.

    Less than 1e-4 of the peak, or only within 2 degrees of straight onto the wall, is what
    interpolation leaves beyond the last angle of a file: half a turn of horizons for that
    would double the work for nothing.
    """
    frame = surface.frame
    away = {"up": -frame.v, "down": frame.v, "right": -frame.u, "left": frame.u}[side]
    # from the run, straight onto the wall round to along the wall
    turn = np.linspace(np.radians(2.0), np.pi / 2, 89)[:, None]
    directions = -np.cos(turn) * frame.n + np.sin(turn) * away
    return bool(
        np.max(line.candela_per_metre(directions))
        > 1e-4 * np.max(line.intensity.candela) * line.per_metre
    )


def prepare(room: Room, quality: Quality, groups: Iterable[LightGroup] | None = None) -> Prepared:
    """Normals, openness and horizons of every relief in the room.

    Parameters
    ----------
    room : Room
        Surfaces; its runs say on which sides horizons are needed, unless `groups` does.
    quality : Quality
        Number of stored azimuths.
    groups : iterable of LightGroup, optional
        All groups that will ever be asked for, where they differ from the room's.

    Returns
    -------
    Prepared
        To hand to `direct`, as often as runs change.
    """
    lines = [line for group in (room.groups if groups is None else groups) for line in group.lines]
    reliefs: dict[str, PreparedRelief] = {}
    for surface in room.surfaces:
        relief = surface.relief
        if relief is None:
            continue
        step_u, step_v = relief.grid.step_u_m, relief.grid.step_v_m
        standing = standing_heights(surface)
        normals = vertex_normals(relief.heights_m, step_u, step_v)
        sides = {side: None for line in lines for side in sides_of(surface, line)}
        turned = {side: turned_relief(surface, normals, side, quality.azimuths) for side in sides}
        above = turned["up"].horizons if "up" in turned else None
        thin: list[NDArray[np.float32]] = []
        around = np.empty((2 * AZIMUTHS, *standing.shape), np.uint8)
        moments = open_moments(
            standing, normals, step_u, step_v, above=above, thin=thin, around=around
        )
        reliefs[surface.name] = PreparedRelief(
            normals=normals,
            moments=moments,
            sides=turned,
            thin_horizons=np.concatenate(thin),
            around=around,
        )
    return Prepared(room, quality, reliefs)


def past_the_runs(prepared: Prepared) -> Prepared:
    """The same for all light but that of the runs: without the horizons on their sides.

    These are most of its memory, 120 bytes a vertex, which comes free when `direct` is done.
    """
    bare = {name: replace(relief, sides={}) for name, relief in prepared.reliefs.items()}
    return replace(prepared, reliefs=bare)


def moved(prepared: Prepared, room: Room, groups: Iterable[LightGroup] | None = None) -> Prepared:
    """What `prepare` would return for a room that differs by its runs and bodies alone.

    Parameters
    ----------
    prepared : Prepared
        Of a room with the same reliefs.
    room : Room
        The room as it is now; surfaces without relief may differ too.
    groups : iterable of LightGroup, optional
        All groups that will ever be asked for, where they differ from the room's.

    Returns
    -------
    Prepared
        Of `room`, with the normals, openness and horizons that are there already; only sides on
        which no run lay before are computed. Hand it on to the next step and nothing is
        computed twice.

    Raises
    ------
    ValueError
        If a surface with relief is not where it was, or its relief is another.
    """
    groups = room.groups if groups is None else tuple(groups)
    reliefs: dict[str, PreparedRelief] = {}
    before = {surface.name: surface for surface in prepared.room.surfaces}
    for surface in room.surfaces:
        if surface.relief is None:
            continue
        old = before.get(surface.name)
        if old is None or not same_relief(old, surface):
            raise ValueError(f"the relief of {surface.name!r} is not the one that was prepared")
        ready = prepared.reliefs[surface.name]
        sides = dict(ready.sides)
        for line in (line for group in groups for line in group.lines):
            for side in sides_of(surface, line):
                if side not in sides:
                    sides[side] = turned_relief(
                        surface, ready.normals, side, prepared.quality.azimuths
                    )
        reliefs[surface.name] = replace(ready, sides=sides)
    return Prepared(room, prepared.quality, reliefs, prepared.beside)


def same_relief(one: Surface, other: Surface) -> bool:
    """Whether two surfaces have the same relief in the same place."""
    if one.relief is None or other.relief is None:
        return False
    here, there = one.relief, other.relief
    return (
        here.grid == there.grid
        and same_frame(one.frame, other.frame)
        and (here.heights_m is there.heights_m or np.array_equal(here.heights_m, there.heights_m))
        and (here.mask is there.mask or np.array_equal(here.mask, there.mask))
        and (bool(here.mask.all()) or same_outline(one, other))
    )


def same_surface(one: Surface, other: Surface) -> bool:
    """Whether two surfaces take and give light alike."""
    if one is other:
        return True
    return (
        one.name == other.name
        and one.grid == other.grid
        and same_frame(one.frame, other.frame)
        and same_outline(one, other)
        and np.array_equal(one.reflectance_rgb, other.reflectance_rgb)
        and ((one.relief is None and other.relief is None) or same_relief(one, other))
    )


def same_body(one: Body, other: Body) -> bool:
    """Whether two bodies take and give light alike."""
    return (
        np.array_equal(one.points_m, other.points_m)
        and np.array_equal(one.faces, other.faces)
        and np.array_equal(one.reflectance_rgb, other.reflectance_rgb)
    )


def same_outline(one: Surface, other: Surface) -> bool:
    """Whether two surfaces have the same corners and the same holes."""
    return (
        np.array_equal(one.corners_uv_m, other.corners_uv_m)
        and len(one.holes_uv_m) == len(other.holes_uv_m)
        and all(map(np.array_equal, one.holes_uv_m, other.holes_uv_m))
    )


def same_frame(one: Frame, other: Frame) -> bool:
    """Whether two frames are one."""
    return all(
        np.array_equal(getattr(one, k), getattr(other, k)) for k in ("origin_m", "u", "v", "n")
    )


def standing_heights(surface: Surface) -> NDArray[np.float32]:
    """Heights of a relief, holes and what is beyond the surface at the lowest point. [m]

    These cast no shadow. The plain parts of a wall with areas of relief are as high as they are.
    """
    relief = whole_relief(surface)
    if relief.mask.all():
        return relief.heights_m
    return np.where(relief.mask, relief.heights_m, np.float32(relief.lowest_m))


def turned_relief(
    surface: Surface, normals: NDArray[np.float32], side: Side, azimuths: int
) -> TurnedRelief:
    """The surface's relief with `side` up, and its horizons toward that side."""
    relief = surface.relief
    if relief is None:
        raise ValueError(f"{surface.name} has no relief")
    grid = relief.grid
    heights = np.ascontiguousarray(turn_field(standing_heights(surface), side))
    step_u, step_v = grid.step_u_m, grid.step_v_m
    if side in ("left", "right"):
        step_u, step_v = step_v, step_u
    return TurnedRelief(
        frame=turn_frame(surface.frame, side, grid.width_m, grid.height_m),
        heights_m=heights,
        normals=normals if side == "up" else turn_vectors(normals, side),
        horizons=horizon_tangents(heights, step_u, step_v, half_turn(azimuths)),
        step_u_m=step_u,
        step_v_m=step_v,
        tie_m=TIE_M if side in ("up", "right") else -TIE_M,
    )
