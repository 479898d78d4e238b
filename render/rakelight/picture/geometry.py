"""The room's triangles as one drawing needs them: seen from the eye, with their owners."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.bodies import triangulate
from rakelight.scene.camera import Camera
from rakelight.scene.grid import Grid
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Body, Room, Surface

MOST_TRIANGLES = 2**24 - 2  # a triangle's number is drawn as a 24-bit colour
# Bodies that lie in a surface, and openings that lie in their housing's face, are brought
# forward by this share of their distance, so that the two never flicker.
_NEARER = {"housing": 1.0 - 1e-4, "opening": 1.0 - 2e-4, "figure": 1.0}


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


Part = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]


def geometry(room: Room, camera: Camera, *, figure: bool = True) -> Geometry:
    """Triangulate all surfaces that face the camera, and all bodies.

    Surfaces are one-sided: one whose mean plane the eye stands behind is left out, so that
    a camera may look into the room from outside. A relief is triangulated on its grid
    (diagonal from lower left to upper right), its border closed by a skirt. A relief too
    fine for the drawing is drawn with every second, third ... vertex; its light is not.
    """
    parts: list[Part] = []
    owners: list[Surface | Body] = [*room.surfaces, *room.bodies]
    fine = sum(2 * s.grid.rows * s.grid.columns for s in room.surfaces if s.relief is not None)
    stride = 1
    while fine // stride**2 > MOST_TRIANGLES * 0.95:
        stride += 1
    for owner in owners:
        if isinstance(owner, Body):
            shown = figure or owner.kind != "figure"
            parts.append(_body(owner, camera) if shown else _nothing())
        elif (camera.eye_m - owner.frame.origin_m) @ owner.frame.n <= 0:
            parts.append(_nothing())
        elif owner.relief is not None:
            parts.append(_relief(owner, owner.relief, stride))
        else:
            parts.append(_plane(owner))
    right = np.cross(camera.forward, camera.up)
    axes = np.stack([right, camera.up, camera.forward], axis=1)
    counts = np.array([len(part[0]) for part in parts])
    firsts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    sizes = [len(part[2]) for part in parts]
    if sum(sizes) > MOST_TRIANGLES:
        raise ValueError(f"{sum(sizes)} triangles to draw; at most {MOST_TRIANGLES}")
    return Geometry(
        np.concatenate([((p[0] - camera.eye_m) @ axes).astype(np.float32) for p in parts]),
        np.concatenate([p[1].astype(np.float32) for p in parts]),
        np.concatenate(
            [(p[2] + first).astype(np.int32) for p, first in zip(parts, firsts, strict=True)]
        ),
        np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        np.array([isinstance(owner, Body) for owner in owners]),
    )


def _nothing() -> Part:
    return np.empty((0, 3)), np.empty((0, 2)), np.empty((0, 3), np.int64)


def _plane(surface: Surface) -> Part:
    corners = surface.corners_uv_m
    uvn = np.concatenate([corners, np.zeros((len(corners), 1))], axis=1)
    return surface.frame.to_room(uvn), corners, triangulate(corners)


def _body(body: Body, camera: Camera) -> Part:
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
    return points, np.zeros((len(points), 2)), faces


def _turned_to(eye_m: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
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


def _relief(surface: Surface, relief: Relief, stride: int) -> Part:
    grid = relief.grid
    rows, columns = _picked(grid.rows, stride), _picked(grid.columns, stride)
    heights = relief.heights_m[np.ix_(rows, columns)].astype(np.float64)
    uvn = np.empty((*heights.shape, 3))
    uvn[..., 0] = grid.u_m()[columns]
    uvn[..., 1] = grid.v_m()[rows, None]
    uvn[..., 2] = heights
    faces = grid_triangles(Grid(len(rows), len(columns), grid.width_m, grid.height_m))
    points = uvn.reshape(-1, 3)
    skirt_points, skirt_faces = _skirt(heights, uvn, relief.backing_m)
    points = np.concatenate([points, skirt_points])
    faces = np.concatenate([faces, skirt_faces + heights.size])
    return surface.frame.to_room(points), points[:, :2], faces


def grid_triangles(grid: Grid) -> NDArray[np.int64]:
    """Triangles of a grid, shape (2 cells, 3): each cell's lower right one, then upper left."""
    cells = np.arange(grid.rows * grid.columns).reshape(grid.rows, grid.columns)
    a = cells[:-1, :-1].ravel()
    b, c, d = a + 1, a + grid.columns + 1, a + grid.columns
    return np.stack([a, b, c, a, c, d], axis=1).reshape(-1, 3)


def _picked(count: int, stride: int) -> NDArray[np.int64]:
    kept = np.arange(0, count, stride)
    return kept if kept[-1] == count - 1 else np.append(kept, count - 1)


def _skirt(
    heights: NDArray[np.float64], uvn: NDArray[np.float64], backing_m: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Close the border: outward down to the backing, inward from hollows up to the plane.

    The outward skirt is what one sees of a panel from beside it. The inward one stands
    where the border lies behind the mean plane at which the neighbouring surface ends.
    """
    rows, columns = heights.shape
    index = np.arange(rows * columns).reshape(rows, columns)
    ring = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
    rim = uvn.reshape(-1, 3)[ring]
    foot, top = rim.copy(), rim.copy()
    foot[:, 2] = np.minimum(rim[:, 2], backing_m)
    top[:, 2] = np.maximum(rim[:, 2], 0.0)
    k = len(ring)
    here = np.arange(k)
    following = np.roll(here, -1)
    outward = np.stack([k + here, k + following, following, k + here, following, here], axis=1)
    inward = np.stack(
        [following, here, 2 * k + here, following, 2 * k + here, 2 * k + following], axis=1
    )
    faces = np.concatenate([outward.reshape(-1, 3), inward.reshape(-1, 3)])
    return np.concatenate([rim, foot, top]), faces
