"""The room cut into patches that exchange diffuse light: small at edges, large in the middle.

Patches depend on the room alone, so that one set serves all runs. What a run draws on a
surface in finer detail enters through each patch's sub-patches, which near receivers see.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.cuts import graded, in_holes, surface_lines
from rakelight.light.form_factors import polygon_normal
from rakelight.scene.frame import Frame
from rakelight.scene.surfaces import Body, Room

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Sub-patches along each side of a patch.
SPLIT = 4


def cut_by_rectangle(corners: Floats, low: Floats, high: Floats) -> Floats:
    """The part of a polygon inside a rectangle, shape (k, 2) (Sutherland and Hodgman)."""
    for axis in (0, 1):
        for limit, sign in ((low[axis], 1.0), (high[axis], -1.0)):
            inside = sign * (corners[:, axis] - limit)
            kept = []
            for i in range(len(corners)):
                j = (i + 1) % len(corners)
                if inside[i] >= 0:
                    kept.append(corners[i])
                if (inside[i] > 0 > inside[j]) or (inside[i] < 0 < inside[j]):
                    f = inside[i] / (inside[i] - inside[j])
                    kept.append(corners[i] + f * (corners[j] - corners[i]))
            corners = np.array(kept).reshape(-1, 2)
            if len(corners) < 3:
                return np.zeros((0, 2))
    return corners


def area_2d(corners: Floats) -> float:
    """Area of a polygon, shape (k, 2), counter-clockwise positive. [m2]"""
    x, y = corners[:, 0], corners[:, 1]
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """One surface's cells: a grid of lines, clipped by the polygon.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (columns + 1,), (rows + 1,)
        The lines. [m]
    patch : ndarray of int32, shape (rows, columns)
        Number of each cell's patch; -1 outside the polygon and in its holes.
    breaks_u_m, breaks_v_m : tuple of float
        Lines on holes: light may jump there. [m]
    """

    u_m: Floats
    v_m: Floats
    patch: Ints
    breaks_u_m: tuple[float, ...] = ()
    breaks_v_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """All patches of a room: surfaces first, in their order, then bodies.

    Parameters
    ----------
    corners_m : ndarray of float64, shape (patches, k, 3)
        Counter-clockwise seen from the front; unused corners repeat the last. [m]
    counts : ndarray of int32, shape (patches,)
        Corners used.
    centres_m, normals : ndarray of float64, shape (patches, 3)
        Centre of area [m] and unit normal.
    areas_m2, radii_m : ndarray of float64, shape (patches,)
        Area [m2], and distance from the centre to the farthest corner [m].
    owner : ndarray of int32, shape (patches,)
        Index of the surface; of body b, surfaces + b.
    cells : tuple of Cells
        One for each surface.
    """

    corners_m: Floats
    counts: Ints
    centres_m: Floats
    normals: Floats
    areas_m2: Floats
    radii_m: Floats
    owner: Ints
    cells: tuple[Cells, ...]

    @property
    def count(self) -> int:
        """Number of patches."""
        return len(self.areas_m2)

    @property
    def parallelograms(self) -> NDArray[np.bool_]:
        """Patches with four corners and opposite sides alike."""
        if self.corners_m.shape[1] < 4:
            return np.zeros(self.count, np.bool_)
        a, b, c, d = np.moveaxis(self.corners_m[:, :4], 1, 0)
        out: NDArray[np.bool_] = (np.abs(a - b + c - d).max(axis=1) < 1e-9) & (self.counts == 4)
        return out

    def _across(self, which: NDArray[np.bool_], s: Floats, t: Floats) -> Floats:
        """Points at shares s and t of the sides of parallelograms, shape (which, s, 3). [m]"""
        if not which.any():
            return np.zeros((0, s.size, 3))
        a, b, d = (self.corners_m[which, k][:, None] for k in (0, 1, 3))
        out: Floats = a + s[:, None] * (b - a) + t[:, None] * (d - a)
        return out

    def samples(self, n: int) -> tuple[Floats32, Floats32]:
        """Points inside every patch and their shares of its area, n x n a triangle fan piece.

        Returns
        -------
        ndarray of float32, shape (patches, m, 3) and (patches, m)
            Points [m] and shares; a quadrilateral has n x n points, others n x n a triangle.
        """
        x, w = np.polynomial.legendre.leggauss(n)
        x, w = (x + 1) / 2, w / 2
        s, t = (part.ravel() for part in np.meshgrid(x, x))
        weight = np.outer(w, w).ravel()
        pieces = 1 if (self.counts <= 4).all() else int(self.counts.max()) - 2
        points = np.repeat(self.centres_m[:, None], pieces * n * n, axis=1)
        share = np.zeros((self.count, pieces * n * n))
        whole = self.parallelograms
        points[whole, : n * n] = self._across(whole, s, t)
        share[whole, : n * n] = weight
        for i in np.flatnonzero(~whole):
            corners = self.corners_m[i, : self.counts[i]]
            if pieces == 1 and len(corners) == 4:
                a, b, c, d = corners
                points[i] = (
                    ((1 - s) * (1 - t))[:, None] * a
                    + (s * (1 - t))[:, None] * b
                    + (s * t)[:, None] * c
                    + ((1 - s) * t)[:, None] * d
                )
                along = (1 - t)[:, None] * (b - a) + t[:, None] * (c - d)
                up = (1 - s)[:, None] * (d - a) + s[:, None] * (c - b)
                share[i] = weight * np.linalg.norm(np.cross(along, up), axis=1)
            else:
                for k in range(len(corners) - 2):
                    a, b, c = corners[0], corners[k + 1], corners[k + 2]
                    part = slice(k * n * n, (k + 1) * n * n)
                    points[i, part] = a + s[:, None] * (b - a + t[:, None] * (c - b))
                    twice = np.cross(b - a, c - a) @ self.normals[i]
                    share[i, part] = weight * s * twice
            share[i] /= share[i].sum()
        return points.astype(np.float32), share.astype(np.float32)

    def spread(self) -> Floats32:
        """Sixteen points of every patch, even over its area, shape (patches, 16, 3). [m]

        Hammersley's: no two in one sixteenth of the length or of the width, so that the share
        of a straight shadow is right to a sixteenth.
        """
        i = np.arange(16)
        x = (i + 0.5) / 16
        y = ((i & 1) * 8 + (i & 2) * 2 + (i >> 2 & 1) * 2 + (i >> 3) + 0.5) / 16
        points = np.empty((self.count, 16, 3))
        whole = self.parallelograms
        points[whole] = self._across(whole, x, y)
        for n in np.flatnonzero(~whole):
            corners = self.corners_m[n, : self.counts[n]]
            first, second, third = corners[0], corners[1:-1], corners[2:]
            size = np.linalg.norm(np.cross(second - first, third - first), axis=1)
            ends = np.cumsum(size) / size.sum()
            k = np.minimum(np.searchsorted(ends, x), len(size) - 1)
            s = np.sqrt(np.clip((x - (ends - size / size.sum())[k]) * size.sum() / size[k], 0, 1))
            points[n] = first + s[:, None] * (
                second[k] - first + y[:, None] * (third[k] - second[k])
            )
        return points.astype(np.float32)


def cut_room(room: Room, edge_m: float, most_m: float, bodies: Sequence[Body] = ()) -> Patches:
    """Cut a room's surfaces and the given bodies into patches.

    Parameters
    ----------
    room : Room
        Its surfaces.
    edge_m, most_m : float
        Size of patches at a surface's edges and in its middle. [m]
    bodies : sequence of Body
        Closed meshes that block and reflect light.
    """
    polygons: list[Floats] = []
    owner: list[int] = []
    cells = []
    for index, surface in enumerate(room.surfaces):
        lines = surface_lines(surface, edge_m, most_m, bodies)
        u, v = lines.u_m, lines.v_m
        middle_u, middle_v = np.meshgrid((u[1:] + u[:-1]) / 2, (v[1:] + v[:-1]) / 2)
        middles = np.stack([middle_u, middle_v], axis=-1).reshape(-1, 2)
        gone = in_holes(surface, middles).reshape(middle_u.shape)
        number = np.full((v.size - 1, u.size - 1), -1, np.int32)
        if _is_box(surface.corners_uv_m, u, v):
            number[~gone] = len(polygons) + np.arange(np.count_nonzero(~gone))
            cut = _box_cells(u, v, ~gone)
            owner.extend([index] * len(cut))
            polygons.extend(_lift(cut.reshape(-1, 2), surface.frame).reshape(-1, 4, 3))
            cells.append(Cells(u, v, number, lines.breaks_u_m, lines.breaks_v_m))
            continue
        for row, column in np.argwhere(~gone):
            low = np.array([u[column], v[row]])
            high = np.array([u[column + 1], v[row + 1]])
            part = cut_by_rectangle(surface.corners_uv_m, low, high)
            if len(part) < 3 or area_2d(part) < 1e-6 * float(np.prod(high - low)):
                continue
            number[row, column] = len(polygons)
            polygons.append(_lift(part, surface.frame))
            owner.append(index)
        cells.append(Cells(u, v, number, lines.breaks_u_m, lines.breaks_v_m))
    more, of_bodies = _cut_bodies(bodies, len(room.surfaces), edge_m, most_m)
    return gather_patches(polygons + more, owner + of_bodies, tuple(cells))


def _is_box(corners_uv: Floats, u: Floats, v: Floats) -> bool:
    """Whether an outline is the rectangle from its first lines to its last."""
    box = np.array([[u[0], v[0]], [u[-1], v[0]], [u[-1], v[-1]], [u[0], v[-1]]])
    return corners_uv.shape == box.shape and bool(np.abs(corners_uv - box).max() < 1e-9)


def _box_cells(u: Floats, v: Floats, which: NDArray[np.bool_]) -> Floats:
    """Corners of the marked cells of a rectangle, shape (cells, 4, 2), as clipping gives them.

    Most surfaces are rectangles, and clipping their cells one by one took a second in a hall.
    """
    row, column = np.nonzero(which)
    low_u, high_u, low_v, high_v = u[column], u[column + 1], v[row], v[row + 1]
    out = np.stack(
        [
            np.stack([low_u, low_v], axis=1),
            np.stack([high_u, low_v], axis=1),
            np.stack([high_u, high_v], axis=1),
            np.stack([low_u, high_v], axis=1),
        ],
        axis=1,
    )
    out[row > 0] = np.roll(out[row > 0], -1, axis=1)  # these are begun at their second corner
    return out


def _cut_bodies(
    bodies: Sequence[Body], first: int, edge_m: float, most_m: float
) -> tuple[list[Floats], list[int]]:
    """Polygons of bodies, and the owner of each, counted from `first`."""
    polygons: list[Floats] = []
    owner: list[int] = []
    for number, body in enumerate(bodies):
        for polygon in body_polygons(body):
            pieces = _cut_flat(polygon, edge_m, most_m)
            polygons.extend(pieces)
            owner.extend([first + number] * len(pieces))
    return polygons, owner


def cut_bodies(bodies: Sequence[Body], first: int, edge_m: float, most_m: float) -> Patches | None:
    """Patches of bodies alone, their owners counted from `first`; None if there are none."""
    polygons, owner = _cut_bodies(bodies, first, edge_m, most_m)
    return gather_patches(polygons, owner) if polygons else None


def joined(one: Patches, more: Patches | None) -> Patches:
    """All patches of two, the cells of the first."""
    if more is None:
        return one
    most = max(one.corners_m.shape[1], more.corners_m.shape[1])
    wide = [
        np.concatenate([c, np.repeat(c[:, -1:], most - c.shape[1], axis=1)], axis=1)
        for c in (one.corners_m, more.corners_m)
    ]
    return Patches(
        corners_m=np.concatenate(wide),
        counts=np.concatenate([one.counts, more.counts]),
        centres_m=np.concatenate([one.centres_m, more.centres_m]),
        normals=np.concatenate([one.normals, more.normals]),
        areas_m2=np.concatenate([one.areas_m2, more.areas_m2]),
        radii_m=np.concatenate([one.radii_m, more.radii_m]),
        owner=np.concatenate([one.owner, more.owner]),
        cells=one.cells,
    )


def body_polygons(body: Body) -> list[Floats]:
    """Faces of a mesh, coplanar neighbours joined where that makes a convex polygon. [m]"""
    corner = body.points_m[body.faces]
    groups: dict[tuple[int, ...], list[int]] = {}
    for index, triangle in enumerate(corner):
        vector = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
        size = float(np.linalg.norm(vector))
        if size < 1e-12:
            continue
        normal = vector / size
        key = (*np.round(normal * 1e4).astype(int), round(float(normal @ triangle[0]) * 1e5))
        groups.setdefault(tuple(int(k) for k in key), []).append(index)
    out: list[Floats] = []
    for members in groups.values():
        triangles = corner[members]
        hull = _convex_outline(triangles)
        whole = sum(polygon_normal(t)[1] for t in triangles)
        if hull is not None and abs(polygon_normal(hull)[1] - whole) < 1e-6 * whole:
            out.append(hull)
        else:
            out.extend(triangles)
    return out


def _convex_outline(triangles: Floats) -> Floats | None:
    """Convex hull of coplanar triangles, counter-clockwise about their normal."""
    frame = _frame_of(triangles[0])
    points = frame.from_room(triangles.reshape(-1, 3))[:, :2]
    points = np.unique(np.round(points, 7), axis=0)
    if len(points) < 3:
        return None
    chain: list[Floats] = []
    for sweep in (points, points[::-1]):  # Andrew's monotone chain
        part: list[Floats] = []
        for p in sweep:
            while len(part) > 1 and _turn(part[-2], part[-1], p) <= 1e-12:
                part.pop()
            part.append(p)
        chain += part[:-1]
    return _lift(np.array(chain), frame)


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _frame_of(corners: Floats) -> Frame:
    """Return a frame in the plane of a polygon, u along its longest edge."""
    edges = np.roll(corners, -1, axis=0) - corners
    u = edges[int(np.argmax(np.linalg.norm(edges, axis=1)))]
    u = u / np.linalg.norm(u)
    n, _ = polygon_normal(corners)
    return Frame(corners[0], u, np.cross(n, u), n)


def _cut_flat(polygon: Floats, edge_m: float, most_m: float) -> list[Floats]:
    frame = _frame_of(polygon)
    flat = frame.from_room(polygon)[:, :2]
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    lines = [
        low[k] + (graded(float(size[k]), edge_m, most_m) if size[k] > 4 * edge_m else [0, size[k]])
        for k in (0, 1)
    ]
    pieces = []
    for a, b in zip(lines[0], lines[0][1:], strict=False):
        for c, d in zip(lines[1], lines[1][1:], strict=False):
            part = cut_by_rectangle(flat, np.array([a, c]), np.array([b, d]))
            if len(part) >= 3 and area_2d(part) > 1e-6 * (b - a) * (d - c):
                pieces.append(_lift(part, frame))
    return pieces


def _lift(corners_uv: Floats, frame: Frame) -> Floats:
    return frame.to_room(np.column_stack([corners_uv, np.zeros(len(corners_uv))]))


def gather_patches(
    polygons: Sequence[Floats], owner: Sequence[int], cells: tuple[Cells, ...] = ()
) -> Patches:
    """Stack polygons, each of shape (k, 3) [m], as patches."""
    most = max(len(p) for p in polygons)
    corners = np.stack([np.concatenate([p, np.repeat(p[-1:], most - len(p), 0)]) for p in polygons])
    # fans of triangles about the first corner; repeated corners add none
    spoke = corners[:, 1:] - corners[:, :1]
    twice = np.cross(spoke[:, :-1], spoke[:, 1:])
    vector = twice.sum(axis=1) / 2
    areas = np.linalg.norm(vector, axis=1)
    normals = vector / areas[:, None]
    share = np.einsum("ntk,nk->nt", twice, normals) / (2 * areas[:, None])
    middles = (spoke[:, :-1] + spoke[:, 1:]) / 3
    centre = corners[:, 0] + np.einsum("nt,ntk->nk", share, middles)
    return Patches(
        corners_m=corners,
        counts=np.array([len(p) for p in polygons], np.int32),
        centres_m=centre,
        normals=normals,
        areas_m2=areas,
        radii_m=np.linalg.norm(corners - centre[:, None], axis=2).max(axis=1),
        owner=np.array(owner, np.int32),
        cells=cells,
    )
