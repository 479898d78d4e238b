"""Meshes from files in the light: which vertices they can shade, and what stands in for them.

A few triangles are faces like any other and are cut exactly; of more the vertices that they can
shade are found by boxes around their parts, and rays decide there (`visibility.relief_clear`).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.faces import BLOCKING, EXACT_TRIANGLES, mark_tiles
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Body, Room, Surface

Floats = NDArray[np.float64]

#: Boxes around a mesh's parts, along its longest side.
BOXES = 8
#: In light from surface to surface a mesh of more triangles is a coarser one.
REFLECTING_TRIANGLES = 300


def is_cast(body: Body) -> bool:
    """Whether a body stands in the light and has so many triangles that rays are cast at it."""
    return body.kind in BLOCKING and len(body.faces) > EXACT_TRIANGLES


def cast_triangles(room: Room) -> Floats:
    """Triangles of all bodies that rays are cast at, shape (n, 3, 3). [m]"""
    parts = [body.points_m[body.faces] for body in room.bodies if is_cast(body)]
    return np.concatenate(parts) if parts else np.zeros((0, 3, 3))


def part_boxes(triangles_m: Floats) -> Floats:
    """Boxes around the parts of a mesh.

    Parameters
    ----------
    triangles_m : ndarray of float64, shape (n, 3, 3)
        In the room. [m]

    Returns
    -------
    ndarray of float64, shape (boxes, 8, 3)
        Corners; each triangle lies wholly in one. [m]
    """
    if not len(triangles_m):
        return np.zeros((0, 8, 3))
    low, high = triangles_m.min(axis=1), triangles_m.max(axis=1)
    foot = low.min(axis=0)
    cell = max(float((high.max(axis=0) - foot).max()) / BOXES, 1e-6)
    at = np.minimum(((low + high) / 2 - foot) // cell, BOXES - 1).astype(np.int64)
    _, part = np.unique(at @ [BOXES * BOXES, BOXES, 1], return_inverse=True)
    count = int(part.max()) + 1
    least, most = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(least, part, low)
    np.maximum.at(most, part, high)
    pick = np.unpackbits(np.arange(8, dtype=np.uint8)[:, None], axis=1)[:, :4:-1] == 1
    out: Floats = np.where(pick, most[:, None], least[:, None])
    return out


def vertices_behind(surface: Surface, line: LitLine, boxes_m: Floats) -> NDArray[np.bool_]:
    """Vertices of a surface with one of the boxes between them and a run, (rows, columns)."""
    marked, tiles = mark_tiles(surface, line, boxes_m)
    out: NDArray[np.bool_] = np.any(marked, axis=1, keepdims=True)[tiles, 0]
    return out


def stand_in(body: Body) -> Body:
    """Return the body, or one of at most `REFLECTING_TRIANGLES` where it has more.

    All vertices in a cell of a cubic raster become their mean; triangles that shrink to less
    are left out. Reflected light is too soft to show the difference. A thin sheet has both of its
    sides.
    """
    if len(body.faces) <= REFLECTING_TRIANGLES:
        return _with_backs(body)
    low = body.points_m.min(axis=0)
    size = float((body.points_m.max(axis=0) - low).max())
    for cells in range(24, 0, -1):
        at = ((body.points_m - low) // (size / cells * (1 + 1e-9))).astype(np.int64)
        _, group = np.unique(at @ [(cells + 1) ** 2, cells + 1, 1], return_inverse=True)
        faces = group[body.faces]
        whole = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
        _, first = np.unique(np.sort(faces[whole], axis=1), axis=0, return_index=True)
        if len(first) <= REFLECTING_TRIANGLES:
            break
    count = np.bincount(group)
    points = np.stack([np.bincount(group, body.points_m[:, k]) / count for k in range(3)], axis=1)
    kept = faces[whole][np.sort(first)]
    return _with_backs(replace(body, points_m=points, faces=kept))


def _with_backs(body: Body) -> Body:
    """Return a thin sheet with the other side of each triangle too: patches have one side."""
    if not body.thin:
        return body
    return replace(body, faces=np.concatenate([body.faces, body.faces[:, ::-1]]))
