"""What stands or hangs in the room: fascias, soffits, coves, panels, columns, benches."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.faces import Finish, Prism, prism_faces
from rakelight.build.shell import NEXT, ceiling_height_m, wall_frames
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.standing_tables import (
    BenchTable,
    ColumnTable,
    CoveTable,
    FasciaTable,
    PanelTable,
    SoffitTable,
)
from rakelight.scene.surfaces import Surface
from rakelight.scene.tables import SceneTables, Wall
from rakelight.units import say_length

Floats = NDArray[np.float64]
Where = tuple[str | int, ...]

#: Reflectances of what does not state one; common practice, no source.
USUAL = {
    "fascia": 0.8, "soffit": 0.8, "cove": 0.8, "panel": 0.8,
    "column": 0.5, "bench": 0.3, "mesh": 0.3, "driver": 0.3,
}  # fmt: skip
LETTERS = {
    "cove": "C", "fascia": "F", "soffit": "S", "panel": "P", "column": "K", "bench": "B",
    "mesh": "M", "opening": "O", "painting": "A",
}  # fmt: skip
#: The edge that a knife profile ends in. [m]
KNIFE_M = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """One thing that stands or hangs in the room.

    Parameters
    ----------
    kind, tag : str
        Which table it comes from, and its name.
    where : tuple of str and int
        The table's place in the scene.
    prisms : tuple of Prism
        Its convex parts.
    faces : tuple of Surface
        Its outer faces.
    """

    kind: str
    tag: str
    where: Where
    prisms: tuple[Prism, ...]
    faces: tuple[Surface, ...]


def tag_of(kind: str, index: int, tag: str) -> str:
    """Return the stated tag, or the one by order."""
    return tag or f"{LETTERS[kind]}{index + 1}"


def build_standing(scene_file: SceneFile, step_m: float) -> tuple[Standing, ...]:
    """Build everything that stands or hangs in a scene's room, but for meshes.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    step_m : float
        Largest step of the faces' grids. [m]

    Raises
    ------
    InputError
        With one line for everything that does not fit the room.
    """
    tables = scene_file.tables
    found: list[Standing] = []
    faults: list[str] = []
    makers: dict[str, Callable[..., list[tuple[Prism, dict[int, str], str]]]] = {
        "cove": _cove,
        "fascia": _fascia,
        "soffit": _soffit,
        "panel": _panel,
        "column": _column,
        "bench": _bench,
    }
    for kind, make in makers.items():
        for index, table in enumerate(getattr(tables, kind)):
            tag = tag_of(kind, index, table.tag)
            where: Where = (kind, index)
            try:
                parts = make(tables, table)
                _check_inside(tables, [part[0] for part in parts])
            except _Misfit as misfit:
                at = where if misfit.key is None else (*where, misfit.key)
                faults.append(stated_fault(scene_file.stated, at, misfit.says))
                continue
            faces: list[Surface] = []
            for prism, names, usual in parts:
                own = table.reflectance
                if usual == "driver":
                    own = table.driver.reflectance
                rgb = own if own is not None else (USUAL[usual],) * 3
                finish = Finish(np.array(rgb), tables.other_light.all_lx, step_m)
                faces += prism_faces(prism, _named(kind, tag, names), finish)
            prisms = tuple(part[0] for part in parts)
            found.append(Standing(kind, tag, where, prisms, tuple(faces)))
    if faults:
        raise InputError(*faults)
    return tuple(found)


class _Misfit(Exception):
    """Something does not fit the room: the key at fault, and what to say."""

    def __init__(self, key: str | None, says: str) -> None:
        super().__init__(says)
        self.key, self.says = key, says


Parts = list[tuple[Prism, dict[int, str], str]]


def _named(kind: str, tag: str, names: dict[int, str]) -> Callable[[int], str | None]:
    def name(number: int) -> str | None:
        return f"{kind} {tag} {names[number]}" if number in names else None

    return name


def _spans(
    tables: SceneTables, walls: tuple[Wall, ...], table: CoveTable | FasciaTable | SoffitTable
) -> list[tuple[Wall, Prism]]:
    """For each wall an empty prism along it, mitred where it meets the next in the list."""
    unit = tables.units.length
    frames = wall_frames(tables.room)
    start, end = table.start_m, table.end_m
    last = frames[walls[-1]][1]
    if start >= frames[walls[0]][1]:
        raise _Misfit("start", f'beyond the "{walls[0]}" wall.')
    if end is not None and end > last + 1e-9:
        raise _Misfit(
            "end", f'beyond the "{walls[-1]}" wall, which is {say_length(last, unit)} wide.'
        )
    out = []
    ring = len(walls) == 4 and NEXT[walls[-1]] == walls[0]
    for number, wall in enumerate(walls):
        frame, width = frames[wall]
        first, final = number == 0 and not ring, number == len(walls) - 1 and not ring
        prism = Prism(
            frame,
            np.zeros((0, 2)),
            start if first else 0.0,
            (end if end is not None else width) if final else width,
            0.0 if first else 1.0,
            0.0 if final else -1.0,
        )
        out.append((wall, prism))
    return out


def _top_over(tables: SceneTables, prism: Prism, n: float) -> float:
    """Lowest height of the ceiling over a span at a distance from its wall. [m]"""
    ends = [prism.start_m + prism.start_slope * n, prism.end_m + prism.end_slope * n]
    points = prism.frame.to_room(np.array([[u, 0.0, n] for u in ends]))
    return float(ceiling_height_m(tables.room, points).min())


def _with(prism: Prism, section: list[tuple[float, float]]) -> Prism:
    return Prism(
        prism.frame,
        np.array(section, np.float64),
        prism.start_m,
        prism.end_m,
        prism.start_slope,
        prism.end_slope,
    )


def _fascia(tables: SceneTables, table: FasciaTable) -> Parts:
    parts: Parts = []
    unit = tables.units.length
    for wall, span in _spans(tables, table.along, table):
        near, far = table.from_wall_m, table.from_wall_m + table.thickness_m
        tops = [_top_over(tables, span, n) - table.below_ceiling_m for n in (near, far)]
        low = min(tops) - table.height_m
        if low < 0:
            says = f"reaches below the floor; use {say_length(min(tops), unit)} or less."
            raise _Misfit("height", says)
        if low < 1e-6:
            most = say_length(min(tops), unit)
            says = f"reaches the floor and shuts in what is behind it; use less than {most}."
            raise _Misfit("height", says)
        edge = near + KNIFE_M if table.profile == "knife" else far
        section = [(near, low), (edge, low), (far, tops[1]), (near, tops[0])]
        names = {0: "edge", 1: "front", 2: "top", 3: "back", -1: "left end", -2: "right end"}
        parts.append((_with(span, section), _on(wall, table.along, names), "fascia"))
    return parts


def _on(wall: Wall, walls: tuple[Wall, ...], names: dict[int, str]) -> dict[int, str]:
    """Face names; told apart by wall where there are several, and no ends where they meet."""
    if len(walls) == 1:
        return names
    ring = len(walls) == 4
    kept = dict(names)
    if wall != walls[0] or ring:
        kept.pop(-1, None)
    if wall != walls[-1] or ring:
        kept.pop(-2, None)
    return {number: f"{name} {wall}" for number, name in kept.items()}


def _soffit(tables: SceneTables, table: SoffitTable) -> Parts:
    parts: Parts = []
    for wall, span in _spans(tables, table.along, table):
        tops = [_top_over(tables, span, n) for n in (0.0, table.depth_m)]
        low = min(tops) - table.height_m
        if low < 0:
            raise _Misfit("height", "reaches below the floor.")
        section = [(0.0, low), (table.depth_m, low), (table.depth_m, tops[1]), (0.0, tops[0])]
        names = {0: "underside", 1: "front", 2: "top", 3: "back", -1: "left end", -2: "right end"}
        parts.append((_with(span, section), _on(wall, table.along, names), "soffit"))
    return parts


def _cove(tables: SceneTables, table: CoveTable) -> Parts:
    parts: Parts = []
    unit = tables.units.length
    for wall, span in _spans(tables, table.along, table):
        out = table.ledge_m + table.lip_thickness_m
        # measured where the cove is fixed: at the wall
        ledge = _top_over(tables, span, 0.0) - table.down_m
        key = "setback" if table.setback_m is not None else "below_ceiling"
        if ledge - table.thickness_m <= 0:
            raise _Misfit(key, "puts the ledge below the floor.")
        over = _top_over(tables, span, out) - ledge
        lip = table.lip_m if table.lip_m is not None else over - (table.aperture_m or 0.0)
        if lip >= over:
            says = (
                f"the lip would reach the ceiling, which is {say_length(over, unit)} over the "
                "ledge there, and let no light out. Use less."
            )
            raise _Misfit("lip", says)
        if lip < 0:
            says = f"wider than the {say_length(over, unit)} from ledge to ceiling. Use less."
            raise _Misfit("aperture", says)
        low = ledge - table.thickness_m
        ends = {-1: "left end", -2: "right end"}
        slab = [(0.0, low), (out, low), (out, ledge), (table.ledge_m, ledge), (0.0, ledge)]
        faces = {0: "underside", 1: "front", 3: "ledge", 4: "back", **ends}
        if lip <= 0:
            faces[2] = "edge"
        parts.append((_with(span, slab), _on(wall, table.along, faces), "cove"))
        if lip > 0:
            top = ledge + lip
            board = [(table.ledge_m, ledge), (out, ledge), (out, top), (table.ledge_m, top)]
            faces = {1: "lip front", 2: "lip edge", 3: "lip back"}
            faces |= {-1: "lip left end", -2: "lip right end"}
            parts.append((_with(span, board), _on(wall, table.along, faces), "cove"))
        if table.driver is not None:
            near, far = table.driver.from_wall_m, table.driver.from_wall_m + table.driver.width_m
            if far > table.ledge_m + 1e-9:
                raise _Misfit("driver", "is wider than the ledge behind the lip.")
            top = ledge + table.driver.height_m
            if top >= _top_over(tables, span, far):
                raise _Misfit("driver", "reaches the ceiling.")
            box = [(near, ledge), (far, ledge), (far, top), (near, top)]
            faces = {1: "driver front", 2: "driver top", 3: "driver back"}
            faces |= {-1: "driver left end", -2: "driver right end"}
            parts.append((_with(span, box), _on(wall, table.along, faces), "driver"))
    return parts


def _panel(tables: SceneTables, table: PanelTable) -> Parts:
    room, unit = tables.room, tables.units.length
    if table.from_left_m + table.width_m > room.width_m + 1e-9:
        raise _Misfit("width", f"wider than the room, which is {say_length(room.width_m, unit)}.")
    if table.from_main_m + table.depth_m > room.depth_m + 1e-9:
        raise _Misfit("depth", f"deeper than the room, which is {say_length(room.depth_m, unit)}.")
    frame = wall_frames(room)["main"][0]
    near, far = table.from_main_m, table.from_main_m + table.depth_m
    start, end = table.from_left_m, table.from_left_m + table.width_m
    points = frame.to_room(np.array([[u, 0.0, n] for u in (start, end) for n in (near, far)]))
    top = float(ceiling_height_m(room, points).min()) - table.below_ceiling_m
    low = top - table.thickness_m
    if low <= 0:
        raise _Misfit("below_ceiling", "puts the panel below the floor.")
    section = np.array([(near, low), (far, low), (far, top), (near, top)])
    names = {0: "underside", 1: "edge opposite", 2: "top", 3: "edge main"}
    names |= {-1: "edge left", -2: "edge right"}
    return [(Prism(frame, section, start, end), names, "panel")]


def _box(
    at: tuple[float, float], width: float, depth: float, low: float, high: float, turn: float
) -> Parts:
    cos, sin = math.cos(turn), math.sin(turn)
    u, back = np.array([cos, sin, 0.0]), np.array([sin, -cos, 0.0])
    frame = Frame(np.array([*at, 0.0]), u, np.array([0.0, 0.0, 1.0]), back)
    half = depth / 2
    section = np.array([(-half, low), (half, low), (half, high), (-half, high)])
    names = {0: "underside", 1: "front", 2: "top", 3: "back", -1: "left side", -2: "right side"}
    return [(Prism(frame, section, -width / 2, width / 2), names, "")]


def _column(tables: SceneTables, table: ColumnTable) -> Parts:
    [(prism, names, _)] = _box(table.at_m, table.width_m, table.depth_m, 0, 1, table.turn_rad)
    top = float(ceiling_height_m(tables.room, prism.points_m()).min())
    if table.height_m is not None:
        if table.height_m > top + 1e-9:
            says = f"goes through the ceiling; leave it out, or use {_say(tables, top)} or less."
            raise _Misfit("height", says)
        top = table.height_m
    [(prism, names, _)] = _box(table.at_m, table.width_m, table.depth_m, 0, top, table.turn_rad)
    return [(prism, names, "column")]


def _bench(tables: SceneTables, table: BenchTable) -> Parts:
    low = table.above_floor_m
    [(prism, names, _)] = _box(
        table.at_m, table.width_m, table.depth_m, low, low + table.height_m, table.turn_rad
    )
    top = float(ceiling_height_m(tables.room, prism.points_m()).min())
    if low + table.height_m > top + 1e-9:
        raise _Misfit("height", f"goes through the ceiling, {_say(tables, top)} up there.")
    return [(prism, names, "bench")]


def _say(tables: SceneTables, length_m: float) -> str:
    return say_length(length_m, tables.units.length)


def _check_inside(tables: SceneTables, prisms: list[Prism]) -> None:
    room = tables.room
    for prism in prisms:
        points = prism.points_m()
        for axis, size, low, high in (
            (0, room.width_m, "left", "right"),
            (1, room.depth_m, "opposite", "main"),
        ):
            values = points[:, axis]
            if values.min() < -1e-6:
                out = _say(tables, float(-values.min()))
                raise _Misfit(None, f'cuts {out} through the "{low}" wall. Move it into the room.')
            if values.max() > size + 1e-6:
                out = _say(tables, float(values.max() - size))
                raise _Misfit(None, f'cuts {out} through the "{high}" wall. Move it into the room.')
