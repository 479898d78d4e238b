"""Draw a room's geometry once, off-screen, into arrays of surface and place.

Each sample is coloured with its triangle's number, one drawing for everything; the place on
the triangle is then found by meeting the sample's ray with it in double precision. So u and
v carry no interpolation of the graphics library, and the bytes do not depend on how many
threads it uses.
"""

import ctypes
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.geometry import Geometry, geometry
from rakelight.picture.kernels.cover import OWNERS, cover, find_edges
from rakelight.picture.kernels.locate import locate
from rakelight.picture.view import View
from rakelight.scene.camera import Camera
from rakelight.scene.surfaces import Room

_NEAR_M = 0.05
_MOST_SAMPLES = 2**24  # in one drawing, so that memory stays bounded
_WIDEST = 16384

_NUMBER_AS_COLOUR = """//VTK::Light::Impl
  int number = gl_PrimitiveID + 1;
  fragOutput0 = vec4(float(number & 255), float((number >> 8) & 255),
                     float((number >> 16) & 255), 255.0) / 255.0;
"""


class NoDisplay(RuntimeError):
    """No OpenGL that draws off-screen; says which package brings it."""


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
    NoDisplay
        If there is no OpenGL to draw with.
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
        left, top, step = _frame(camera, supersample)
        at_once = max(1, min(rows, _MOST_SAMPLES // columns))
        screen = _Screen(shapes, columns, at_once)
        for first in range(0, rows, at_once):
            last = min(rows, first + at_once)
            window = np.array([left, top - first * step, step, step])
            seen = screen.drawn(window)[at_once - (last - first) :]
            locate(
                seen,
                shapes.points,
                shapes.places_m,
                shapes.triangles,
                shapes.starts,
                shapes.by_face,
                window,
                ids[first:last],
                u[first:last],
                v[first:last],
                numbers[first:last],
            )
        screen.close()
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


class _Screen:
    """An off-screen drawing that holds the geometry while bands are drawn from it."""

    def __init__(self, shapes: Geometry, columns: int, rows: int) -> None:
        from vtkmodules.util.numpy_support import numpy_to_vtk
        from vtkmodules.vtkCommonCore import vtkPoints
        from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
        from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderer

        self._columns, self._rows = columns, rows
        self._far_m = 1.01 * float(np.linalg.norm(shapes.points, axis=1).max()) + _NEAR_M
        self._window = _off_screen_window()
        # OpenGL looks along -z
        self._points = shapes.points * np.array([1, 1, -1], np.float32)
        self._corners = shapes.triangles.reshape(-1)
        self._offsets = np.arange(0, self._corners.size + 1, 3, dtype=np.int32)
        points = vtkPoints()
        points.SetData(numpy_to_vtk(self._points))
        cells = vtkCellArray()
        cells.SetData(numpy_to_vtk(self._offsets), numpy_to_vtk(self._corners))
        mesh = vtkPolyData()
        mesh.SetPoints(points)
        mesh.SetPolys(cells)
        mapper = vtkPolyDataMapper()
        mapper.SetInputData(mesh)
        mapper.ScalarVisibilityOff()
        actor = vtkActor()
        actor.SetMapper(mapper)
        actor.GetProperty().LightingOff()
        actor.GetProperty().BackfaceCullingOn()
        actor.GetShaderProperty().AddFragmentShaderReplacement(
            "//VTK::Light::Impl", True, _NUMBER_AS_COLOUR, False
        )
        self._renderer = vtkRenderer()
        self._renderer.SetBackground(0.0, 0.0, 0.0)
        self._renderer.AddActor(actor)
        self._window.SetMultiSamples(0)
        self._window.SetSize(columns, rows)
        self._window.AddRenderer(self._renderer)

    def drawn(self, window: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Triangle numbers seen through `window`, shape (rows, columns, 3), row 0 lowest."""
        from vtkmodules.util.numpy_support import vtk_to_numpy
        from vtkmodules.vtkCommonCore import vtkUnsignedCharArray
        from vtkmodules.vtkCommonMath import vtkMatrix4x4

        left, top = window[0], window[1]
        right, bottom = left + self._columns * window[2], top - self._rows * window[3]
        near, far = _NEAR_M, self._far_m
        projection = [
            [2 / (right - left), 0, (right + left) / (right - left), 0],
            [0, 2 / (top - bottom), (top + bottom) / (top - bottom), 0],
            [0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)],
            [0, 0, -1, 0],
        ]
        matrix = vtkMatrix4x4()
        matrix.DeepCopy([value for row in projection for value in row])
        camera = self._renderer.GetActiveCamera()
        camera.SetPosition(0, 0, 0)
        camera.SetFocalPoint(0, 0, -1)
        camera.SetViewUp(0, 1, 0)
        camera.SetExplicitProjectionTransformMatrix(matrix)
        camera.UseExplicitProjectionTransformMatrixOn()
        self._window.Render()
        pixels = vtkUnsignedCharArray()
        self._window.GetPixelData(0, 0, self._columns - 1, self._rows - 1, 0, pixels, 0)
        out: NDArray[np.uint8] = vtk_to_numpy(pixels).reshape(self._rows, self._columns, 3)
        return out

    def close(self) -> None:
        self._window.Finalize()


def _off_screen_window() -> Any:
    """A window that needs no screen, or `NoDisplay`; probed so that nothing prints or dies."""
    from vtkmodules.vtkCommonCore import vtkLogger, vtkObject

    try:
        import vtkmodules.vtkRenderingOpenGL2 as opengl
    except ImportError as error:
        raise NoDisplay(_advice(str(error))) from None
    shown = vtkObject.GetGlobalWarningDisplay()
    vtkObject.GlobalWarningDisplayOff()
    loud = vtkLogger.GetCurrentVerbosityCutoff()
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    window = None
    try:
        for kind, library in _kinds():
            if library and not _loads(library):
                continue
            make = getattr(opengl, kind, None)
            if make is None:
                continue
            window = make()
            window.SetOffScreenRendering(1)
            if window.SupportsOpenGL():
                return window
            window = None  # let go while it is still quiet
    finally:
        vtkLogger.SetStderrVerbosity(loud)
        vtkObject.SetGlobalWarningDisplay(shown)
    raise NoDisplay(_advice("no OpenGL driver answers"))


def _kinds() -> list[tuple[str, str]]:
    """Kinds of window to try, each with the library without which trying it could crash."""
    if sys.platform.startswith("linux"):
        return [
            ("vtkEGLRenderWindow", "libEGL.so.1"),
            ("vtkOSOpenGLRenderWindow", "libOSMesa.so.8"),
        ]
    return [("vtkRenderWindow", "")]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _advice(cause: str) -> str:
    return (
        f"Pictures need OpenGL, which is missing here ({cause}): install Mesa, on Debian and "
        "Ubuntu with: apt install libegl1 libgl1 libgl1-mesa-dri"
    )
