"""What is cut out of the shell: doors, windows, niches in walls, slots in the ceiling."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.faces import Finish, flat_face
from rakelight.build.standing import Where, tag_of
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.surfaces import Surface
from rakelight.units import say_length

Floats = NDArray[np.float64]

#: Depths and reflectances of what does not state its own; common practice, no source.
USUAL_DEPTH_M = {"door": 0.05, "window": 0.10}
USUAL_BACK = {"door": 0.4, "window": 0.1}


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A rectangular recess behind a surface.

    Parameters
    ----------
    frame : Frame
        The surface's.
    low_m, high_m : ndarray of float64, shape (2,)
        Corners of the rectangle, as (u, v). [m]
    depth_m : float
        How far back it goes. [m]
    """

    frame: Frame
    low_m: Floats
    high_m: Floats
    depth_m: float

    def hole_uv_m(self) -> Floats:
        """The rectangle, counter-clockwise, shape (4, 2). [m]"""
        (u0, v0), (u1, v1) = self.low_m, self.high_m
        return np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]])

    def faces(
        self, name: str, words: tuple[str, ...], sides: Finish, back: Finish
    ) -> list[Surface]:
        """Sides (foot, right, head, left) and back, fronts into the recess.

        Parameters
        ----------
        name : str
            Before each face's own word.
        words : tuple of str
            Four words for the sides, and one for the back.
        sides, back : Finish
            What they are like.
        """
        frame = self.frame
        hole = self.hole_uv_m()
        inward = (frame.v, -frame.u, -frame.v, frame.u)
        found = []
        if self.depth_m > 1e-6:
            for k in range(4):
                a, b = hole[k], hole[(k + 1) % 4]
                corners = np.array(
                    [[*a, 0.0], [*b, 0.0], [*b, -self.depth_m], [*a, -self.depth_m]], np.float64
                )
                found.append(
                    flat_face(f"{name} {words[k]}", frame.to_room(corners), inward[k], sides)
                )
        rear = np.column_stack([hole, np.full(4, -self.depth_m)])
        face = flat_face(
            f"{name} {words[4]}",
            frame.to_room(rear),
            frame.n,
            back,
            up=frame.v,
            blocks=self.depth_m > 1e-6,
        )
        return [*found, face]


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A door, window or niche.

    Parameters
    ----------
    tag, kind, on : str
        Its name, what it is, and its wall.
    where : tuple of str and int
        The table's place in the scene.
    cut : Cut
        Its recess.
    faces : tuple of Surface
        Reveal and back.
    glazed : bool
        Whether its back mirrors.
    """

    tag: str
    kind: str
    on: str
    where: Where
    cut: Cut
    faces: tuple[Surface, ...]
    glazed: bool


def build_openings(
    scene_file: SceneFile, surfaces: dict[str, Surface], step_m: float
) -> tuple[Opening, ...]:
    """Build the openings of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    surfaces : dict of str to Surface
        The shell, with its finishes.
    step_m : float
        Largest step of the faces' grids. [m]

    Raises
    ------
    InputError
        With one line for every opening that its wall cannot hold.
    """
    tables = scene_file.tables
    unit = tables.units.length
    found: list[Opening] = []
    faults: list[str] = []
    for index, table in enumerate(tables.opening):
        where: Where = ("opening", index)
        wall = surfaces[table.on]
        tag = tag_of("opening", index, table.tag)
        low = np.array([table.from_left_m, table.from_foot_m])
        high = low + np.array([table.width_m, table.height_m])
        size = wall.corners_uv_m.max(axis=0)
        corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
        for key, k in (("width", 0), ("height", 1)):
            if high[k] > size[k] + 1e-9:
                says = (
                    f'the {table.kind} is larger than the "{table.on}" wall, which is '
                    f"{say_length(float(size[k]), unit)} {'wide' if k == 0 else 'high'}; it would "
                    f"end at {say_length(float(high[k]), unit)}."
                )
                faults.append(stated_fault(scene_file.stated, (*where, key), says))
                break
        else:
            if not inside_convex(corners, wall.corners_uv_m):
                says = f"the {table.kind} reaches through the slope of the ceiling. Make it lower."
                faults.append(stated_fault(scene_file.stated, (*where, "height"), says))
                continue
            clash = next((o for o in found if o.on == table.on and _clash(o.cut, low, high)), None)
            if clash is not None:
                says = f'overlaps {clash.kind} "{clash.tag}". Move or narrow one of them.'
                faults.append(stated_fault(scene_file.stated, where, says))
                continue
            depth = USUAL_DEPTH_M[table.kind] if table.depth_m is None else table.depth_m
            cut = Cut(wall.frame, low, high, depth)
            wall_rgb = wall.reflectance_rgb
            rgb = (
                np.array(table.reflectance)
                if table.reflectance is not None
                else np.full(3, USUAL_BACK[table.kind])
                if table.kind in USUAL_BACK
                else wall_rgb
            )
            reveal = wall_rgb if table.reveal is None else np.array(table.reveal)
            other = tables.other_light.all_lx
            back_word = {"door": "leaf", "window": "pane", "niche": "back"}[table.kind]
            faces = cut.faces(
                f"{table.kind} {tag}",
                ("sill", "right side", "head", "left side", back_word),
                Finish(reveal, other, step_m),
                Finish(rgb, other, step_m),
            )
            glazed = table.kind == "window" if table.glazed is None else table.glazed
            found.append(Opening(tag, table.kind, table.on, where, cut, tuple(faces), glazed))
    if faults:
        raise InputError(*faults)
    return tuple(found)


def cut_openings(surfaces: dict[str, Surface], openings: tuple[Opening, ...]) -> dict[str, Surface]:
    """Return the shell with the openings cut out."""
    out = dict(surfaces)
    for opening in openings:
        wall = out[opening.on]
        holes = (*wall.holes_uv_m, opening.cut.hole_uv_m())
        out[opening.on] = replace(wall, holes_uv_m=holes)
    return out


def inside_convex(points: Floats, polygon: Floats, slack_m: float = 1e-6) -> bool:
    """Whether all points, shape (k, 2), lie in a convex counter-clockwise polygon."""
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        edge = (b - a) / np.linalg.norm(b - a)
        if (edge[0] * (points[:, 1] - a[1]) - edge[1] * (points[:, 0] - a[0])).min() < -slack_m:
            return False
    return True


def _clash(cut: Cut, low: Floats, high: Floats) -> bool:
    return bool(((high > cut.low_m + 1e-9) & (low < cut.high_m - 1e-9)).all())
