"""The room's triangles as one drawing needs them: seen from the eye, with their owners."""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.areas import inside_polygon
from rakelight.build.bodies import triangulate
from rakelight.scene.camera import Camera
from rakelight.scene.grid import Grid
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Body, Room, Surface

Floats = NDArray[np.float64]

MOST_TRIANGLES = 2**24  # some 0.7 GB; a relief with more is thinned for drawing
# Bodies that lie in a surface, and openings that lie in their housing's face, are brought
# forward by this share of their distance, so that the two never flicker.
_NEARER = {"housing": 1.0 - 1e-4, "opening": 1.0 - 2e-4, "figure": 1.0, "mesh": 1.0}


@dataclass(frozen=True, slots=True, eq=False)
class Geometry:
    """Triangles of everything that a camera can see, in its own axes.

    Parameters
    ----------
    points : ndarray of float32, shape (k, 3)
        Vertices as right, up and depth from the eye. [m]
    places_m : ndarray of float32, shape (k, 2)
        u and v of each vertex in its surface's frame; 0 for bodies. [m]
    triangles : ndarray of int32, shape (m, 3)
        Counter-clockwise seen from the side that is drawn.
    starts : ndarray of int32, shape (owners + 1,)
        First triangle of each surface and then of each body.
    by_face : ndarray of bool, shape (owners,)
        True for bodies: their u is the face's index.
    """

    points: NDArray[np.float32]
    places_m: NDArray[np.float32]
    triangles: NDArray[np.int32]
    starts: NDArray[np.int32]
    by_face: NDArray[np.bool_]


Part = tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.int32]]


def geometry(
    room: Room, camera: Camera, *, figure: bool = True, surfaces: Geometry | None = None
) -> Geometry:
    """Triangulate all surfaces that face the camera, and all bodies.

    `surfaces` is this of a room without bodies, if it is known: what bodies stand in may stay.

    Surfaces are one-sided: one whose mean plane the eye stands behind is left out, so that
    a camera may look into the room from outside. A relief is triangulated on its grid
    (diagonal from lower left to upper right), its border closed by a skirt. A relief too
    fine for the drawing is drawn with every second, third ... vertex; its light is not.
    """
    parts: list[Part] = []
    sizes: list[int] = []
    owners: list[Surface | Body] = [*room.surfaces, *room.bodies]
    if surfaces is not None:
        parts.append((surfaces.points, surfaces.places_m, surfaces.triangles))
        sizes.extend(np.diff(surfaces.starts).tolist())
    fine = sum(2 * s.grid.rows * s.grid.columns for s in room.surfaces if s.relief is not None)
    stride = 1
    while fine // stride**2 > MOST_TRIANGLES * 0.95:
        stride += 1
    axes = np.stack([np.cross(camera.forward, camera.up), camera.up, camera.forward], axis=1)
    for owner in owners[len(sizes) :]:
        if isinstance(owner, Body):
            shown = figure or owner.kind != "figure"
            parts.append(_body(owner, camera, axes) if shown else _nothing())
        elif (camera.eye_m - owner.frame.origin_m) @ owner.frame.n <= 0:
            parts.append(_nothing())
        elif owner.relief is not None:
            parts.append(_relief(owner, owner.relief, stride, camera, axes))
        else:
            parts.append(_plane(owner, camera, axes))
        sizes.append(len(parts[-1][2]))
    if sum(sizes) > MOST_TRIANGLES:
        raise ValueError(f"{sum(sizes)} triangles to draw; at most {MOST_TRIANGLES}")
    first = 0
    for points, _, faces in parts:
        if first:
            faces += np.int32(first)
        first += len(points)
    return Geometry(
        np.concatenate([part[0] for part in parts]),
        np.concatenate([part[1] for part in parts]),
        np.concatenate([part[2] for part in parts]),
        np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        np.array([isinstance(owner, Body) for owner in owners]),
    )


def _nothing() -> Part:
    return np.empty((0, 3), np.float32), np.empty((0, 2), np.float32), np.empty((0, 3), np.int32)


def _plane(surface: Surface, camera: Camera, axes: Floats) -> Part:
    corners = surface.corners_uv_m
    if surface.holes_uv_m:
        corners, cut = cut_out(corners, surface.holes_uv_m)
    uvn = np.concatenate([corners, np.zeros((len(corners), 1))], axis=1)
    points = (surface.frame.to_room(uvn) - camera.eye_m) @ axes
    faces = cut if surface.holes_uv_m else triangulate(corners).astype(np.int32)
    return points.astype(np.float32), corners.astype(np.float32), faces


def cut_out(polygon: Floats, holes: tuple[Floats, ...]) -> tuple[Floats, NDArray[np.int32]]:
    """Triangulate what is left of a polygon when others are cut out of it.

    Parameters
    ----------
    polygon : ndarray of float64, shape (k, 2)
        Simple. [m]
    holes : tuple of ndarray of float64, shape (k, 2)
        May touch or overlap the polygon's border and each other. [m]

    Returns
    -------
    points : ndarray of float64, shape (m, 2)
        [m]
    faces : ndarray of int32, shape (t, 3)
        Counter-clockwise.

    Notes
    -----
    Cut into bands at the heights of all corners; between two neighbouring edges a band is a
    trapezium, and bands share all their vertices, so that no gap can open between them.
    """
    rings = (polygon, *holes)
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    levels = np.unique(np.round(starts[:, 1], 9))
    pieces: list[tuple[int, Floats, Floats]] = []
    for band, (low, high) in enumerate(itertools.pairwise(levels)):
        middle = (low + high) / 2
        crossing = (np.minimum(starts[:, 1], ends[:, 1]) < middle) & (
            np.maximum(starts[:, 1], ends[:, 1]) > middle
        )
        a, b = starts[crossing], ends[crossing]
        at = np.array([low, middle, high])[:, None]
        u = a[:, 0] + (b[:, 0] - a[:, 0]) * (at - a[:, 1]) / (b[:, 1] - a[:, 1])
        u = u[:, np.argsort(u[1], kind="stable")]
        between = (u[1, 1:] + u[1, :-1]) / 2
        there = inside_polygon(between, np.array([middle]), polygon)[0]
        for hole in holes:
            there &= ~inside_polygon(between, np.array([middle]), hole)[0]
        there &= u[1, 1:] - u[1, :-1] > 1e-9
        pieces += [(band, u[[0, 2], k], u[[0, 2], k + 1]) for k in np.flatnonzero(there).tolist()]
    on_level: list[set[float]] = [set() for _ in levels]
    for band, left, right in pieces:
        for k in (0, 1):
            on_level[band + k] |= {round(float(left[k]), 9), round(float(right[k]), 9)}
    number: dict[tuple[int, float], int] = {}
    points: list[tuple[float, float]] = []
    for level, level_places in enumerate(on_level):
        for u_m in sorted(level_places):
            number[level, u_m] = len(points)
            points.append((u_m, float(levels[level])))
    faces: list[tuple[int, int, int]] = []
    for band, left, right in pieces:
        chains = []
        for k in (0, 1):
            low, high = round(float(left[k]), 9), round(float(right[k]), 9)
            places = sorted(u_m for u_m in on_level[band + k] if low <= u_m <= high)
            chains.append([(u_m, number[band + k, u_m]) for u_m in places])
        bottom, top = chains
        i = k = 0
        while i < len(bottom) - 1 or k < len(top) - 1:
            at_top = k < len(top) - 1 and (i == len(bottom) - 1 or top[k + 1][0] < bottom[i + 1][0])
            if at_top:
                faces.append((bottom[i][1], top[k + 1][1], top[k][1]))
                k += 1
            else:
                faces.append((bottom[i][1], bottom[i + 1][1], top[k][1]))
                i += 1
    return np.array(points).reshape(-1, 2), np.array(faces, np.int32).reshape(-1, 3)


def _body(body: Body, camera: Camera, axes: Floats) -> Part:
    points = body.points_m
    if body.kind == "figure":
        points = _turned_to(camera.eye_m, points)
    # along the rays, which leaves where it lands in the picture unchanged
    points = camera.eye_m + (points - camera.eye_m) * _NEARER[body.kind]
    corners = points[body.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    away = np.einsum("ij,ij->i", normals, camera.eye_m - corners[:, 0]) < 0
    # thin things are seen from both sides, and in a closed body the far faces are hidden
    faces = np.where(away[:, None], body.faces[:, ::-1], body.faces)
    seen = ((points - camera.eye_m) @ axes).astype(np.float32)
    return seen, np.zeros((len(points), 2), np.float32), faces.astype(np.int32)


def _turned_to(eye_m: Floats, points: Floats) -> Floats:
    """A flat upright figure turned about its own vertical to face the eye, or as it is."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    flat = points[:, :2] - middle[:2]
    _, sizes, axes = np.linalg.svd(flat, full_matrices=False)
    toward = eye_m[:2] - middle[:2]
    distance = np.hypot(*toward)
    if sizes[1] > 1e-6 * sizes[0] or distance == 0:
        return points
    # the board's own direction, such that it faces the room's foot (-y) before it is turned
    along = axes[0] if axes[0, 0] > 0 or (axes[0, 0] == 0 and axes[0, 1] > 0) else -axes[0]
    across = np.array([-toward[1], toward[0]]) / distance
    turned = points.copy()
    turned[:, :2] = middle[:2] + (flat @ along)[:, None] * across
    return turned


def _relief(surface: Surface, relief: Relief, stride: int, camera: Camera, axes: Floats) -> Part:
    frame, grid = surface.frame, relief.grid
    rows, columns = _picked(grid.rows, stride), _picked(grid.columns, stride)
    u, v = grid.u_m()[columns], grid.v_m()[rows]
    heights = relief.heights_m if stride == 1 else relief.heights_m[np.ix_(rows, columns)]
    kept = _kept_cells(surface, u, v)
    if kept is not None:
        return _cut_relief(surface, relief, kept, (u, v, heights), camera, axes)
    ring = _border(len(rows), len(columns))
    rim = np.stack(
        [u[ring % u.size], v[ring // u.size], heights.reshape(-1)[ring].astype(np.float64)], axis=1
    )
    skirt, skirt_faces = _skirt(rim, relief.backing_m)
    count = heights.size
    points = np.empty((count + len(skirt), 3), np.float32)
    places = np.empty((count + len(skirt), 2), np.float32)
    # a frame's axes as the camera sees them: sums of a row's and a column's part, in place
    start = (frame.origin_m - camera.eye_m) @ axes
    along_u, along_v, along_n = frame.u @ axes, frame.v @ axes, frame.n @ axes
    mesh = points[:count].reshape(*heights.shape, 3)
    for k in range(3):
        mesh[..., k] = heights * np.float32(along_n[k])
        mesh[..., k] += (u * along_u[k]).astype(np.float32)
        mesh[..., k] += (v * along_v[k] + start[k]).astype(np.float32)[:, None]
    on_wall = places[:count].reshape(*heights.shape, 2)
    on_wall[..., 0] = u
    on_wall[..., 1] = v[:, None]
    points[count:] = (frame.to_room(skirt) - camera.eye_m) @ axes
    places[count:] = skirt[:, :2]
    faces = np.concatenate([_cells(*heights.shape), skirt_faces + np.int32(count)])
    return points, places, faces


def _kept_cells(surface: Surface, u: Floats, v: Floats) -> NDArray[np.bool_] | None:
    """Cells of a mesh that are not wholly in a hole or beyond the polygon; None if all are kept.

    A cell that an edge crosses is kept, so that no slit opens beside the edge.
    """
    if not surface.holes_uv_m and len(surface.corners_uv_m) == 4:
        return None
    inner_u = np.clip(u, u[0] + 1e-9, u[-1] - 1e-9)
    inner_v = np.clip(v, v[0] + 1e-9, v[-1] - 1e-9)
    there = inside_polygon(inner_u, inner_v, surface.corners_uv_m)
    for hole in surface.holes_uv_m:
        there &= ~inside_polygon(inner_u, inner_v, hole)
    kept: NDArray[np.bool_] = there[:-1, :-1] | there[1:, :-1] | there[:-1, 1:] | there[1:, 1:]
    return kept


def _cut_relief(
    surface: Surface,
    relief: Relief,
    kept: NDArray[np.bool_],
    mesh: tuple[Floats, Floats, NDArray[np.float32]],
    camera: Camera,
    axes: Floats,
) -> Part:
    """A relief with cells left out, every border closed by a skirt as `_skirt` does."""
    u, v, heights = mesh
    columns = u.size
    # borders of what is kept, with the kept cell on the left
    padded = np.pad(kept, 1)
    corner = np.arange(heights.size).reshape(heights.shape)
    edges = []
    for shift, a, b in (
        (padded[:-2, 1:-1], corner[:-1, :-1], corner[:-1, 1:]),  # foot
        (padded[1:-1, 2:], corner[:-1, 1:], corner[1:, 1:]),  # right
        (padded[2:, 1:-1], corner[1:, 1:], corner[1:, :-1]),  # top
        (padded[1:-1, :-2], corner[1:, :-1], corner[:-1, :-1]),  # left
    ):
        open_side = kept & ~shift
        edges.append(np.stack([a[open_side], b[open_side]], axis=1))
    edge = np.concatenate(edges)
    flat = heights.reshape(-1).astype(np.float64)
    every = np.stack([np.tile(u, v.size), np.repeat(v, columns), flat], axis=1)
    rim = every[edge.reshape(-1)]
    foot, top = rim.copy(), rim.copy()
    foot[:, 2] = np.minimum(rim[:, 2], relief.backing_m)
    top[:, 2] = np.maximum(rim[:, 2], 0.0)
    a, b = np.arange(0, len(rim), 2), np.arange(1, len(rim), 2)
    k = len(rim)
    outward = np.stack([k + a, k + b, b, k + a, b, a], axis=1)
    inward = np.stack([b, a, 2 * k + a, b, 2 * k + a, 2 * k + b], axis=1)
    skirt = np.concatenate([outward.reshape(-1, 3), inward.reshape(-1, 3)]) + len(every)
    inside = _cells(*heights.shape).reshape(*kept.shape, 2, 3)[kept].reshape(-1, 3)
    uvn = np.concatenate([every, rim, foot, top])
    points = (surface.frame.to_room(uvn) - camera.eye_m) @ axes
    faces = np.concatenate([inside, skirt.astype(np.int32)])
    return points.astype(np.float32), uvn[:, :2].astype(np.float32), faces


def grid_triangles(grid: Grid) -> NDArray[np.int32]:
    """Triangles of a grid, shape (2 cells, 3): each cell's lower right one, then upper left."""
    return _cells(grid.rows, grid.columns)


def _cells(rows: int, columns: int) -> NDArray[np.int32]:
    corner = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)[:-1, :-1]
    faces = np.empty((rows - 1, columns - 1, 2, 3), np.int32)
    steps = ((0, 1, columns + 1), (0, columns + 1, columns))
    for half in range(2):
        for k in range(3):
            np.add(corner, np.int32(steps[half][k]), out=faces[:, :, half, k])
    return faces.reshape(-1, 3)


def _picked(count: int, stride: int) -> NDArray[np.int64]:
    kept = np.arange(0, count, stride)
    return kept if kept[-1] == count - 1 else np.append(kept, count - 1)


def _border(rows: int, columns: int) -> NDArray[np.int64]:
    """Flat indices of a grid's border, counter-clockwise from the lower left."""
    index = np.arange(rows * columns).reshape(rows, columns)
    return np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])


def _skirt(rim: Floats, backing_m: float) -> tuple[Floats, NDArray[np.int32]]:
    """Close the border: outward down to the backing, inward from hollows up to the plane.

    The outward skirt is what one sees of a panel from beside it. The inward one stands
    where the border lies behind the mean plane at which the neighbouring surface ends.
    """
    foot, top = rim.copy(), rim.copy()
    foot[:, 2] = np.minimum(rim[:, 2], backing_m)
    top[:, 2] = np.maximum(rim[:, 2], 0.0)
    k = len(rim)
    here = np.arange(k)
    following = np.roll(here, -1)
    outward = np.stack([k + here, k + following, following, k + here, following, here], axis=1)
    inward = np.stack(
        [following, here, 2 * k + here, following, 2 * k + here, 2 * k + following], axis=1
    )
    faces = np.concatenate([outward.reshape(-1, 3), inward.reshape(-1, 3)])
    return np.concatenate([rim, foot, top]), faces.astype(np.int32)
