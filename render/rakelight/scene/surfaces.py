"""The room: planar polygons with inward normals, each with a grid that carries its light."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.relief import ReflectanceMap, Relief


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One planar polygon of the room.

    Parameters
    ----------
    name : str
        ``main``, ``opposite``, ``left``, ``right``, ``floor``, ``ceiling`` in a box room.
    frame : Frame
        Its own (u right, v up, n into the room); origin at the lower left of the polygon's
        bounding rectangle, on the mean plane.
    corners_uv_m : ndarray of float64, shape (k, 2)
        The polygon, counter-clockwise seen from the room. [m]
    grid : Grid
        Vertices over the bounding rectangle.
    reflectance_rgb : ndarray of float64, shape (3,)
        Mean diffuse reflectance, linear Rec.709, 0 to 1.
    relief : Relief or None
        Its heights; `grid` is then the relief's.
    reflectance_map : ReflectanceMap or None
        Reflectance by place; its mean is `reflectance_rgb`.
    other_light_lx : float
        Diffuse illuminance from daylight or lighting that is not modelled. [lx]
    holes_uv_m : tuple of ndarray of float64, shape (k, 2)
        Polygons cut out of it: doors, windows, niches, slots. [m]
    gloss : float
        0 for a dull surface, 1 for one polished like glass.
    blocks : bool
        True for what stands inside the room and can shade other surfaces: faces of fascias,
        slots, columns, benches. The outer shell of a convex room cannot.
    """

    name: str
    frame: Frame
    corners_uv_m: NDArray[np.float64]
    grid: Grid
    reflectance_rgb: NDArray[np.float64]
    relief: Relief | None = None
    reflectance_map: ReflectanceMap | None = None
    other_light_lx: float = 0.0
    holes_uv_m: tuple[NDArray[np.float64], ...] = ()
    blocks: bool = False
    gloss: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A thing that is drawn but carries no light of its own grid: a housing, a figure.

    Parameters
    ----------
    name : str
        For the drawing's surface ids.
    kind : str
        ``housing``, ``opening`` or ``figure``.
    points_m : ndarray of float64, shape (k, 3)
        Vertices in the room. [m]
    faces : ndarray of int64, shape (m, 3)
        Triangles, indices into `points_m`, counter-clockwise seen from outside.
    reflectance_rgb : ndarray of float64, shape (3,)
        Diffuse reflectance, linear Rec.709.
    line : int
        For an opening and a housing: index into `Room.lines()`; else -1.
    thin : bool
        True for a sheet without thickness, which has both sides of its triangles.
    """

    name: str
    kind: str
    points_m: NDArray[np.float64]
    faces: NDArray[np.int64]
    reflectance_rgb: NDArray[np.float64]
    line: int = -1
    thin: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """All that is lit, all that lights, all that is drawn."""

    surfaces: tuple[Surface, ...]
    groups: tuple[LightGroup, ...]
    bodies: tuple[Body, ...] = field(default=())

    def lines(self) -> tuple[LitLine, ...]:
        """Every run, group by group: what a body's `line` counts."""
        return tuple(line for group in self.groups for line in group.lines)

    def surface(self, name: str) -> Surface:
        """Return the surface of that name; ValueError if there is none."""
        for surface in self.surfaces:
            if surface.name == name:
                return surface
        raise ValueError(f"no surface {name!r}; there are {[s.name for s in self.surfaces]}")
