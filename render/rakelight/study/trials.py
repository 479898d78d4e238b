"""One run tried at other setbacks, tilts and files: direct light on a coarser mesh, kept.

The room, its reliefs and their horizons are prepared once; a trial moves the run alone.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.mounting import Unmountable, mount_run
from rakelight.build.room import BareRoom, build_bare_room
from rakelight.build.scene import build_read_scene, quality_of
from rakelight.errors import InputError
from rakelight.light.direct import direct
from rakelight.light.prepare import Prepared, moved, prepare
from rakelight.measure import Fields, fields
from rakelight.measure.fields import Areas, areas_of
from rakelight.read.toml import SceneFile, lay_values
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit_line import LitLine
from rakelight.scene.quality import Quality
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Scene
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import RunTable
from rakelight.study.hardware import cove_of
from rakelight.study.wishes import WORK_PLANE

Floats = NDArray[np.float64]

#: Mesh of a trial: the drama centre is within 10 mm of the default mesh's, its zone's ends within
#: 10 mm, the average within 0.2 %; the texture's strength comes out 15 to 21 % lower, since small
#: edges are lost, in all trials alike (measured on ledgestone at 80, 120 and 150 mm).
TRIAL_STEP_M = 0.01
TRIAL_PLANE_M = 0.05
TRIAL_AZIMUTHS = 24
#: Height of the work plane where the scene states none, and the border left out around it:
#: common practice, no source. [m]
WORK_PLANE_M = 0.75
BORDER_M = 0.5


@dataclass(frozen=True, slots=True)
class Candidate:
    """One setting of the run; None keeps what the scene states.

    Parameters
    ----------
    file : str
        Photometric file; empty: the scene's.
    setback_m, tilt_rad, below_m : float or None
        Setback, tilt, and the distance of its cove below the ceiling. [m], [rad], [m]
    """

    file: str = ""
    setback_m: float | None = None
    tilt_rad: float | None = None
    below_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A candidate, lit.

    Parameters
    ----------
    scene : Scene
        As built with it.
    plan, line : RunPlan, LitLine
        The run that is tried.
    fields : Fields
        Light on the surface that the wish is about.
    below_m : float or None
        Distance of its cove below the ceiling, where that is searched too. [m]
    """

    scene: Scene
    plan: RunPlan
    line: LitLine
    fields: Fields
    below_m: float | None = None


@dataclass(slots=True, eq=False)
class Bench:
    """Where candidates are tried.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    run : int
        Which of its runs is moved, from 0.
    surface : str
        Whose light is looked at; empty: what the run lights.
    quality : Quality
        Mesh and azimuths.
    walls : mapping of str to float
        Values laid over the scene for all trials: lean, bow.
    """

    scene_file: SceneFile
    run: int
    surface: str
    quality: Quality
    walls: Mapping[str, float] = field(default_factory=dict)
    tried: int = 0
    _rooms: dict[float | None, tuple[SceneFile, BareRoom]] = field(default_factory=dict)
    _prepared: dict[float | None, Prepared] = field(default_factory=dict)
    _first: dict[tuple[str, float | None], Scene] = field(default_factory=dict)
    _areas: Areas | None = None

    @property
    def table(self) -> RunTable:
        """The run as the scene states it."""
        return self.scene_file.tables.run[self.run]

    def scene(self, candidate: Candidate) -> Scene:
        """Build the scene with a candidate; InputError where it cannot be."""
        base, bare = self._room(candidate.below_m)
        values: dict[str, object] = {}
        key = f"run.{self.run + 1}"
        if candidate.file:
            values[f"{key}.photometry"] = candidate.file
        if candidate.setback_m is not None:
            values[f"{key}.setback"] = f"{candidate.setback_m!r} m"
        if candidate.tilt_rad is not None:
            values[f"{key}.tilt"] = f"{candidate.tilt_rad!r} rad"
        laid = lay_values(base, values) if values else base
        return build_read_scene(laid, quality=self.quality, bare_room=bare)

    def try_one(self, candidate: Candidate) -> Trial | None:
        """Light one candidate; None where it cannot be built or stands inside the relief.

        Where only the run itself moves it is moved as it is, without building the scene again;
        its plan then has the new setback and tilt, and all else of the first one.
        """
        quick = self._quickly(candidate)
        if quick is not None:
            return self.light(quick, candidate.below_m)
        try:
            scene = self.scene(candidate)
        except InputError:
            return None
        if self._moves_alone(scene.runs[self.run]):
            self._first.setdefault((candidate.file, candidate.below_m), scene)
        return self.light(scene, candidate.below_m)

    def light(self, scene: Scene, below_m: float | None = None) -> Trial | None:
        """Light a built scene, whose room is that of `below_m`."""
        plan = scene.runs[self.run]
        target, room = self._looked_at(scene, plan)
        before = self._prepared.get(below_m)
        prepared = prepare(room, self.quality) if before is None else moved(before, room)
        self._prepared[below_m] = prepared
        self.tried += 1
        try:
            lit = direct(prepared, edges=False)
        except ValueError:  # the opening's near edge stands in the relief
            return None
        if self._areas is None or not self._areas.serve(target):
            self._areas = areas_of(target)
        seen = fields(target, lit, self._areas)
        return Trial(scene, plan, room.lines()[plan.line], seen, below_m)

    def off(self, trial: Trial, away_m: float, turn_rad: float) -> Trial | None:
        """The same with the run off its place: farther from the wall, tilted toward it more."""
        scene = trial.scene
        normal = scene.room.surface(trial.plan.beside or trial.plan.lights).frame.n
        moved = moved_line(trial.line, away_m * normal, turn_rad)
        groups = tuple(
            replace(group, lines=tuple(moved if one is trial.line else one for one in group.lines))
            for group in scene.room.groups
        )
        room = replace(scene.room, groups=groups)
        return self.light(replace(scene, room=room), trial.below_m)

    def bare(self, below_m: float | None = None) -> BareRoom:
        """The room without its runs."""
        return self._room(below_m)[1]

    def rest_rad(self) -> float:
        """Tilt at which the run's hardware is at 0. [rad]"""
        bare = self.bare()
        try:
            mount, _ = mount_run(self.table, bare.room, self.scene_file.tables.room, bare.standing)
        except Unmountable:
            return 0.0
        return mount.rest_rad

    def _moves_alone(self, plan: RunPlan) -> bool:
        """Whether nothing else of the scene follows the run: no slot, no recess, level ceiling."""
        table, sizes = self.table, self.scene_file.tables.room
        follows = table.slot or table.flush or table.on or table.vertical or sizes.ceiling
        cheeks = table.housing is not None and table.housing.recess_m > 0
        hangs = table.along == "ceiling" and table.from_point_m is None
        return plan.kind == "wall" and hangs and not follows and not cheeks

    def _quickly(self, candidate: Candidate) -> Scene | None:
        """The first scene of this file with the run moved; None where that may not be enough."""
        scene = self._first.get((candidate.file, candidate.below_m))
        if scene is None or (candidate.tilt_rad is None and self.table.beam_aim_rad is not None):
            return None
        plan = scene.runs[self.run]
        setback = plan.setback_m if candidate.setback_m is None else candidate.setback_m
        tilt = plan.tilt_rad if candidate.tilt_rad is None else candidate.tilt_rad
        wall = scene.room.surface(plan.beside or plan.lights)
        highest = max(0.0, wall.relief.highest_m) if wall.relief is not None else 0.0
        # clear at any tilt: nearer, the builder has to say whether it touches
        size = math.hypot(max(plan.housing_width_m, plan.opening_width_m), plan.housing_height_m)
        if not highest + size < setback < 0.5 * (wall.grid.width_m + wall.grid.height_m):
            return None
        room = scene.room
        old = room.lines()[plan.line]
        new = moved_line(old, (setback - plan.setback_m) * wall.frame.n, tilt - plan.tilt_rad)
        groups = tuple(
            replace(group, lines=tuple(new if one is old else one for one in group.lines))
            for group in room.groups
        )
        runs = list(scene.runs)
        runs[self.run] = replace(plan, setback_m=setback, tilt_rad=tilt)
        return replace(scene, room=replace(room, groups=groups), runs=tuple(runs))

    def _room(self, below_m: float | None) -> tuple[SceneFile, BareRoom]:
        if below_m not in self._rooms:
            values: dict[str, object] = {k: f"{v!r} m" for k, v in self.walls.items()}
            if below_m is not None:
                number = cove_of(self.scene_file, self.run)
                values[f"cove.{number + 1}.below_ceiling"] = f"{below_m!r} m"
            laid = lay_values(self.scene_file, values) if values else self.scene_file
            if len(self._rooms) > 3:  # a moved cove is another room each time
                self._rooms.pop(next(iter(self._rooms)))
                self._prepared.pop(next(iter(self._prepared)), None)
            self._rooms[below_m] = laid, build_bare_room(laid, self.quality)
        return self._rooms[below_m]

    def _looked_at(self, scene: Scene, plan: RunPlan) -> tuple[Surface, Room]:
        """The surface looked at, and the room cut down to it and to what can shade it."""
        name = self.surface or plan.lights
        if name == WORK_PLANE:
            target = work_plane(scene)
        else:
            target = scene.room.surface(name)
        kept = [target]
        for surface in scene.room.surfaces:
            if surface.name == name:
                continue
            if surface.blocks:  # only its outline matters
                small = Grid(2, 2, surface.grid.width_m, surface.grid.height_m)
                kept.append(replace(surface, grid=small))
        return target, replace(scene.room, surfaces=tuple(kept))


def bench(
    scene_file: SceneFile,
    run: int = 0,
    surface: str = "",
    *,
    step_m: float = TRIAL_STEP_M,
    walls: Mapping[str, float] | None = None,
) -> Bench:
    """Make a bench for one run of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    run : int
        Which run, from 0.
    surface : str
        Whose light is looked at; empty: what the run lights.
    step_m : float
        Mesh of reliefs; never finer than the scene's own. [m]
    walls : mapping of str to float, optional
        Lean and bow laid over the scene. [m]
    """
    own = quality_of(scene_file.tables)
    quality = replace(
        own,
        mesh_step_m=max(own.mesh_step_m, step_m),
        plane_step_m=max(own.plane_step_m, TRIAL_PLANE_M),
        azimuths=min(own.azimuths, TRIAL_AZIMUTHS),
        bounce=False,
    )
    return Bench(scene_file, run, surface, quality, dict(walls or {}))


def moved_line(line: LitLine, by_m: Floats, turn_rad: float) -> LitLine:
    """A run moved, and turned about its opening's centre toward the lit side."""
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)

    def turned(vector: Floats) -> Floats:
        a, n, c = vector @ line.axis, vector @ line.nadir, vector @ line.across
        out: Floats = (
            a * line.axis + (n * cos - c * sin) * line.nadir + (n * sin + c * cos) * line.across
        )
        return out

    return replace(
        line,
        origin_m=line.origin_m + by_m,
        nadir=turned(line.nadir),
        across=turned(line.across),
        c0=turned(line.c0),
    )


def work_plane(scene: Scene) -> Surface:
    """A level plane at the height where work is done, less a border along the walls."""
    floor = scene.room.surface("floor")
    stated = scene.tables.measure.work_plane_m
    height = WORK_PLANE_M if stated is None else stated
    grid = floor.grid
    border = min(BORDER_M, 0.25 * grid.width_m, 0.25 * grid.height_m)
    frame = Frame(
        floor.frame.to_room(np.array([border, border, height])),
        floor.frame.u, floor.frame.v, floor.frame.n,
    )  # fmt: skip
    wide, deep = grid.width_m - 2 * border, grid.height_m - 2 * border
    return Surface(
        name=WORK_PLANE,
        frame=frame,
        corners_uv_m=np.array([[0, 0], [wide, 0], [wide, deep], [0, deep]], np.float64),
        grid=Grid.with_step(wide, deep, scene.quality.plane_step_m),
        reflectance_rgb=floor.reflectance_rgb,
        other_light_lx=floor.other_light_lx,
    )
