"""Draw a room's geometry once into arrays of surface and place.

Every sample casts its ray at the triangles that can lie behind it, in double precision; the
nearest one's number, and the place on it, are kept. Nothing depends on a graphics library, a
display or the number of threads.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.geometry import Geometry, geometry
from rakelight.picture.kernels.cover import OWNERS, cover, find_edges
from rakelight.picture.kernels.raster import CHUNK, extents, project, raster
from rakelight.picture.view import View
from rakelight.scene.camera import Camera
from rakelight.scene.surfaces import Room

_NEAR_M = 0.05
_STRIP_SAMPLES = 2**17  # drawn at once by one thread: what its cache holds
_WIDEST = 16384


def draw(room: Room, camera: Camera, supersample: int = 2, *, figure: bool | None = None) -> View:
    """Draw what the camera sees.

    Parameters
    ----------
    room : Room
        Surfaces (those that face away from the eye are left out) and bodies.
    camera : Camera
        Where from; its vertical shift is exact.
    supersample : int
        Samples along each side of a pixel, 1 to 8.
    figure : bool, optional
        Draw bodies of the kind ``figure``; by default in all views but ``front``, where one
        would hide part of the wall that is to be read.

    Returns
    -------
    View
        Surface, u and v in every sample.

    Raises
    ------
    ValueError
        If the picture is empty or too wide.
    """
    if not 1 <= supersample <= 8:
        raise ValueError(f"supersample is {supersample}; it must be 1 to 8")
    columns, rows = camera.width_px * supersample, camera.height_px * supersample
    if columns < 1 or rows < 1 or columns > _WIDEST:
        raise ValueError(f"a picture of {columns} x {rows} samples; 1 to {_WIDEST} across")
    shown = camera.name != "front" if figure is None else figure
    shapes = geometry(room, camera, figure=shown)
    names = (*(s.name for s in room.surfaces), *(b.name for b in room.bodies))
    ids = np.full((rows, columns), -1, np.int16)
    u, v = np.zeros((rows, columns), np.float32), np.zeros((rows, columns), np.float32)
    numbers = np.full((rows, columns), -1, np.int32)
    if len(shapes.triangles):
        window = np.array(_frame(camera, supersample))
        places = np.empty((len(shapes.points), 2), np.float32)
        project(shapes.points, window, _NEAR_M, places)
        extent = np.empty((-(-len(shapes.triangles) // CHUNK), 2), np.float32)
        extents(shapes.points, places, shapes.triangles, window, _NEAR_M, extent)
        raster(
            shapes.points,
            shapes.places_m,
            shapes.triangles,
            shapes.starts,
            shapes.by_face,
            places,
            extent,
            window,
            _NEAR_M,
            max(1, _STRIP_SAMPLES // columns),
            ids,
            u,
            v,
            numbers,
        )
    edges, owners, shares = _edges(shapes, camera, supersample, ids, numbers)
    return View(ids, u, v, camera, supersample, names, edges, owners, shares)


def _edges(
    shapes: Geometry,
    camera: Camera,
    supersample: int,
    ids: NDArray[np.int16],
    numbers: NDArray[np.int32],
) -> tuple[NDArray[np.int64], NDArray[np.int16], NDArray[np.float32]]:
    """Pixels where several owners meet, and how much of each pixel each covers."""
    edge = np.empty((camera.height_px, camera.width_px), np.bool_)
    find_edges(ids, supersample, edge)
    edges = np.flatnonzero(edge)
    owners = np.empty((edges.size, OWNERS), np.int16)
    shares = np.empty((edges.size, OWNERS), np.float32)
    left, top, step = _frame(camera, supersample)
    window = np.array([left, top, step, step])
    cover(
        numbers,
        ids,
        supersample,
        edges,
        camera.width_px,
        shapes.points,
        shapes.triangles,
        window,
        owners,
        shares,
    )
    return edges, owners, shares


def _frame(camera: Camera, supersample: int) -> tuple[float, float, float]:
    """Left and top edge of the picture and one sample's size, at depth 1."""
    per_unit = camera.width_px / 36.0 * camera.lens_mm
    shift_px = camera.width_px / 36.0 * camera.shift_mm
    left = -camera.width_px / 2 / per_unit
    top = (camera.height_px / 2 + shift_px) / per_unit
    return left, top, 1.0 / (per_unit * supersample)
