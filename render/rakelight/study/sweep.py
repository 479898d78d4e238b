"""A sweep: one scene at several values of one knob or two, each step lit, measured, shaded.

Nothing here touches files. `sweep_steps` is a generator: whoever asks for it says which steps
are finished, and keeps what it yields.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import product
from threading import Event
from typing import Any, Literal

from rakelight.build.room import BareRoom, build_bare_room
from rakelight.build.scene import build_read_scene, quality_of
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile, lay_values
from rakelight.scene.camera import Camera
from rakelight.scene.scene import Scene
from rakelight.study.fingerprint import fingerprint
from rakelight.study.knobs import (
    AGAINST,
    Value,
    assignments,
    chosen_runs,
    lit_surface,
    relief_index,
)
from rakelight.study.light_step import Kept, light_step
from rakelight.study.noted import with_shading_notes
from rakelight.study.ranges import MOST_STEPS, Range, expand, labels
from rakelight.study.side_by_side import Stopped, in_order
from rakelight.study.step import step_files
from rakelight.study.stills import Progress, measure_settings, quiet
from rakelight.study.sweep_aims import aimed_runs, least_setback

Keeps = Literal["mean plane", "backing"]
#: Wider than any picture.
ANY_PX = 1 << 16


@dataclass(frozen=True, slots=True)
class Wish:
    """One step that is wanted.

    Parameters
    ----------
    index : int
        Its place in the sweep, from 0; with two ranges the second runs fastest.
    values : tuple of float or str
        One for each range. [SI]
    labels : tuple of str
        The same in words.
    """

    index: int
    values: tuple[Value, ...]
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """A sweep, resolved: what is turned, on which runs, seen from where.

    Parameters
    ----------
    scene_file : SceneFile
        The scene, with the tilt held or the aim laid over it.
    base : Scene
        One built scene of it, for titles, cameras and what stays the same.
    ranges : tuple of Range
        One or two.
    wishes : tuple of Wish
        Every step.
    runs : tuple of int
        The runs that are turned.
    tags : tuple of str
        Their tags.
    surface : str
        The surface that is reported.
    camera : str or None
        The camera's name; None: no pictures.
    keeps : {"mean plane", "backing"}
        What stays where it is while the relief's depth is swept.
    re_aim : bool
        Whether each step aims at the wall's base.
    backing_m : float
        From backing to mean plane in `base`. [m]
    most_px : int
        Pictures are no wider; their sides keep their proportion.
    bare : BareRoom or None
        The room of all steps; None where steps change it.
    """

    scene_file: SceneFile
    base: Scene
    ranges: tuple[Range, ...]
    wishes: tuple[Wish, ...]
    runs: tuple[int, ...]
    tags: tuple[str, ...]
    surface: str
    camera: str | None
    keeps: Keeps = "mean plane"
    re_aim: bool = False
    backing_m: float = 0.0
    most_px: int = ANY_PX
    bare: BareRoom | None = None

    @property
    def turns_depth(self) -> bool:
        """Whether a relief's depth is among what is swept."""
        return any(one.knob.key == "relief-depth" for one in self.ranges)

    def order(self) -> list[Wish]:
        """Steps in the order that reuses most: what is dear to change changes least often."""

        def dear(wish: Wish) -> tuple[int, ...]:
            return tuple(
                list(dict.fromkeys(w.values[i] for w in self.wishes)).index(wish.values[i])
                for i, one in enumerate(self.ranges)
                if one.knob.changes in ("reliefs", "room")
            )

        return sorted(self.wishes, key=lambda wish: (dear(wish), wish.index))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a step.

    Parameters
    ----------
    wish : Wish
        Which.
    key : str
        Digest of everything that it depends on; empty if it could not be built.
    fault : str
        Why it could not be built; empty if it could.
    files : mapping of str to bytes or None
        What to keep; None where it was finished before.
    """

    wish: Wish
    key: str = ""
    fault: str = ""
    files: dict[str, bytes] | None = None


def plan_sweep(
    scene_file: SceneFile,
    ranges: Sequence[Range],
    *,
    tags: Sequence[str] = (),
    camera: str | None = "front",
    keeps: Keeps = "mean plane",
    re_aim: bool = False,
    most_px: int = ANY_PX,
) -> Sweep:
    """Resolve a sweep.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    ranges : sequence of Range
        One or two.
    tags : sequence of str
        Runs to turn; none: all that light the first lit surface.
    camera : str or None
        Where to look from; "front" gives way to the scene's first camera where it has none.
    keeps : {"mean plane", "backing"}
        What stays while the relief's depth is swept: setbacks, or distances from the backing.
    re_aim : bool
        Aim every step at the wall's base instead of keeping the tilt.
    most_px : int
        Widest pictures.

    Raises
    ------
    InputError
        If no step could ever be built, or what is asked for contradicts itself.
    """
    runs = chosen_runs(scene_file, tags)
    tables = scene_file.tables
    keys = [one.knob.key for one in ranges]
    if re_aim and "tilt" in keys:
        raise InputError("--re-aim: the tilt is swept; it cannot follow the base as well.")
    for one in ranges:  # a knob that the scene does not have
        assignments(scene_file, runs, {one.knob.key: AGAINST})
    try:
        bare = build_bare_room(scene_file, quality_of(tables))
    except InputError:  # whoever builds the scene says what is wrong with it, and with its runs
        bare = None
    scene_file = aimed_runs(scene_file, runs, ranges, bare, re_aim=re_aim)
    least = least_setback(scene_file, runs, bare) if any(one.needs_least for one in ranges) else 0.0
    values = [expand(one, least) for one in ranges]
    said = [labels(one, found, least) for one, found in zip(ranges, values, strict=True)]
    wishes = tuple(
        Wish(index, tuple(v for v, _ in pairs), tuple(label for _, label in pairs))
        for index, pairs in enumerate(
            product(*(list(zip(v, s, strict=True)) for v, s in zip(values, said, strict=True)))
        )
    )
    if len(wishes) > MOST_STEPS:
        raise InputError(f"sweep: {len(wishes)} steps; {MOST_STEPS} at most. Take longer steps.")
    base = _first_built(scene_file, runs, ranges, wishes, bare)
    if camera is not None:
        names = [one.name for one in base.cameras]
        if camera == "front" and camera not in names:
            camera = names[0]
        if camera not in names:
            raise InputError(f"--camera {camera}: no such camera; there are {', '.join(names)}.")
    backing = 0.0
    if "relief-depth" in keys:
        wall = tables.relief[relief_index(scene_file, runs)].on
        backing = _backing(bare or build_bare_room(scene_file, quality_of(tables)), wall)
    return Sweep(
        scene_file,
        base,
        tuple(ranges),
        wishes,
        runs,
        tuple(base.runs[index].tag for index in runs),
        lit_surface(tables, tables.run[runs[0]]),
        camera,
        keeps,
        re_aim,
        backing,
        most_px,
        None if _turns_room(ranges) else bare,
    )


def sweep_steps(
    sweep: Sweep, finished: Callable[[str], bool], code: str = "", progress: Progress = quiet
) -> Iterator[Outcome]:
    """Light one step after the other.

    Parameters
    ----------
    sweep : Sweep
        From `plan_sweep`.
    finished : callable
        Whether the step of a key is kept already; it is then not lit again.
    code : str
        What else a step depends on: the program's own version.
    progress : callable
        Told what is done next.

    Yields
    ------
    Outcome
        In the order that reuses most. Only as many steps' arrays are in memory as cores light
        one each; reliefs that change are lit one after the other, each on all cores.
    """
    several = all(one.knob.changes != "reliefs" for one in sweep.ranges)
    yield from in_order(_jobs(sweep, finished, code, progress), several=several)


def _jobs(
    sweep: Sweep, finished: Callable[[str], bool], code: str, progress: Progress
) -> Iterator[Outcome | Callable[[Event], Outcome]]:
    """Each step's outcome where it is known, else a function that finds it."""
    bare = sweep.bare
    standing: tuple[Value, ...] | None = None if bare is None else ()
    left: list[Kept] = [Kept()]  # by the step that ended last; any other's gives the same light
    for number, wish in enumerate(sweep.order(), 1):
        what = f"{', '.join(wish.labels)} ({number} of {len(sweep.wishes)})"
        progress(f"{what}: building")
        try:
            at = tuple(
                value
                for one, value in zip(sweep.ranges, wish.values, strict=True)
                if one.knob.changes in ("reliefs", "room")
            )
            laid = laid_scene(sweep, wish)
            if bare is None or at != standing:
                bare, standing = build_bare_room(laid, quality_of(laid.tables)), at
            scene = _built(sweep, wish, laid, bare)
        except InputError as error:
            yield Outcome(wish, fault=error.faults[0])
            continue
        key = step_key(sweep, scene, code)
        if finished(key):
            yield Outcome(wish, key)
            continue

        def lit(
            stop: Event, wish: Wish = wish, key: str = key, scene: Scene = scene, what: str = what
        ) -> Outcome:
            def doing(words: str) -> None:
                if stop.is_set():
                    raise Stopped
                progress(f"{what}: {words}")

            step, picture, left[0] = light_step(
                scene, sweep.surface, _camera(sweep, scene), left[0], doing
            )
            return Outcome(wish, key, files=step_files(step, picture))

        yield lit


def step_key(sweep: Sweep, scene: Scene, code: str) -> str:
    """Digest of everything that a step's numbers and pixels depend on.

    That is the whole built scene, whatever a later version adds to it, less what only captions
    and the exposure use: those are read from the scene when the sweep is told.
    """
    told = {"name", "title", "tables", "cameras"}
    built = {f.name: getattr(scene, f.name) for f in fields(scene) if f.name not in told}
    stated = scene.tables.model_dump(mode="json", exclude={"title": True, "picture": {"ev100"}})
    camera = _camera(sweep, scene)
    return fingerprint(code, built, stated, measure_settings(scene), camera, sweep.surface)


def laid_scene(sweep: Sweep, wish: Wish) -> SceneFile:
    """The scene with a step's values laid over it.

    Raises
    ------
    InputError
        If a value cannot stand in the scene.
    """
    turned = {one.knob.key: v for one, v in zip(sweep.ranges, wish.values, strict=True)}
    return lay_values(sweep.scene_file, assignments(sweep.scene_file, sweep.runs, turned))


def _built(sweep: Sweep, wish: Wish, laid: SceneFile, bare: BareRoom) -> Scene:
    if sweep.turns_depth and sweep.keeps == "backing":
        wall = laid.tables.relief[relief_index(laid, sweep.runs)].on
        moved = sweep.backing_m - _backing(bare, wall)
        shifts: dict[str, Any] = {}
        for index in sweep.runs:
            setback = laid.tables.run[index].setback_m
            if isinstance(setback, float):
                shifts[f"run.{index + 1}.setback"] = f"{setback + moved:.12g} m"
        laid = lay_values(laid, shifts)
    return with_shading_notes(build_read_scene(laid, bare_room=bare))


def _backing(bare: BareRoom, wall: str) -> float:
    relief = bare.room.surface(wall).relief
    return 0.0 if relief is None else -relief.backing_m


def _camera(sweep: Sweep, scene: Scene) -> Camera | None:
    camera = next((one for one in scene.cameras if one.name == sweep.camera), None)
    if camera is None or camera.width_px <= sweep.most_px:
        return camera
    tall = round(camera.height_px * sweep.most_px / camera.width_px)
    return replace(camera, width_px=sweep.most_px, height_px=tall)


def _turns_room(ranges: Sequence[Range]) -> bool:
    """Whether anything that is swept changes more than the runs."""
    return any(one.knob.changes in ("reliefs", "room") for one in ranges)


def _first_built(
    scene_file: SceneFile,
    runs: Sequence[int],
    ranges: Sequence[Range],
    wishes: Sequence[Wish],
    bare: BareRoom | None,
) -> Scene:
    """The scene as it is, or its first step that can be built.

    Raises
    ------
    InputError
        If none can: what is wrong with the first step, which all of them share or have alike.
    """
    faults: tuple[str, ...] = ()
    for turned in (None, *wishes):
        laid = scene_file
        try:
            if turned is not None:
                keys = (one.knob.key for one in ranges)
                values = dict(zip(keys, turned.values, strict=True))
                laid = lay_values(scene_file, assignments(scene_file, runs, values))
            own = turned is not None and _turns_room(ranges)
            return build_read_scene(laid, bare_room=None if own else bare)
        except InputError as error:
            faults = error.faults if turned is None or not faults else faults
    raise InputError(*faults)
