"""Draw a room's geometry once into arrays of surface and place.

Every sample casts its ray at the triangles that can lie behind it, in double precision; the
nearest one's number, and the place on it, are kept. Nothing depends on a graphics library, a
display or the number of threads.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.geometry import Geometry, geometry
from rakelight.picture.kernels.cover import OWNERS, cover, find_edges
from rakelight.picture.kernels.raster import CHUNK, extents, project, raster
from rakelight.picture.view import View
from rakelight.scene.camera import Camera
from rakelight.scene.surfaces import Room, Surface

_NEAR_M = 0.05
_STRIP_SAMPLES = 2**17  # drawn at once by one thread: what its cache holds
_WIDEST = 16384


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What each sample sees so far, arrays of shape (rows, columns).

    Parameters
    ----------
    ids, numbers : ndarray of int16, of int32
        Whose triangle, and its number; -1 for nothing.
    u, v : ndarray of float32
        Place on it. [m]
    """

    ids: NDArray[np.int16]
    u: NDArray[np.float32]
    v: NDArray[np.float32]
    numbers: NDArray[np.int32]

    def copy(self) -> "Seen":
        """Arrays of its own."""
        return Seen(self.ids.copy(), self.u.copy(), self.v.copy(), self.numbers.copy())


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """A room's surfaces drawn without bodies.

    Parameters
    ----------
    surfaces : tuple of Surface
        The room's.
    camera : Camera
        Where from.
    supersample : int
        Samples along each side of a pixel.
    shapes : Geometry
        Their triangles.
    seen : Seen
        What is seen of them,
    depths : ndarray of float64, shape (rows, columns)
        and how far away. [m]
    """

    surfaces: tuple[Surface, ...]
    camera: Camera
    supersample: int
    shapes: Geometry
    seen: Seen
    depths: NDArray[np.float64]

    def fits(self, room: Room, camera: Camera, supersample: int) -> bool:
        """Whether it is that of a room's very surfaces and of the same view."""
        return (
            self.supersample == supersample
            and len(self.surfaces) == len(room.surfaces)
            and all(one is other for one, other in zip(self.surfaces, room.surfaces, strict=True))
            and self.camera.same_view(camera)
        )


def draw(
    room: Room,
    camera: Camera,
    supersample: int = 2,
    *,
    figure: bool | None = None,
    backdrop: Backdrop | None = None,
) -> View:
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
    backdrop : Backdrop, optional
        From `backdrop_of`, if it fits: bodies alone are then drawn, with the same outcome.

    Returns
    -------
    View
        Surface, u and v in every sample.

    Raises
    ------
    ValueError
        If the picture is empty or too wide, or the backdrop does not fit.
    """
    if not 1 <= supersample <= 8:
        raise ValueError(f"supersample is {supersample}; it must be 1 to 8")
    columns, rows = camera.width_px * supersample, camera.height_px * supersample
    if columns < 1 or rows < 1 or columns > _WIDEST:
        raise ValueError(f"a picture of {columns} x {rows} samples; 1 to {_WIDEST} across")
    shown = camera.name != "front" if figure is None else figure
    names = (*(s.name for s in room.surfaces), *(b.name for b in room.bodies))
    if backdrop is None:
        shapes, seen = geometry(room, camera, figure=shown), _nothing_seen(columns, rows)
        _add(shapes, 0, camera, supersample, seen, np.empty((0, 0)))
    else:
        if not backdrop.fits(room, camera, supersample):
            raise ValueError("the backdrop is that of another room or camera")
        shapes = geometry(room, camera, figure=shown, surfaces=backdrop.shapes)
        seen, base = backdrop.seen.copy(), len(backdrop.shapes.triangles)
        depths = backdrop.depths if base else np.empty((0, 0))  # nothing is behind the bodies
        _add(shapes, base, camera, supersample, seen, depths)
    edges, owners, shares = _edges(shapes, camera, supersample, seen.ids, seen.numbers)
    return View(seen.ids, seen.u, seen.v, camera, supersample, names, edges, owners, shares)


def backdrop_of(room: Room, camera: Camera, supersample: int = 2) -> Backdrop:
    """Draw a room's surfaces without its bodies: what `draw` takes when bodies alone move."""
    bare = replace(room, bodies=())
    shapes = geometry(bare, camera)
    columns, rows = camera.width_px * supersample, camera.height_px * supersample
    seen, depths = _nothing_seen(columns, rows), np.full((rows, columns), np.inf)
    _add(shapes, 0, camera, supersample, seen, depths)
    for array in (seen.ids, seen.u, seen.v, seen.numbers):
        array.setflags(write=False)
    return Backdrop(tuple(room.surfaces), camera, supersample, shapes, seen, depths)


def _nothing_seen(columns: int, rows: int) -> Seen:
    return Seen(
        np.full((rows, columns), -1, np.int16),
        np.zeros((rows, columns), np.float32),
        np.zeros((rows, columns), np.float32),
        np.full((rows, columns), -1, np.int32),
    )


def _add(
    shapes: Geometry,
    base: int,
    camera: Camera,
    supersample: int,
    seen: Seen,
    depths_m: NDArray[np.float64],
) -> None:
    """Draw the triangles from `base` on over what is seen so far."""
    triangles = shapes.triangles[base:]
    if not len(triangles):
        return
    window = np.array(_frame(camera, supersample))
    places = np.empty((len(shapes.points), 2), np.float32)
    used = int(triangles.min()) if base else 0
    project(shapes.points[used:], window, _NEAR_M, places[used:])
    extent = np.empty((-(-len(triangles) // CHUNK), 2), np.float32)
    extents(shapes.points, places, triangles, window, _NEAR_M, extent)
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
        base,
        depths_m,
        max(1, _STRIP_SAMPLES // seen.ids.shape[1]),
        seen.ids,
        seen.u,
        seen.v,
        seen.numbers,
    )


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
