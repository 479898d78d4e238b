"""What stands between a run and what it lights: faces, and reliefs that are not one's own."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.kernels.shaft import mark_shafts
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Body, Room, Surface

Floats = NDArray[np.float64]

#: Kinds of body that stand in the light; a figure is there for scale and changes no number.
BLOCKING = ("housing", "blocker")
#: Side of a tile of vertices that is looked at as one. [vertices]
TILE = 32
#: A face with an edge closer than this to the run's direction is cut along it exactly.
PARALLEL = 1e-7
#: Another wall's relief is ray-cast with about this many vertices at most.
MESH_VERTICES = 400_000
#: Rays along the run from a point close to another wall's relief.
BINS = 64
#: Rays start and end this far from what they join. [m]
LIFT_M = 2e-5
#: Points whose rays are cast at a time.
BATCH = 4096


@dataclass(frozen=True, slots=True, eq=False)
class Nearby:
    """Points so close to another relief that rays decide what they see of a run.

    Parameters
    ----------
    scene : object
        The ray tracer's scene of these reliefs.
    mask : ndarray of bool, shape (rows, columns)
        The points.
    """

    scene: object
    mask: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Convex faces that stand in the light.

    Parameters
    ----------
    corners_m : ndarray of float64, shape (faces, 4, 3)
        In the room; a triangle repeats its last corner. [m]
    owner : tuple of str
        Surface or body of each face.
    """

    corners_m: Floats
    owner: tuple[str, ...]

    def without(self, surface: str, line: LitLine) -> "Faces":
        """Leave out a surface's own faces, and the run's own housings.

        A photometric file was measured in its housing: what that hides is in the file.
        """
        own = ("housing " + line.tag, "housing " + line.tag + ".")
        keep = [
            i
            for i, name in enumerate(self.owner)
            if name != surface and name != own[0] and not name.startswith(own[1])
        ]
        return Faces(self.corners_m[keep], tuple(self.owner[i] for i in keep))


def blocking_faces(room: Room) -> Faces:
    """All faces of a room that can shade: surfaces that block, housings and other bodies."""
    corners: list[Floats] = []
    owner: list[str] = []
    for surface in room.surfaces:
        if surface.blocks:
            quads = convex_parts((surface.corners_uv_m, *surface.holes_uv_m))
            flat = np.concatenate([quads, np.zeros((len(quads), 4, 1))], axis=2)
            corners.append(surface.frame.to_room(flat))
            owner += [surface.name] * len(quads)
    for body in room.bodies:
        if body.kind in BLOCKING:
            quads = faces_of_body(body)
            corners.append(quads)
            owner += [body.name] * len(quads)
    stacked = np.concatenate(corners) if corners else np.zeros((0, 4, 3))
    return Faces(stacked, tuple(owner))


def convex_parts(outlines: Sequence[Floats]) -> Floats:
    """Cut a polygon with holes into trapezoids between the heights of its corners.

    Parameters
    ----------
    outlines : sequence of ndarray of float64, shape (k, 2)
        The polygon and its holes, any direction. [m]

    Returns
    -------
    ndarray of float64, shape (parts, 4, 2)
        Convex, counter-clockwise. A convex polygon of up to four corners is left whole.
    """
    if len(outlines) == 1 and len(outlines[0]) <= 4 and _is_convex(outlines[0]):
        whole = outlines[0]
        return whole[np.minimum(np.arange(4), len(whole) - 1)][None].astype(np.float64)
    start = np.concatenate(outlines)
    end = np.concatenate([np.roll(o, -1, axis=0) for o in outlines])
    heights = np.unique(start[:, 1])
    parts = []
    for low, high in itertools.pairwise(heights):
        if high - low < 1e-9:
            continue
        middle = (low + high) / 2
        crosses = np.flatnonzero((start[:, 1] < middle) != (end[:, 1] < middle))
        a, b = start[crosses], end[crosses]
        slope = (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        at_low = a[:, 0] + (low - a[:, 1]) * slope
        at_high = a[:, 0] + (high - a[:, 1]) * slope
        order = np.argsort(at_low + at_high, kind="stable")
        for left, right in zip(order[0::2], order[1::2], strict=True):
            parts.append(
                [
                    [at_low[left], low],
                    [at_low[right], low],
                    [at_high[right], high],
                    [at_high[left], high],
                ]
            )
    return np.array(parts, np.float64).reshape(-1, 4, 2)


def _is_convex(outline: Floats) -> bool:
    edge = np.roll(outline, -1, axis=0) - outline
    after = np.roll(edge, -1, axis=0)
    turn = edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]
    return bool(np.all(turn >= -1e-12) or np.all(turn <= 1e-12))


def faces_of_body(body: Body) -> Floats:
    """A body's triangles, two and two joined where they make a parallelogram, (faces, 4, 3)."""
    triangles = body.points_m[body.faces]
    out: list[Floats] = []
    i = 0
    while i < len(triangles):
        one = triangles[i]
        joined = _joined(one, triangles[i + 1]) if i + 1 < len(triangles) else None
        if joined is None:
            out.append(one[[0, 1, 2, 2]])
            i += 1
        else:
            out.append(joined)
            i += 2
    return np.array(out, np.float64).reshape(-1, 4, 3)


def _joined(one: Floats, two: Floats) -> Floats | None:
    """Join triangles (a, b, c) and (a, c, d), in any rotation, to a parallelogram."""
    for k in range(3):
        a, b, c = np.roll(one, -k, axis=0)
        d = a + c - b
        rest = [np.linalg.norm(two - corner, axis=1).min() for corner in (a, c, d)]
        if max(rest) < 1e-9:
            return np.array([a, b, c, d])
    return None


def run_axes(line: LitLine) -> Floats:
    """The run's axis, nadir and across vectors as columns, shape (3, 3)."""
    return np.stack([line.axis, line.nadir, line.across], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Shades:
    """The faces that can shade a surface from one run, by tile, in the run's frame.

    Parameters
    ----------
    corners_m : ndarray of float64, shape (faces, 4, 3)
        Along the axis, nadir, across. [m]
    parallel : ndarray of bool, shape (faces, 5)
        Whether the edge that ends at each corner's successor is parallel to the axis; last:
        whether all edges are parallel to the axis or straight across the section.
    starts, listed : ndarray of int32
        Faces of tile t: listed[starts[t] : starts[t + 1]].
    tiles : ndarray of int32, shape (rows, columns)
        Tile of each vertex.
    """

    corners_m: Floats
    parallel: NDArray[np.bool_]
    starts: NDArray[np.int32]
    listed: NDArray[np.int32]
    tiles: NDArray[np.int32]

    @property
    def shaded(self) -> NDArray[np.bool_]:
        """Vertices that some face may shade, shape (rows, columns)."""
        out: NDArray[np.bool_] = (np.diff(self.starts) > 0)[self.tiles]
        return out


def shades(surface: Surface, line: LitLine, faces: Faces) -> Shades:
    """Find which faces can come between a run and each tile of a surface.

    Parameters
    ----------
    surface : Surface
        What is lit.
    line : LitLine
        The run.
    faces : Faces
        All that stand in the room.
    """
    grid = surface.grid
    rows, columns = -(-grid.rows // TILE), -(-grid.columns // TILE)
    tiles = (np.arange(grid.rows) // TILE)[:, None] * columns + np.arange(grid.columns) // TILE
    tiles = tiles.astype(np.int32)
    turn = run_axes(line)
    if not faces.owner:
        return Shades(
            np.zeros((0, 4, 3)),
            np.zeros((0, 5), np.bool_),
            np.zeros(rows * columns + 1, np.int32),
            np.zeros(0, np.int32),
            tiles,
        )
    corners = (faces.corners_m - line.origin_m) @ turn
    low, high = 0.0, 0.0
    if surface.relief is not None:
        low, high = float(surface.relief.heights_m.min()), float(surface.relief.heights_m.max())
    u, v = grid.u_m(), grid.v_m()
    boxes = np.empty((rows, columns, 8, 3))
    for k in range(8):
        # the far side of a tile is the near side of the next: no vertex falls between
        at_u = np.minimum((np.arange(columns) + (k & 1)) * TILE, grid.columns - 1)
        at_v = np.minimum((np.arange(rows) + (k >> 1 & 1)) * TILE, grid.rows - 1)
        boxes[:, :, k, 0] = u[at_u]
        boxes[:, :, k, 1] = v[at_v][:, None]
        boxes[:, :, k, 2] = high if k & 4 else low
    boxes = (surface.frame.to_room(boxes.reshape(-1, 8, 3)) - line.origin_m) @ turn
    half = line.opening_width_m / 2
    ends = line.lit_m[0, 0], line.lit_m[-1, 1]
    opening = np.array([[x, 0.0, q] for x in ends for q in (-half, half)])
    frame = surface.frame
    axes = np.concatenate([np.eye(3), np.stack([frame.u, frame.v, frame.n]) @ turn])
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    marked = np.zeros((rows * columns, len(corners)), np.bool_)
    mark_shafts(boxes, opening, corners, normals, axes, marked)
    counts = marked.sum(axis=1)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
    listed = np.nonzero(marked)[1].astype(np.int32)
    return Shades(corners, parallel_edges(corners), starts, listed, tiles)


def parallel_edges(corners: Floats) -> NDArray[np.bool_]:
    """Which edges of faces in the run's frame are parallel to its axis, shape (faces, 5).

    The last column says that the others lie straight across: such a face is a piece of a prism.
    """
    edge = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(edge, axis=2)
    across = np.hypot(edge[..., 1], edge[..., 2])
    none = length < 1e-12
    along = (across <= PARALLEL * np.maximum(length, 1e-12) + 1e-9) & ~none
    straight = np.abs(edge[..., 0]) <= PARALLEL * length + 1e-9
    prism = (along | straight).all(axis=1) & (along.sum(axis=1) == 2)
    return np.column_stack([along, prism])


def height_over(surface: Surface, points_m: Floats) -> Floats:
    """Distance of room points in front of a surface's mean plane, shape (points,). [m]"""
    out: Floats = (points_m - surface.frame.origin_m) @ surface.frame.n
    return out


def lit_heights(surface: Surface, line: LitLine) -> Floats:
    """Least distance of the opening's edges from a mean plane, at both lit ends, shape (2,). [m]"""
    ends = line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis
    half = abs(float(line.across @ surface.frame.n)) * line.opening_width_m / 2
    out: Floats = height_over(surface, ends) - half
    return out


def in_front(surface: Surface, line: LitLine) -> LitLine | None:
    """The part of a run that can light a surface: what lies in front of its highest point.

    Parameters
    ----------
    surface : Surface
        What is lit.
    line : LitLine
        The run.

    Returns
    -------
    LitLine or None
        None if all of it lies behind the surface. A run that ends within the relief of a wall
        beside it is cut off where it dips below the highest point.

    Raises
    ------
    ValueError
        If the opening does not clear the relief of the wall that it lights or runs along: the
        horizons are exact only for sources in front of it. Or if it crosses the plane.
    """
    width = abs(float(line.across @ surface.frame.n)) * line.opening_width_m
    near = lit_heights(surface, line)
    if max(near) + width <= 0:
        return None
    if surface.relief is None or min(near) > surface.relief.highest_m:
        return line
    highest = surface.relief.highest_m
    slope = float(line.axis @ surface.frame.n)
    first, last = line.lit_m[0, 0], line.lit_m[-1, 1]
    ends_beside = abs(slope) > 1e-6 and line.lights != surface.name and min(near) > -1e-3
    if not ends_beside or max(near) <= highest:
        raise ValueError(
            f"run {line.tag!r}: inside the relief of {surface.name}, which stands out "
            f"{highest * 1000:.1f} mm; its opening's near edge is {min(near) * 1000:.1f} mm in "
            "front of the mean plane"
        )
    cut = first + (highest + LIFT_M - near[0]) / slope
    span = (cut, last) if slope > 0 else (first, cut)
    lit = np.clip(line.lit_m, *span)
    lit = lit[lit[:, 1] > lit[:, 0]]
    return replace(line, lit_m=lit) if len(lit) else None


def nearby(surface: Surface, room: Room) -> Nearby | None:
    """Vertices of a surface nearer to another relief's mean plane than its highest point."""
    grid = surface.grid
    mask = np.zeros((grid.rows, grid.columns), np.bool_)
    meant = []
    for other in room.surfaces:
        if other.relief is None or other is surface:
            continue
        corner = height_over(other, surface.frame.origin_m[None])[0]
        over = (
            corner
            + (surface.frame.u @ other.frame.n) * grid.u_m()
            + (surface.frame.v @ other.frame.n) * grid.v_m()[:, None]
        )
        lean = float(surface.frame.n @ other.frame.n)
        if surface.relief is not None and abs(lean) > 1e-9:
            over = over + lean * surface.relief.heights_m
        close = over < other.relief.highest_m
        if close.any():
            meant.append(other)
            mask |= close
    return Nearby(relief_scene(meant)[0], mask) if meant else None


def relief_scene(relieved: Iterable[Surface]) -> tuple[object, float]:
    """A ray tracer's scene of reliefs, and the largest step of its meshes. [m]"""
    scene = EmbreeScene()
    step = 0.0
    for surface in relieved:
        assert surface.relief is not None
        grid = surface.grid
        every = max(1, int(np.ceil(np.sqrt(grid.rows * grid.columns / MESH_VERTICES))))
        rows = np.unique(np.append(np.arange(0, grid.rows, every), grid.rows - 1))
        columns = np.unique(np.append(np.arange(0, grid.columns, every), grid.columns - 1))
        heights = np.where(surface.relief.mask, surface.relief.heights_m, surface.relief.lowest_m)
        uvn = np.empty((rows.size, columns.size, 3))
        uvn[..., 0] = grid.u_m()[columns]
        uvn[..., 1] = grid.v_m()[rows][:, None]
        uvn[..., 2] = heights[np.ix_(rows, columns)]
        points = surface.frame.to_room(uvn.reshape(-1, 3)).astype(np.float32)
        index = np.arange(len(points)).reshape(rows.size, columns.size)
        low, right = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
        up, far = index[1:, :-1].ravel(), index[1:, 1:].ravel()
        triangles = np.concatenate([np.stack([low, right, far], 1), np.stack([low, far, up], 1)])
        TriangleMesh(scene, np.ascontiguousarray(points[triangles]))
        step = max(step, every * max(grid.step_u_m, grid.step_v_m))
    return scene, step


def relief_clear(
    scene: object, points_m: Floats, normals: Floats, line: LitLine
) -> NDArray[np.float32]:
    """Whether points see each of BINS equal steps of angle along a run past reliefs.

    Parameters
    ----------
    scene : object
        From `relief_scene`.
    points_m, normals : ndarray of float64, shape (points, 3)
        In the room. [m]
    line : LitLine
        The run.

    Returns
    -------
    ndarray of float32, shape (points, BINS)
        1 or 0, from the first lit end to the last.
    """
    local = (points_m - line.origin_m) @ run_axes(line)
    rho = np.maximum(np.hypot(local[:, 1], local[:, 2]), 1e-6)
    low = np.arctan((line.lit_m[0, 0] - local[:, 0]) / rho)
    high = np.arctan((line.lit_m[-1, 1] - local[:, 0]) / rho)
    middle = (np.arange(BINS) + 0.5) / BINS
    # across the opening by the golden ratio: neighbours never look from the same place
    across = (np.mod(np.arange(BINS) * 0.618033988749895, 1.0) - 0.5) * line.opening_width_m
    out = np.empty((len(points_m), BINS), np.float32)
    for first in range(0, len(points_m), BATCH):
        part = slice(first, first + BATCH)
        psi = low[part, None] + (high - low)[part, None] * middle
        along = local[part, :1] + rho[part, None] * np.tan(psi)
        source = line.origin_m + along[..., None] * line.axis + across[:, None] * line.across
        start = points_m[part, None] + LIFT_M * normals[part, None]
        way = source - start
        length = np.linalg.norm(way, axis=2)
        way /= length[..., None]
        hit = scene.run(  # type: ignore[attr-defined]
            np.ascontiguousarray(
                np.broadcast_to(start, way.shape).reshape(-1, 3), dtype=np.float32
            ),
            np.ascontiguousarray(way.reshape(-1, 3), dtype=np.float32),
            dists=np.ascontiguousarray(length.ravel() - LIFT_M, dtype=np.float32),
            query="OCCLUDED",
        )
        out[part] = (np.asarray(hit) < 0).reshape(-1, BINS)
    return out
