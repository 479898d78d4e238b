"""How a run is mounted: what it lies along, which way is down for it, where it may be.

A horizontal run beside a wall that it lights, in its cross-section:

    wall |   up ^
         |      |
         |  <---o---      across: toward the lit surface; tilt turns nadir from straight
         |      |         down toward it
                v down

An upright run is the same picture lying on its side: `down` points along the wall. A run that
does not light the wall it lies beside (on a cove, under a ceiling that it lights) throws away
from that wall.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.shell import FACING, across_m, ceiling_height_m, wall_frames
from rakelight.build.standing import Standing
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import WALLS, RoomTable, RunTable

Floats = NDArray[np.float64]

UP = np.array([0.0, 0.0, 1.0])
#: How a run that lies on something that is not there is refused.
NOTHING_TO_LIE_ON = "nothing of that tag to lie on"


class Unmountable(Exception):
    """A run cannot be mounted as stated: the key at fault, and what to say."""

    def __init__(self, key: str, says: str) -> None:
        super().__init__(says)
        self.key, self.says = key, says


@dataclass(frozen=True, slots=True, eq=False)
class Mount:
    """A run's own directions, before its tilt.

    Parameters
    ----------
    kind : {"wall", "out", "upright", "free"}
        Lights the wall it lies beside; throws away from it; stands; goes from point to point.
    beside : str
        The wall (or, from point to point, the surface) that setback counts from.
    along : ndarray of float64, shape (3,)
        The way in which start and end are counted.
    across, up : ndarray of float64, shape (3,)
        Toward the lit surface, and against the file's nadir.
    length_m : float
        How far a run may go. [m]
    depth_m : float
        From `beside` to what faces it. [m]
    rest_rad : float
        Tilt at which the housing faces off what it is fixed to. [rad]
    origin_m : ndarray of float64, shape (3,)
        Where along, setback and height are 0. [m]
    out : ndarray of float64, shape (3,)
        The way in which setback is counted.
    reach_m : float
        For "base": from the run down to the foot, or along to the wall's far end; nan: none.
    """

    kind: str
    beside: str
    along: Floats
    across: Floats
    up: Floats
    length_m: float
    depth_m: float
    rest_rad: float
    origin_m: Floats
    out: Floats
    reach_m: float = math.nan

    @property
    def axis(self) -> Floats:
        """Along the run, so that axis x across = up."""
        out: Floats = np.cross(self.across, self.up)
        return out

    @property
    def forward(self) -> bool:
        """Whether the axis goes the way in which start and end are counted."""
        return bool(self.axis @ self.along > 0)

    def point_m(self, along_m: float, setback_m: float, height_m: float) -> Floats:
        """The opening's centre. [m]"""
        out: Floats = self.origin_m + along_m * self.along + setback_m * self.out
        return out if self.kind in ("upright", "free") else out + height_m * UP


def mount_run(
    table: RunTable, room: Room, sizes: RoomTable, standing: tuple[Standing, ...]
) -> tuple[Mount, Standing | None]:
    """Find out how a run is mounted.

    Parameters
    ----------
    table : RunTable
        As stated.
    room : Room
        Its surfaces.
    sizes : RoomTable
        The room's sizes.
    standing : tuple of Standing
        What it may lie on.

    Returns
    -------
    mount : Mount
        Its directions.
    base : Standing or None
        The cove, panel or fascia that it is on.

    Raises
    ------
    Unmountable
        If it cannot be.
    """
    base = _base(table, standing)
    if table.from_point_m is not None and table.to_point_m is not None:
        return _free(table, room.surface(table.lights), sizes), base
    if table.vertical:
        return _upright(table, sizes), base
    return _level(table, sizes, base), base


def lights_of(table: RunTable) -> str:
    """The surface that a run lights: as stated, else the ceiling where it lies on something."""
    if table.on is not None and "lights" not in table.model_fields_set:
        return "ceiling"
    return table.lights


def _base(table: RunTable, standing: tuple[Standing, ...]) -> Standing | None:
    if table.on is None:
        return None
    may = [one for one in standing if one.kind in ("cove", "panel", "fascia")]
    for one in may:
        if one.tag == table.on:
            return one
    known = ", ".join(f'"{one.tag}"' for one in may)
    right = f"there is {known}" if known else "the scene has no [[cove]], [[panel]] or [[fascia]]"
    raise Unmountable("on", f"{NOTHING_TO_LIE_ON}; {right}.")


def _level(table: RunTable, sizes: RoomTable, base: Standing | None) -> Mount:
    lights = table.lights if base is not None and base.kind == "fascia" else lights_of(table)
    beside: str = table.beside or ""
    if not beside and base is not None and base.kind == "cove":
        beside = _walls_of(base, sizes)[0]
    if not beside:
        beside = next((w for w in (lights, table.along) if w in WALLS), "main")
    frame, length = wall_frames(sizes)[beside]
    if lights == beside:
        kind, across = "wall", -frame.n
    elif lights in ("ceiling", "floor", FACING[beside]):
        kind, across = "out", frame.n
    else:
        raise Unmountable(
            "lights",
            f'a run beside the "{beside}" wall is square to the "{lights}" wall. Put it beside '
            f'the "{lights}" wall, or make it vertical.',
        )
    if table.along == lights and lights != "ceiling":
        raise Unmountable("along", f"it is fixed to what it lights, the {lights}; it cannot be.")
    rest = {"ceiling": math.pi if lights == "ceiling" else 0.0, "floor": math.pi}
    angle = rest.get(table.along, math.pi / 2)
    if base is not None and base.kind in ("cove", "panel"):
        angle = math.pi
    return Mount(
        kind,
        beside,
        frame.u.astype(np.float64),
        across,
        UP,
        length,
        across_m(sizes, beside),
        angle,
        frame.origin_m,
        frame.n,
    )


def _walls_of(cove: Standing, sizes: RoomTable) -> list[str]:
    """Walls that a cove or panel's parts lie along, in their order."""
    frames = wall_frames(sizes)
    names = [
        name
        for prism in cove.prisms
        for name, (frame, _) in frames.items()
        if np.array_equal(prism.frame.n, frame.n)
        and np.array_equal(prism.frame.origin_m, frame.origin_m)
    ]
    return list(dict.fromkeys(names))


def _upright(table: RunTable, sizes: RoomTable) -> Mount:
    frame, width = wall_frames(sizes)[table.lights]
    from_left = table.from_left_m or 0.0
    if from_left >= width:
        raise Unmountable("from_left", f'beyond the "{table.lights}" wall.')
    right = table.throws == "right" if table.throws else from_left < width / 2
    down = frame.u if right else -frame.u
    origin = frame.to_room(np.array([from_left, 0.0, 0.0]))
    return Mount(
        "upright",
        table.lights,
        UP,
        -frame.n,
        -down,
        float(ceiling_height_m(sizes, origin[None])[0]),
        across_m(sizes, table.lights),
        0.0,
        origin,
        frame.n,
        width - from_left if right else from_left,
    )


def _free(table: RunTable, lit: Surface, sizes: RoomTable) -> Mount:
    start, end = np.array(table.from_point_m), np.array(table.to_point_m)
    size = [sizes.width_m, sizes.depth_m]
    for key, point in (("from", start), ("to", end)):
        top = float(ceiling_height_m(sizes, point[None])[0])
        inside = (point[:2] > 0).all() and (point[:2] < size).all() and 0 < point[2]
        if not inside or point[2] >= top:
            where = "above the roof" if point[2] >= top else "outside the room"
            raise Unmountable(key, f"{where}. A run lies inside the room's walls and ceiling.")
    length = float(np.linalg.norm(end - start))
    if not length > 1e-3:
        raise Unmountable("to", 'the same point as "from".')
    along = (end - start) / length
    toward = -lit.frame.n
    if abs(along @ toward) > 0.98:
        raise Unmountable("to", f"the run points at what it lights, the {lit.name}.")
    if abs(along[2]) < 0.9:
        up = UP - along[2] * along
        up /= np.linalg.norm(up)
        across = np.cross(up, along)
        if across @ toward < -1e-9:
            across = -across
    else:
        across = toward - (toward @ along) * along
        across /= np.linalg.norm(across)
        up = np.cross(along, across)
        middle = lit.frame.to_room(np.array([lit.grid.width_m, lit.grid.height_m, 0.0]) / 2)
        if up @ (middle - (start + end) / 2) > 0:
            up = -up
    rest = math.pi if lit.name.startswith("ceiling") else 0.0
    # points are absolute: setback and height are read off them, not added
    distance = float(lit.frame.from_room((start + end) / 2)[2])
    return Mount(
        "free", lit.name, along, across, up, length, math.inf, rest, start - distance * lit.frame.n,
        lit.frame.n,
    )  # fmt: skip
