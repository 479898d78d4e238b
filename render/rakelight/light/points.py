"""The points of a surface that gather the room's light, and the way from them to its vertices."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.cuts import GROWTH, in_holes, on_holes, surface_pieces
from rakelight.light.places import GROUP, Places, in_groups
from rakelight.scene.surfaces import Body, Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]
Mask = NDArray[np.bool_]

#: Points keep this far from a surface's edges and outside of the outlines of bodies, where the next
#: surface would fill half a view. [m]
INSET_M = 1e-4
#: Growth of the distance between points away from a relief's edges: what vertices there see of
#: the next surface changes fast with the direction.
FINE_GROWTH = 1.35
#: So it is on surfaces about a metre wide: the top of a raft carries housings, close below a
#: ceiling. With points as wide as a wall's it lost 6 % of its light. [m]
RAFT_M = (0.8, 1.6)
#: Cheeks and lids of slots, ledges and fascias: housings stand close before them, and their shadows
#: end within centimetres. With points as wide as a wall's a lid took 7 % too much. [m]
NARROW_M = (0.1, 0.4)
#: There points across them begin this much closer,
NARROW_EDGE = 0.5
#: and from point to point the distance grows this much.
NARROW_GROWTH = 1.2
#: Beside a hole they begin as close as at the surface's edges: a picture's frame that stands 35 mm
#: off a wall darkens what lies 50 mm around it. Three times as wide, light there was up to 8 % low.
BESIDE_HOLE = 1.0
#: Share of the lower of two neighbouring points that what lies between them has at least.
LEAST = np.float32(0.9)


@dataclass(frozen=True, slots=True, eq=False)
class PointGrid:
    """Points of a surface, close at its edges and on either side of its breaks.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (columns,), (rows,)
        Lines of points; those on a break are there twice, once for either side. [m]
    points_m : ndarray of float64, shape (points, 3)
        The points that are not in holes, row by row, in the room. [m]
    real : ndarray of bool, shape (rows, columns)
        Where they are.
    along_u, along_v : tuple of ndarray, shape (vertex columns, 4), (vertex rows, 4)
        Points and weights that interpolate at each column and row of vertices.
    gone : ndarray of bool, shape (vertex rows, vertex columns)
        Vertices in a hole or on its outline.
    places : Places
        The points in groups.
    """

    u_m: Floats
    v_m: Floats
    points_m: Floats
    real: Mask
    along_u: tuple[Ints, Floats32]
    along_v: tuple[Ints, Floats32]
    gone: Mask
    places: Places

    def spread(self, at_points: Floats32) -> Floats32:
        """Values of the points, shape (..., points, k), by row and column; 0 in holes."""
        *more, _, last = at_points.shape
        out = np.zeros((*more, *self.real.shape, last), np.float32)
        out[..., self.real, :] = at_points
        return out

    def to_vertices(self, at_points: Floats32) -> Floats32:
        """Interpolate a field of points, shape (v, u, bands), to (rows, columns, bands).

        Vertices in holes take the least of their neighbours: a cell that reaches into a hole
        must not bring light from its other side. Beside a bright place a cubic swings below zero:
        between two points it keeps above `LEAST` of the lower one.
        """
        columns, mix_u = self.along_u
        rows, mix_v = self.along_v
        wide = np.einsum("vctb,ct->vcb", at_points[:, columns], mix_u)
        lower = np.minimum(at_points[:, columns[:, 1]], at_points[:, columns[:, 2]])
        np.maximum(wide, LEAST * lower, out=wide)
        out: Floats32 = np.einsum("rtcb,rt->rcb", wide[rows], mix_v, dtype=np.float32)
        for row, (low, high) in enumerate(zip(rows[:, 1], rows[:, 2], strict=True)):
            np.maximum(out[row], LEAST * np.minimum(wide[low], wide[high]), out=out[row])
        if self.gone.any():
            fill_gone(out, self.gone)
        return out

    def at(self, row: NDArray[np.intp], column: NDArray[np.intp], field: Floats32) -> Floats32:
        """Interpolate a field of points, (v, u, bands), at some vertices, shape (n, bands)."""
        columns, mix_u = (x[column] for x in self.along_u)
        rows, mix_v = (x[row] for x in self.along_v)
        out = np.zeros((row.size, field.shape[2]), np.float32)
        for k in range(rows.shape[1]):
            for j in range(columns.shape[1]):
                out += (mix_v[:, k] * mix_u[:, j])[:, None] * field[rows[:, k], columns[:, j]]
        return out


def fill_gone(field: Floats32, gone: Mask) -> None:
    """Give vertices beside the others the least of their neighbours' values, in place."""
    far = np.float32(np.inf)
    rows, columns = gone.shape
    wide = np.pad(np.where(gone[..., None], far, field), ((1, 1), (1, 1), (0, 0)), mode="edge")
    least = np.full(field.shape, far, np.float32)
    for r in range(3):
        for c in range(3):
            np.minimum(least, wide[r : r + rows, c : c + columns], out=least)
    some = gone & np.isfinite(least[..., 0])
    field[some] = least[some]


def growth_on(surface: Surface) -> float:
    """How the distance between a surface's points grows from one to the next."""
    width = min(surface.grid.width_m, surface.grid.height_m)
    fine = surface.relief is not None or RAFT_M[0] < width < RAFT_M[1] or _is_narrow(surface)
    return FINE_GROWTH if fine else GROWTH


def _across(surface: Surface, edge_m: float) -> tuple[float, float] | None:
    """First distance and growth across a narrow surface; None for others. [m]"""
    return (NARROW_EDGE * edge_m, NARROW_GROWTH) if _is_narrow(surface) else None


def _is_narrow(surface: Surface) -> bool:
    width = min(surface.grid.width_m, surface.grid.height_m)
    return surface.relief is None and NARROW_M[0] <= width < NARROW_M[1]


def point_grid(
    surface: Surface,
    number: int,
    bodies: Sequence[Body],
    edge_m: float,
    most_m: float,
    growth: float = GROWTH,
) -> PointGrid:
    """Place a surface's points.

    Parameters
    ----------
    surface : Surface
        The receiver.
    number : int
        Its index in the room.
    bodies : sequence of Body
        Whose outlines the points follow where they are near.
    edge_m, most_m : float
        Distance between points at the edges and in the middle. [m]
    growth : float
        Of that distance, from point to point away from the edges.
    """
    grid = surface.grid
    # a point in the plane of a body's side has that side neither before it nor behind: what half
    # its view sees would be scaled up to a whole one
    across = _across(surface, edge_m)
    pieces_u, pieces_v = surface_pieces(
        surface, edge_m, most_m, bodies, growth, INSET_M, across, BESIDE_HOLE
    )
    u, v = np.concatenate(pieces_u), np.concatenate(pieces_v)
    place = np.zeros((v.size, u.size, 3))
    place[..., 0] = np.concatenate([_inset(piece) for piece in pieces_u])
    place[..., 1] = np.concatenate([_inset(piece) for piece in pieces_v])[:, None]
    flat = place.reshape(-1, 3)
    flat[:, :2] = pulled_inside(flat[:, :2], surface.corners_uv_m)
    real = ~in_holes(surface, flat[:, :2]).reshape(v.size, u.size)
    points = surface.frame.to_room(flat)[real.ravel()]
    row, column = np.nonzero(real)
    group = ((row // GROUP) * (-(-u.size // GROUP)) + column // GROUP).astype(np.int32)
    owner = np.full(len(points), number, np.int32)
    facing = np.tile(surface.frame.n, (len(points), 1))
    return PointGrid(
        u,
        v,
        points,
        real,
        cubic_weights(u, grid.u_m()),
        cubic_weights(v, grid.v_m()),
        on_holes(surface),
        in_groups(points, points, group, owner, facing),
    )


def _inset(piece: Floats) -> Floats:
    out: Floats = np.clip(piece, piece[0] + INSET_M, piece[-1] - INSET_M)
    return out


def cubic_weights(nodes: Floats, at: Floats) -> tuple[Ints, Floats32]:
    """Four nodes and weights that interpolate at each place, shape (places, 4).

    A node that is there twice is a break: nothing is interpolated across it, and a place on it
    belongs to what follows.
    """
    ends = np.flatnonzero(np.diff(nodes) == 0) + 1
    starts = np.concatenate([[0], ends])
    stops = np.concatenate([ends, [nodes.size]])
    piece = np.searchsorted(nodes[ends], at, "right")
    index = np.empty((at.size, 4), np.int32)
    weights = np.empty((at.size, 4), np.float32)
    for k, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        own = piece == k
        found, mix = _cubic_piece(nodes[start:stop], at[own])
        index[own], weights[own] = found + start, mix
    return index, weights


def _cubic_piece(nodes: Floats, at: Floats) -> tuple[Ints, Floats32]:
    """Four nodes and weights within one piece, shape (places, 4).

    Cubic Hermite with three-point slopes: exact for parabolas, without the creases that linear
    interpolation shows in an even gradient. Linear in the first and the last interval's outer
    slope.
    """
    count = nodes.size
    k = np.clip(np.searchsorted(nodes, at, "right") - 1, 0, count - 2)
    gap = np.diff(nodes)
    h = gap[k]
    t = np.clip((at - nodes[k]) / h, 0.0, 1.0)
    value0 = (1 + 2 * t) * (1 - t) ** 2
    value1 = t * t * (3 - 2 * t)
    slope0 = t * (1 - t) ** 2 * h
    slope1 = t * t * (t - 1) * h
    # slope at node i as weights of nodes i - 1, i, i + 1
    slopes = np.zeros((count, 3))
    slopes[0, 1:] = [-1 / gap[0], 1 / gap[0]]
    slopes[-1, :2] = [-1 / gap[-1], 1 / gap[-1]]
    a, b = gap[:-1], gap[1:]
    slopes[1:-1, 0] = -b / (a * (a + b))
    slopes[1:-1, 1] = (b - a) / (a * b)
    slopes[1:-1, 2] = a / (b * (a + b))
    weights = np.zeros((at.size, 4))
    weights[:, 1] += value0
    weights[:, 2] += value1
    weights[:, 0:3] += slope0[:, None] * slopes[k]
    weights[:, 1:4] += slope1[:, None] * slopes[k + 1]
    index = np.clip(k[:, None] + np.arange(-1, 3), 0, count - 1)
    return index.astype(np.int32), weights.astype(np.float32)


def pulled_inside(points: Floats, corners: Floats, inset_m: float = INSET_M) -> Floats:
    """Points of a plane, shape (n, 2), moved to the nearest place inside a polygon."""
    after = np.roll(corners, -1, axis=0)
    edge = after - corners
    relative = points[:, None] - corners
    cross = edge[:, 0] * relative[..., 1] - edge[:, 1] * relative[..., 0]
    # even-odd rule
    low = np.minimum(corners[:, 1], after[:, 1])
    high = np.maximum(corners[:, 1], after[:, 1])
    crosses = (points[:, None, 1] >= low) & (points[:, None, 1] < high)
    right = np.where(edge[:, 1] > 0, cross > 0, cross < 0)
    inside = (crosses & right).sum(axis=1) % 2 == 1
    along = np.clip((relative * edge).sum(axis=2) / (edge * edge).sum(axis=1), 0.0, 1.0)
    foot = corners + along[..., None] * edge
    nearest = np.linalg.norm(points[:, None] - foot, axis=2).argmin(axis=1)
    which = np.arange(len(points))
    inward = np.stack([-edge[:, 1], edge[:, 0]], axis=1)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    moved = foot[which, nearest] + inset_m * inward[nearest]
    out: Floats = np.where(inside[:, None], points, moved)
    return out
