"""Light on a horizontal plane at a stated height, where tables are: direct, and by bounce."""

import math
from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.direct import shaded_plane_light
from rakelight.light.faces import blocking_faces, shades
from rakelight.light.visibility import in_front
from rakelight.measure.area import max_to_min
from rakelight.measure.grid import grid_counts, grid_spacing_m
from rakelight.measure.room_light import RoomLight
from rakelight.measure.weights import inside_polygon
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.number import Number
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float64]

#: Height where none is stated; common practice for tables, no source.
HEIGHT_M = 0.75
#: Left out along the walls (EN 12464-1, where no task lies there; from memory). [m]
BORDER_M = 0.5
#: Largest piece of a surface that gives its light as from its middle. [m]
PIECE_M = 0.12
STEPS = 48
# Rays start and end this far from what they join. [m]
_LIFT_M = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class WorkPlane:
    """Readings on a horizontal plane.

    Parameters
    ----------
    points_m : ndarray of float64, shape (k, 3)
        In the room. [m]
    direct_lx : ndarray of float64, shape (k,)
        From the runs, past all that stands in between. [lx]
    bounced_lx : ndarray of float64, shape (k,)
        From the surfaces; empty if bounced light was not computed. [lx]
    height_m : float
        Over the floor. [m]
    """

    points_m: Floats
    direct_lx: Floats
    bounced_lx: Floats
    height_m: float

    @property
    def lx(self) -> Floats:
        """All that was computed. [lx]"""
        return self.direct_lx + self.bounced_lx if self.bounced_lx.size else self.direct_lx


def work_plane(light: RoomLight, height_m: float = HEIGHT_M) -> WorkPlane | None:
    """Light at the points of a grid (EN 12464-1 spacing) on a horizontal plane, facing up.

    Parameters
    ----------
    light : RoomLight
        The room's; with bounced light, the plane receives from every surface what leaves it.
    height_m : float
        Over the floor. [m]

    Returns
    -------
    WorkPlane or None
        None where the room is too small or too low for it.

    Notes
    -----
    Points inside of something are left out. What leaves a surface is its reflectance times its
    illuminance, a relief counting as its mean plane; pieces of at most `PIECE_M` give it as from
    their middles, which half a metre off is within 1 %. Stated other light is left out: nothing
    is known of its way.
    """
    room = light.room
    floor = room.surface("floor")
    width, depth = (s - 2 * BORDER_M for s in (floor.grid.width_m, floor.grid.height_m))
    if not (width > 0.2 and depth > 0.2):
        return None
    spacing = grid_spacing_m(width, depth)
    columns, rows = (max(2, n) for n in grid_counts(width, depth, spacing))
    cell = np.array([width / columns, depth / rows])
    frame = floor.frame
    corner = frame.to_room(np.array([*(BORDER_M + cell / 2), height_m]))
    size = cell * [columns - 1, rows - 1]
    outline = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], np.float64)
    plane = Surface(
        "work plane",
        Frame(corner, frame.u, frame.v, frame.n),
        outline,
        Grid(rows, columns, float(size[0]), float(size[1])),
        np.zeros(3),
    )
    u, v = np.meshgrid(plane.grid.u_m(), plane.grid.v_m())
    points = plane.frame.to_room(np.stack([u.ravel(), v.ravel(), np.zeros(u.size)], axis=1))
    free = ~_inside_something(points, room) & _under_ceiling(points, room)
    if not free.any():
        return None
    direct = _direct(plane, room).ravel()[free]
    bounced = _bounced(points[free], plane.frame.n, light) if light.lit.bounced_lx else np.zeros(0)
    return WorkPlane(points[free], direct, bounced, height_m)


def _direct(plane: Surface, room: Room) -> Floats:
    faces = blocking_faces(room)
    total = np.zeros((plane.grid.rows, plane.grid.columns))
    for group in room.groups:
        for whole in group.lines:
            line = in_front(plane, whole)
            if line is not None:
                shade = shades(plane, line, faces.without(plane.name, line))
                total += group.output * shaded_plane_light(plane, line, shade, None, STEPS)
    return total


def _pieces(light: RoomLight) -> tuple[Floats, Floats, Floats, Floats]:
    """Middles, normals, areas and exitances of pieces of every surface."""
    middles, normals, areas, exitances = [], [], [], []
    for surface in light.room.surfaces:
        if surface.name not in light.lit.direct_lx:
            continue
        gathered = light.of(surface.name)
        cut = gathered.of_shape.get(("pieces", PIECE_M))
        if not isinstance(cut, _Cut):
            cut = gathered.of_shape["pieces", PIECE_M] = _cut(surface, gathered.plane_m2)
        lx = np.maximum(gathered.flat_lx - np.float32(surface.other_light_lx), 0)
        middles.append(surface.frame.to_room(cut.middles_uvn_m))
        normals.append(np.broadcast_to(surface.frame.n, cut.middles_uvn_m.shape))
        areas.append(cut.areas_m2)
        exitances.append(cut.sums(lx * gathered.plane_m2) / cut.areas_m2 * gathered.reflectance)
    return (
        np.concatenate(middles), np.concatenate(normals), np.concatenate(areas),
        np.concatenate(exitances),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """A surface cut into pieces of whole rows and columns of vertices.

    Parameters
    ----------
    rows, columns : ndarray of int64
        Where each begins.
    kept : ndarray of bool, shape (up, across)
        Those that have an area.
    middles_uvn_m, areas_m2 : ndarray of float64, shape (kept, 3), (kept,)
        Of these. [m], [m2]
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    kept: NDArray[np.bool_]
    middles_uvn_m: Floats
    areas_m2: Floats

    def sums(self, values: Floats) -> Floats:
        """Sums over the kept pieces of values by vertex."""
        out: Floats = _sums(values, self.rows, self.columns)[self.kept]
        return out


def _sums(values: Floats, rows: NDArray[np.int64], columns: NDArray[np.int64]) -> Floats:
    out: Floats = np.add.reduceat(np.add.reduceat(values, rows, axis=0), columns, axis=1)
    return out


def _starts(count: int, pieces: int) -> NDArray[np.int64]:
    """First of each of so many pieces of a line of vertices, less those that none falls in."""
    return np.unique((np.arange(count) * pieces) // count, return_index=True)[1]


def _cut(surface: Surface, plane_m2: Floats) -> _Cut:
    grid = surface.grid
    rows = _starts(grid.rows, max(1, math.ceil(grid.height_m / PIECE_M)))
    columns = _starts(grid.columns, max(1, math.ceil(grid.width_m / PIECE_M)))
    area = _sums(plane_m2, rows, columns)
    kept = area > 1e-9
    moments = (plane_m2 * grid.u_m(), plane_m2 * grid.v_m()[:, None])
    u, v = (_sums(one, rows, columns)[kept] / area[kept] for one in moments)
    return _Cut(rows, columns, kept, np.column_stack([u, v, np.zeros(u.size)]), area[kept])


def _bounced(points: Floats, normal: Floats, light: RoomLight) -> Floats:
    middles, normals, areas, exitances = _pieces(light)
    blocks = _scene(light.room)
    out = np.zeros(len(points))
    for k, point in enumerate(points):
        way = middles - point
        distance = np.linalg.norm(way, axis=1)
        way /= distance[:, None]
        here, there = way @ normal, -np.einsum("ij,ij->i", way, normals)
        part = np.maximum(here, 0) * np.maximum(there, 0) * areas / (np.pi * distance**2)
        seen = part > 0
        if blocks is not None and seen.any():
            seen[seen] = ~_hidden(blocks, point, way[seen], distance[seen])
        out[k] = float(np.sum(part[seen] * exitances[seen]))
    return out


def _scene(room: Room) -> EmbreeScene | None:
    quads = blocking_faces(room).corners_m
    bodies = [b.points_m[b.faces] for b in room.bodies if b.kind in ("mesh", "housing")]
    triangles = [quads[:, [0, 1, 2]], quads[:, [0, 2, 3]], *bodies]
    every = np.concatenate([t for t in triangles if len(t)] or [np.zeros((0, 3, 3))])
    if not len(every):
        return None
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(every, np.float32))
    return scene


def _hidden(scene: EmbreeScene, point: Floats, way: Floats, distance: Floats) -> NDArray[np.bool_]:
    starts = np.ascontiguousarray(point + _LIFT_M * way, np.float32)
    reach = np.ascontiguousarray(distance - 2 * _LIFT_M, np.float32)
    met = scene.run(starts, np.ascontiguousarray(way, np.float32), dists=reach, query="DISTANCE")
    out: NDArray[np.bool_] = met < reach * (1 - 1e-5)
    return out


def _inside_something(points: Floats, room: Room) -> NDArray[np.bool_]:
    """Whether the next level face overhead is seen from behind: then a point is inside a body."""
    nearest = np.full(len(points), np.inf)
    inside = np.zeros(len(points), np.bool_)
    for surface in room.surfaces:
        slope = float(surface.frame.n[2])
        if not surface.blocks or abs(slope) < 0.5:
            continue
        rise = (surface.frame.origin_m - points) @ surface.frame.n / slope
        local = surface.frame.from_room(points + rise[:, None] * [0.0, 0.0, 1.0])
        over = (rise > 1e-6) & (rise < nearest)
        over &= inside_polygon(local[:, 0], local[:, 1], surface.corners_uv_m)
        nearest[over] = rise[over]
        inside[over] = slope > 0
    return inside


def _under_ceiling(points: Floats, room: Room) -> NDArray[np.bool_]:
    under = np.ones(len(points), np.bool_)
    for surface in room.surfaces:
        if surface.name.startswith("ceiling"):
            under &= (points - surface.frame.origin_m) @ surface.frame.n > 0
    return under


def work_plane_numbers(light: RoomLight, height_m: float = HEIGHT_M) -> tuple[Number, ...]:
    """Average and evenness on the work plane; says so where it is direct light alone."""
    found = work_plane(light, height_m)
    if found is None:
        return ()
    whole = bool(found.bounced_lx.size)
    what = "direct and bounced" if whole else "direct light of the runs alone"
    lx = found.lx
    average, least, most = float(lx.mean()), float(lx.min()), float(lx.max())
    key = "work_plane" if whole else "work_plane.direct"
    out = [
        Number("work_plane.height_m", found.height_m, "m", "height of the work plane"),
        Number(f"{key}.average_lx", average, "lx", f"average on it, {what}"),
        Number(f"{key}.min_lx", least, "lx", "least"),
        Number(f"{key}.max_lx", most, "lx", "greatest"),
        Number(
            f"{key}.uniformity", least / average if average > 0 else math.nan, "1",
            "U0 = least to average",
        ),
        Number(f"{key}.max_to_min", max_to_min(least, most), "1", "greatest to least"),
    ]  # fmt: skip
    if whole and average > 0:
        share = float(found.bounced_lx.mean()) / average
        out.append(Number(f"{key}.bounced_share", share, "1", "share that came by bounce"))
    return tuple(out)
