"""Flat faces of what stands in the room: extruded sections and boxes, as surfaces that shade."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]

#: A face that lies this near to a surface of the shell is in it. [m]
IN_PLANE_M = 1e-6
_LEAST_AREA_M2 = 1e-8
#: Steps across a face at least. Runs lie a hand's breadth from narrow ones, and their light ends
#: within millimetres of a lip's edge: with steps of 10 mm, two lips 45 mm high took 880 lm, not
#: 270, of a chapel's 35,200 lm.
ACROSS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Finish:
    """What a face is like.

    Parameters
    ----------
    reflectance_rgb : ndarray of float64, shape (3,)
        Diffuse, linear Rec.709.
    other_light_lx : float
        Light that is not modelled. [lx]
    step_m : float
        Largest step of its grid. [m]
    """

    reflectance_rgb: Floats
    other_light_lx: float
    step_m: float


def flat_face(
    name: str,
    corners_m: Floats,
    normal: Floats,
    finish: Finish,
    *,
    up: Floats | None = None,
    blocks: bool = True,
) -> Surface:
    """Make a surface of a flat polygon.

    Parameters
    ----------
    name : str
        Its name.
    corners_m : ndarray of float64, shape (k, 3)
        In order, either way round. [m]
    normal : ndarray of float64, shape (3,)
        Unit vector off its front.
    finish : Finish
        What it is like.
    up : ndarray of float64, shape (3,), optional
        Roughly the way of v; not given: up, or along y on level faces.
    blocks : bool
        Whether it shades others.
    """
    hint = np.array([0.0, 0.0, 1.0]) if up is None else up
    if abs(hint @ normal) > 0.999:
        hint = np.array([0.0, 1.0, 0.0])
    v = hint - (hint @ normal) * normal
    v /= np.linalg.norm(v)
    u = np.cross(v, normal)
    frame = Frame(corners_m[0].astype(np.float64), u, v, normal.astype(np.float64))
    flat = frame.from_room(corners_m)[:, :2]
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    frame = replace(frame, origin_m=frame.to_room(np.array([low[0], low[1], 0.0])))
    polygon = flat - low
    if signed_area(polygon) < 0:
        polygon = polygon[::-1].copy()
    return Surface(
        name=name,
        frame=frame,
        corners_uv_m=polygon,
        grid=Grid.with_step(float(size[0]), float(size[1]), finish.step_m, ACROSS),
        reflectance_rgb=finish.reflectance_rgb,
        other_light_lx=finish.other_light_lx,
        blocks=blocks,
    )


def signed_area(polygon: Floats) -> float:
    """Area of a polygon, shape (k, 2); counter-clockwise positive."""
    x, y = polygon[:, 0], polygon[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """A convex section carried along an axis, its ends square or mitred.

    Parameters
    ----------
    frame : Frame
        Section (x, y) lies along `frame.n` and `frame.v`, the axis along `frame.u`.
    section_m : ndarray of float64, shape (k, 2)
        Convex, as (n, v), counter-clockwise with n to the right and v up. [m]
    start_m, end_m : float
        Along u, where n = 0. [m]
    start_slope, end_slope : float
        How much start and end move along u for each metre of n: 1 and -1 at inner corners.
    """

    frame: Frame
    section_m: Floats
    start_m: float
    end_m: float
    start_slope: float = 0.0
    end_slope: float = 0.0

    def ends_m(self) -> tuple[Floats, Floats]:
        """Corners of both ends in the room, each of shape (k, 3). [m]"""
        n, v = self.section_m[:, 0], self.section_m[:, 1]
        here = np.stack([self.start_m + self.start_slope * n, v, n], axis=1)
        there = np.stack([self.end_m + self.end_slope * n, v, n], axis=1)
        return self.frame.to_room(here), self.frame.to_room(there)

    def points_m(self) -> Floats:
        """All corners, shape (2 k, 3). [m]"""
        return np.concatenate(self.ends_m())

    def faces(self) -> list[tuple[int, Floats]]:
        """Faces in order: side k from section corner k on, then start (-1) and end (-2). [m]"""
        here, there = self.ends_m()
        count = len(here)
        out: list[tuple[int, Floats]] = [
            (
                k,
                np.stack([here[k], here[(k + 1) % count], there[(k + 1) % count], there[k]]),
            )
            for k in range(count)
        ]
        return [*out, (-1, here), (-2, there)]


def prism_faces(
    prism: Prism,
    name_of: Callable[[int], str | None],
    finish: Finish,
) -> list[Surface]:
    """Surfaces of a prism, fronts outward.

    Parameters
    ----------
    prism : Prism
        The body.
    name_of : callable
        Name of a side, or of start (-1) and end (-2); None leaves the face out.
    finish : Finish
        Of all faces.
    """
    middle = prism.points_m().mean(axis=0)
    found = []
    for number, corners in prism.faces():
        name = name_of(number)
        normal = _normal(corners)
        if name is None or normal is None:
            continue
        if normal @ (corners.mean(axis=0) - middle) < 0:
            normal = -normal
        found.append(flat_face(name, corners, normal, finish))
    return found


def _normal(corners_m: Floats) -> Floats | None:
    after = np.roll(corners_m, -1, axis=0)
    vector = np.cross(corners_m, after).sum(axis=0)
    size = float(np.linalg.norm(vector))
    return None if size < 2 * _LEAST_AREA_M2 else vector / size


def join_shell(
    shell: Sequence[Surface], faces: Sequence[Surface]
) -> tuple[list[Surface], list[Surface]]:
    """Where faces lie in the shell, cut the shell and drop the faces.

    Parameters
    ----------
    shell : sequence of Surface
        Walls, floor, ceilings.
    faces : sequence of Surface
        Of bodies that may stand against them.

    Returns
    -------
    shell, faces : list of Surface
        The shell with holes where bodies stand, and the faces that are left.
    """
    holes: dict[int, list[Floats]] = {}
    kept = []
    for face in faces:
        corners = corners_in_room(face)
        for index, plane in enumerate(shell):
            local = plane.frame.from_room(corners)
            if np.abs(local[:, 2]).max() < IN_PLANE_M and face.frame.n @ plane.frame.n < 0:
                hole = local[:, :2]
                hole = hole if signed_area(hole) > 0 else hole[::-1]
                holes.setdefault(index, []).append(hole.copy())
                break
        else:
            kept.append(face)
    out = [
        replace(plane, holes_uv_m=(*plane.holes_uv_m, *holes[index])) if index in holes else plane
        for index, plane in enumerate(shell)
    ]
    return out, kept


def corners_in_room(surface: Surface) -> Floats:
    """Corners of a surface's polygon in the room, shape (k, 3). [m]"""
    flat = np.column_stack([surface.corners_uv_m, np.zeros(len(surface.corners_uv_m))])
    return surface.frame.to_room(flat)


def overlap(one: Floats, other: Floats, axes: Floats, slack_m: float = 1e-4) -> bool:
    """Whether two convex bodies share more than a skin.

    Parameters
    ----------
    one, other : ndarray of float64, shape (k, 3)
        Corners. [m]
    axes : ndarray of float64, shape (m, 3)
        Directions that may separate them: face normals and cross products of edges.
    slack_m : float
        Depth that is forgiven. [m]
    """
    size = np.linalg.norm(axes, axis=1)
    units = axes[size > 1e-9] / size[size > 1e-9, None]
    a, b = one @ units.T, other @ units.T
    depth = np.minimum(a.max(axis=0) - b.min(axis=0), b.max(axis=0) - a.min(axis=0))
    return bool((depth > slack_m).all())
