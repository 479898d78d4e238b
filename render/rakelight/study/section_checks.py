"""What the sections of a scene's runs tell before anything is lit: warnings, and where eyes see."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.sight_lines import blocked
from rakelight.measure.cutoff_lines import CutOffLine
from rakelight.measure.getting_out import SHUT_IN, share_out
from rakelight.measure.section_cut import WALLS
from rakelight.measure.section_numbers import RunSection, place_on, run_section
from rakelight.measure.sight import EYES_M, NEAREST_EYE_M
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat, Scene
from rakelight.scene.surfaces import Body
from rakelight.units import LengthUnit, say_length

Floats = NDArray[np.float64]

#: A cut-off line this near to the corner that it is meant for is in it; ours. [m]
IN_THE_CORNER_M = 0.05
#: Eyes stand this far from each other on the floor plan. [m]
EYE_STEP_M = 0.3
#: Meshes of more triangles than this are left out of the look over the whole floor plan.
MOST_TRIANGLES = 400

#: Warnings about eyes of usual heights, anywhere in the room.
OF_USUAL_EYES = ("seen_past_screen", "no_screen_does_both")


def sections_of(scene: Scene) -> tuple[RunSection, ...]:
    """Section of every run, through its middle."""
    lines = scene.room.lines()
    return tuple(run_section(scene.room, plan, lines[plan.line]) for plan in scene.runs)


def with_section_warnings(scene: Scene) -> Scene:
    """Return the scene, its warnings followed by those of its sections, each once.

    Parameters
    ----------
    scene : Scene
        Built. Where it states eyes, they are the ones that warnings are about, and the heights
        that are usual elsewhere are numbers alone.
    """
    unit, usual = scene.length_unit, not scene.tables.eye
    found = [
        w
        for section in sections_of(scene)
        for w in section_warnings(section, unit)
        if usual or w.key not in OF_USUAL_EYES
    ]
    known = {(w.key, w.place, w.says) for w in scene.warnings}
    new = [w for w in found if (w.key, w.place, w.says) not in known]
    return replace(scene, warnings=(*scene.warnings, *new)) if new else scene


def section_warnings(section: RunSection, unit: LengthUnit) -> list[Caveat]:
    """Cut-off lines that miss their corner, and screens that do not hide or that cut the throw."""
    out = [w for line in section.cut_offs for w in _misses_corner(section, line, unit)]
    return _shut_in(section) + out + _screen_fails(section, unit)


def _shut_in(section: RunSection) -> list[Caveat]:
    if not any(s.blocks for s in section.cut.segments):
        return []
    share = share_out(section)
    if not share < SHUT_IN:
        return []
    behind = section.screen.thing if section.screen is not None else "what stands before it"
    amount = "no light gets out" if share < 0.005 else f"only {share:.0%} of its light gets out"
    says = f"shut in by {behind}: {amount} into what the room sees."
    return [Caveat("shut_in", f"run {section.plan.tag}", says)]


def place_words(section: RunSection, on: str, point_m: Floats, unit: LengthUnit) -> str:
    """Where on a surface something lands: height up a wall, distance from the wall on the rest."""
    length = say_length(place_on(section, on, point_m), unit)
    wall = section.cut.wall
    if section.cut.upright:
        if on == wall:
            return f"{length} from the left end of the {on} wall"
        return f"on the {surface_words(on)}, {length} from the {wall} wall"
    if on in WALLS:
        return f"{length} up the {on} wall"
    parts = [s for s in section.cut.segments if s.name == on]
    if any(abs(s.normal[0]) > abs(s.normal[1]) for s in parts):
        return f"on the {surface_words(on)}, {length} up"
    return f"on the {surface_words(on)}, {length} from the {wall} wall"


def surface_words(name: str) -> str:
    """A surface's name as people say it."""
    if name == "ceiling far":
        return "ceiling beyond the ridge"
    return f"{name} wall" if name in WALLS else name


def _misses_corner(section: RunSection, line: CutOffLine, unit: LengthUnit) -> list[Caveat]:
    if math.isnan(line.from_corner_m) or line.from_corner_m <= IN_THE_CORNER_M:
        return []
    place = place_words(section, line.on, line.lands_m, unit)
    away, soft = (say_length(v, unit) for v in (line.from_corner_m, line.softness_m))
    edge = say_length(line.edge_for_corner_m * float(section.cut.up[2]), unit)
    says = (
        f"{line.thing} ends the light {place}, {away} from the corner and soft over {soft}; with "
        f"its edge {edge} over the floor it would end in the corner."
    )
    return [Caveat("cut_off_line", f"run {section.plan.tag}", says)]


def _screen_fails(section: RunSection, unit: LengthUnit) -> list[Caveat]:
    screen, edges = section.screen, section.edges
    if screen is None or edges is None:
        return []
    lean = float(section.cut.up[2])

    def say(up_m: float) -> str:
        return say_length(up_m * lean, unit)

    hides, clears = edges.holds(screen.height_m)
    word, way = ("upper", "up") if screen.over else ("lower", "down")
    out: list[Caveat] = []
    place = f"run {section.plan.tag}"
    # an eye beside its own board or under it sees the opening whatever its height
    seen = [s for s in section.sights if s.seen_m]
    if seen and not hides:
        worst = max(seen, key=lambda s: sum(b - a for a, b in s.seen_m))
        spans = " and ".join(
            f"{say_length(a, unit)} to {say_length(b, unit)}" for a, b in worst.seen_m
        )
        can = (
            f"a board down to {say(edges.hides_m)} there would hide it"
            if screen.thing.startswith("slot")
            else f"its {word} edge, now {say(screen.height_m)} over the floor, hides it from "
            f"{say(edges.hides_m)} {way}"
            if edges.hides_m > 0
            else "no height of its edge hides it"
        )
        says = (
            f"an eye {say_length(worst.eye_m, unit)} over the floor sees the opening past "
            f"{screen.thing}, {spans} from the {section.cut.wall} wall; {can}."
        )
        out.append(Caveat("seen_past_screen", place, says))
    if not clears:
        says = (
            f"{screen.thing} cuts into the throw: its {word} edge is {say(screen.height_m)} over "
            f"the floor, and the half-peak line clears {'to' if screen.over else 'from'} "
            f"{say(edges.clears_m)}."
        )
        out.append(Caveat("cuts_the_throw", place, says))
    if not edges.possible and not (hides and clears):
        says = (
            f"no height of {screen.thing} both hides the opening ({say(edges.hides_m)} {way}) and "
            f"clears the throw ({'up' if screen.over else 'down'} to {say(edges.clears_m)}); move "
            "it, or aim the run otherwise."
        )
        out.append(Caveat("no_screen_does_both", place, says))
    return out


def eye_numbers(scene: Scene) -> tuple[Number, ...]:
    """From how much of the floor plan each opening is seen, and by each named eye.

    Notes
    -----
    Here eyes look from anywhere in the room, along the run too; a section's distances hold only
    square to it.
    """
    meshes = _meshes(scene)
    out: list[Number] = []
    for plan in scene.runs:
        line = scene.room.lines()[plan.line]
        points = _opening_points(line)
        wall = plan.lights if plan.lights in WALLS else plan.beside
        for height in EYES_M:
            eyes = _floor_eyes(scene, wall, height)
            if len(eyes):
                share = float(_seen(scene, points, line, eyes, meshes).mean())
                key = f"run.{plan.tag}.sight.{height * 1000:.0f}.plan_share"
                says = "share of the floor plan from where such an eye sees the opening"
                out.append(Number(key, share, "1", says))
        out += named_eye_numbers(scene, plan)
    return tuple(out)


def named_eye_numbers(scene: Scene, plan: RunPlan) -> tuple[Number, ...]:
    """Whether each of the scene's named eyes sees a run's opening, and from how far."""
    line = scene.room.lines()[plan.line]
    points, meshes = _opening_points(line), _meshes(scene)
    out: list[Number] = []
    for number, table in enumerate(scene.tables.eye):
        name = table.name or f"E{number + 1}"
        eye = np.array([[*table.at_m, table.height_m]])
        sees = float(_seen(scene, points, line, eye, meshes)[0])
        away = float(np.linalg.norm(points - eye, axis=1).min())
        key = f"run.{plan.tag}.sight.eye.{name}"
        out += [
            Number(f"{key}.seen", sees, "1", f"whether {name} sees the opening"),
            Number(f"{key}.away_m", away, "m", "and how far it is"),
        ]
    return tuple(out)


def _meshes(scene: Scene) -> list[Body]:
    """Bodies from files, unless so fine that looking past them would take minutes."""
    meshes = [b for b in scene.room.bodies if b.kind == "mesh"]
    return meshes if sum(len(b.faces) for b in meshes) <= MOST_TRIANGLES else []


def _floor_eyes(scene: Scene, wall: str, height_m: float) -> Floats:
    room = scene.tables.room
    x, y = (np.arange(EYE_STEP_M / 2, size, EYE_STEP_M) for size in (room.width_m, room.depth_m))
    grid = np.array([[a, b, height_m] for a in x for b in y])
    if wall in WALLS:
        frame = scene.room.surface(wall).frame
        grid = grid[frame.from_room(grid)[:, 2] >= NEAREST_EYE_M]
    return grid


def _opening_points(line: LitLine, along: int = 7, across: int = 3) -> Floats:
    shares = (np.arange(along) + 0.5) / along
    reach = np.cumsum(line.lit_m[:, 1] - line.lit_m[:, 0])
    at = shares * reach[-1]
    which = np.searchsorted(reach, at)
    u = line.lit_m[which, 1] - (reach[which] - at)
    side = ((np.arange(across) + 0.5) / across - 0.5) * line.opening_width_m
    points = (
        line.origin_m
        + u[:, None, None] * line.axis
        + side[None, :, None] * line.across
        + 1e-4 * line.facing
    )
    out: Floats = points.reshape(-1, 3)
    return out


def _seen(
    scene: Scene, points: Floats, line: LitLine, eyes: Floats, meshes: Sequence[Body]
) -> NDArray[np.bool_]:
    starts = np.repeat(eyes, len(points), axis=0)
    ends = np.tile(points, (len(eyes), 1))
    looks = (starts - ends) @ line.facing > 1e-3
    seen = np.zeros(len(starts), np.bool_)
    if looks.any():
        faces = scene.room.surfaces
        seen[looks] = ~blocked(ends[looks], starts[looks], faces, meshes)
    out: NDArray[np.bool_] = np.any(seen.reshape(len(eyes), -1), axis=1)
    return out
