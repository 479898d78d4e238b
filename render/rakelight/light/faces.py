"""Faces that stand in the light, and which of them can come between a run and a tile."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.kernels.shaft import mark_shafts
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Body, Room, Surface

Floats = NDArray[np.float64]

#: Kinds of body that stand in the light; a figure is there for scale and changes no number.
BLOCKING = ("housing", "blocker", "mesh")
#: A body of more triangles is no set of faces: rays are cast at it (`light/meshes.py`).
EXACT_TRIANGLES = 48
#: Side of a tile of vertices that is looked at as one. [vertices]
TILE = 32
#: A face with an edge closer than this to the run's direction is cut along it exactly.
PARALLEL = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Convex faces that stand in the light.

    Parameters
    ----------
    corners_m : ndarray of float64, shape (faces, 4, 3)
        In the room; a triangle repeats its last corner. [m]
    owner : tuple of str
        Surface or body of each face.
    on_body : ndarray of bool, shape (faces,)
        True for faces of bodies.
    """

    corners_m: Floats
    owner: tuple[str, ...]
    on_body: NDArray[np.bool_]

    def without(self, surface: str, line: LitLine) -> "Faces":
        """Leave out a surface's own faces, and the bodies of the run's own housings.

        A photometric file was measured in its housing: what that hides is in the file. Surfaces
        around a recessed opening are not, whatever their name.
        """
        keep = [
            i
            for i, name in enumerate(self.owner)
            if (name != surface if not self.on_body[i] else not is_own_housing(name, line))
        ]
        return Faces(self.corners_m[keep], tuple(self.owner[i] for i in keep), self.on_body[keep])


def is_own_housing(body: str, line: LitLine) -> bool:
    """Whether a body is the housing of one of a run's luminaires, by its name."""
    return f"{body}.".startswith(f"housing {line.tag}.")


def blocking_faces(room: Room) -> Faces:
    """All faces of a room that can shade: surfaces that block, and bodies of few triangles."""
    corners: list[Floats] = []
    owner: list[str] = []
    for surface in room.surfaces:
        if surface.blocks:
            quads = convex_parts((surface.corners_uv_m, *surface.holes_uv_m))
            flat = np.concatenate([quads, np.zeros((len(quads), 4, 1))], axis=2)
            corners.append(surface.frame.to_room(flat))
            owner += [surface.name] * len(quads)
    of_surfaces = len(owner)
    for body in room.bodies:
        if body.kind in BLOCKING and len(body.faces) <= EXACT_TRIANGLES:
            quads = faces_of_body(body)
            corners.append(quads)
            owner += [body.name] * len(quads)
    stacked = np.concatenate(corners) if corners else np.zeros((0, 4, 3))
    return Faces(stacked, tuple(owner), np.arange(len(owner)) >= of_surfaces)


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
    if not faces.owner:
        tiles, count = _tiles(surface)
        return Shades(
            np.zeros((0, 4, 3)),
            np.zeros((0, 5), np.bool_),
            np.zeros(count + 1, np.int32),
            np.zeros(0, np.int32),
            tiles,
        )
    marked, tiles = mark_tiles(surface, line, faces.corners_m)
    corners = (faces.corners_m - line.origin_m) @ run_axes(line)
    counts = marked.sum(axis=1)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
    listed = np.nonzero(marked)[1].astype(np.int32)
    return Shades(corners, parallel_edges(corners), starts, listed, tiles)


def _tiles(surface: Surface) -> tuple[NDArray[np.int32], int]:
    """Tile of each vertex, shape (rows, columns), and how many there are."""
    grid = surface.grid
    rows, columns = -(-grid.rows // TILE), -(-grid.columns // TILE)
    tiles = (np.arange(grid.rows) // TILE)[:, None] * columns + np.arange(grid.columns) // TILE
    return tiles.astype(np.int32), rows * columns


def mark_tiles(
    surface: Surface, line: LitLine, hulls_m: Floats
) -> tuple[NDArray[np.bool_], NDArray[np.int32]]:
    """Which convex things can come between a run and each tile of a surface.

    Parameters
    ----------
    surface : Surface
        What is lit.
    line : LitLine
        The run.
    hulls_m : ndarray of float64, shape (things, k, 3)
        Corners of each, in the room; the first three span a face of it. [m]

    Returns
    -------
    marked : ndarray of bool, shape (tiles, things)
        What stays marked may still be harmless.
    tiles : ndarray of int32, shape (rows, columns)
        Tile of each vertex.
    """
    grid = surface.grid
    rows, columns = -(-grid.rows // TILE), -(-grid.columns // TILE)
    tiles, count = _tiles(surface)
    turn = run_axes(line)
    corners = (hulls_m - line.origin_m) @ turn
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
    marked = np.zeros((count, len(corners)), np.bool_)
    mark_shafts(boxes, opening, corners, normals, axes, marked)
    return marked, tiles


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
