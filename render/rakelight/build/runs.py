"""Runs: from wishes in a scene to lit lines in the room, or a refusal that says what works."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.cross_section import (
    Body2,
    Placement,
    beam_on_wall,
    cross_section_peak,
    landing,
    place,
)
from rakelight.build.groups import alike
from rakelight.build.lengths import Lengths, lay_out
from rakelight.build.orient import Orientation, orient
from rakelight.build.sources import photometry_of
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LitLine
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import RoomTable, RunTable
from rakelight.units import LengthUnit, say_angle, say_length

Floats = NDArray[np.float64]

OPPOSITE = {"main": "opposite", "opposite": "main", "left": "right", "right": "left"}
# A housing that is not stated: its size beyond the opening on each side, and its height. [m]
ASSUMED_RIM_M = 0.005
ASSUMED_HEIGHT_M = 0.040


@dataclass(frozen=True, slots=True, eq=False)
class BuiltRun:
    """A run with everything that geometry, light and tables need.

    Parameters
    ----------
    line : LitLine
        As the light sees it.
    plan : RunPlan
        As it is installed.
    lengths : Lengths
        Where it is lit.
    body : Body2
        Its cross-section.
    notes : tuple of str
        What was chosen, assumed or scaled.
    """

    line: LitLine
    plan: RunPlan
    lengths: Lengths
    body: Body2
    notes: tuple[str, ...]


def build_runs(scene_file: SceneFile, room: Room) -> tuple[BuiltRun, ...]:
    """Build every run of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    room : Room
        Its surfaces.

    Returns
    -------
    tuple of BuiltRun
        In the order of the scene; each plan's `line` indexes the lines of `groups.light_groups`.

    Raises
    ------
    InputError
        With one line for every run that cannot stand, lie or shine as stated.
    """
    built: list[BuiltRun] = []
    faults: list[str] = []
    read: dict[tuple[str, str], Intensity] = {}
    for index, table in enumerate(scene_file.tables.run):
        key = (table.photometry, str(scene_file.folder_of("run", index, "photometry")))
        try:
            if key not in read:
                read[key] = photometry_of(scene_file, index)
            built.append(_build_run(scene_file, index, read[key], room.surface(table.lights)))
        except InputError as error:
            faults.extend(fault for fault in error.faults if fault not in faults)
    if faults:
        raise InputError(*faults)
    # lines come group by group, so a run's place among them is known only now
    order = [i for group in alike([run.plan for run in built]).values() for i in group]
    return tuple(
        replace(run, plan=replace(run.plan, line=order.index(i))) for i, run in enumerate(built)
    )


def _build_run(scene_file: SceneFile, index: int, intensity: Intensity, wall: Surface) -> BuiltRun:
    table = scene_file.tables.run[index]
    room = scene_file.tables.room
    unit = scene_file.tables.units.length
    tag = table.tag or f"L{index + 1}"
    notes: list[str] = []

    orientation = _orientation(scene_file, index, intensity, notes)
    lengths = _lengths(scene_file, index, wall.grid.width_m, orientation.length_m)
    body = _body(table, orientation.width_m, notes, unit)
    placement = _placement(scene_file, index, intensity, orientation, body, wall)

    per_metre = 1.0 / orientation.length_m
    if table.lm_per_m is not None:
        own = intensity.lumens * per_metre
        per_metre *= table.lm_per_m / own
        notes.append(
            f"output and watts scaled by {table.lm_per_m / own:.3g}, from the file's "
            f"{own:.0f} lm/m to {table.lm_per_m:.0f} lm/m"
        )
    if lengths.dark_end_m > 1e-6 and table.count is None:
        notes.append(
            f"{lengths.count:.0f} x {say_length(lengths.luminaire_m, unit)} fit; "
            f"{say_length(lengths.dark_end_m, unit)} at the end stays dark"
        )
    line = _lit_line(tag, intensity, wall, room, table, orientation, lengths, placement, per_metre)
    plan = _plan(tag, table, room, wall, line, orientation, lengths, placement, body)
    said = tuple(f"run {tag}: {note}" for note in notes)
    return BuiltRun(line, plan, lengths, body, said)


def _orientation(
    scene_file: SceneFile, index: int, intensity: Intensity, notes: list[str]
) -> Orientation:
    table = scene_file.tables.run[index]
    unit = scene_file.tables.units.length
    found = orient(intensity, table.turn_rad)
    if table.lit_length_m is not None:
        notes.append(
            f"lit length {say_length(table.lit_length_m, unit)} as stated; "
            f"the file says {say_length(found.length_m, unit)}"
        )
        found = replace(found, length_m=table.lit_length_m)
    if table.lit_width_m is not None:
        notes.append(
            f"opening {say_length(table.lit_width_m, unit)} wide as stated; "
            f"the file says {say_length(found.width_m, unit)}"
        )
        found = replace(found, width_m=table.lit_width_m)
    if not found.length_m > 0:
        says = (
            f"{intensity.name} states no luminous length, so its light cannot be spread along "
            'a run. Give "lit_length", the length of the luminaire that was measured.'
        )
        raise InputError(stated_fault(scene_file.stated, ("run", index, "photometry"), says))
    how = "as stated" if table.turn_rad is not None else "chosen"
    c0 = math.degrees(math.remainder(found.c0_from_axis_rad, 2 * math.pi))
    points = {0: "to the right along the run", 90: "to the wall", -90: "away from the wall"}
    c0_words = points.get(
        round(c0),
        "to the left along the run" if abs(c0) > 179 else f"{c0:.0f} deg from the run's axis",
    )
    if found.toward_wall == 0:
        throw = "the file leans to no side"
    else:
        throw = f"it throws {'toward' if found.toward_wall > 0 else 'away from'} the wall"
    notes.append(
        f"{intensity.name}: turn in plan {say_angle(found.turn_rad)} {how}, C0 points "
        f"{c0_words}, {throw}"
    )
    return found


def _lengths(
    scene_file: SceneFile, index: int, wall_width_m: float, file_length_m: float
) -> Lengths:
    table = scene_file.tables.run[index]
    unit = scene_file.tables.units.length

    def refuse(key: str, says: str) -> InputError:
        return InputError(stated_fault(scene_file.stated, ("run", index, key), says))

    wide = f'the "{table.lights}" wall, which is {say_length(wall_width_m, unit)} wide'
    slack = 1e-9
    if table.start_m >= wall_width_m:
        raise refuse("start", f"beyond {wide}.")
    end = wall_width_m if table.end_m is None else table.end_m
    if end > wall_width_m + slack:
        raise refuse("end", f"beyond {wide}. Use that or less.")
    end = min(end, wall_width_m)
    try:
        return lay_out(
            table.start_m,
            end,
            count=table.count,
            length_m=table.length_m,
            gap_m=table.gap_m,
            file_length_m=file_length_m,
        )
    except ValueError as error:
        each = file_length_m if table.length_m is None else table.length_m
        fits = int(str(error))
        key = "count" if table.count is not None and fits else "length"
        with_gap = f" with {say_length(table.gap_m, unit)} between" if table.gap_m else ""
        right = f"Use {fits} or fewer." if fits else "Use shorter ones."
        raise refuse(
            key,
            f"longer than the {say_length(end - table.start_m, unit)} there are: luminaires of "
            f"{say_length(each, unit)}{with_gap} on {wide}. {right}",
        ) from None


def _body(table: RunTable, opening_m: float, notes: list[str], unit: LengthUnit) -> Body2:
    if table.housing is not None:
        return Body2(opening_m, table.housing.width_m, table.housing.height_m)
    body = Body2(opening_m, opening_m + 2 * ASSUMED_RIM_M, ASSUMED_HEIGHT_M)
    wide, high = say_length(body.housing_width_m, unit), say_length(body.housing_height_m, unit)
    notes.append(f"housing not stated: taken as {wide} wide and {high} high")
    return body


def _placement(
    scene_file: SceneFile,
    index: int,
    intensity: Intensity,
    orientation: Orientation,
    body: Body2,
    wall: Surface,
) -> Placement:
    table, room = scene_file.tables.run[index], scene_file.tables.room
    unit = scene_file.tables.units.length

    def refuse(key: str, says: str) -> InputError:
        return InputError(stated_fault(scene_file.stated, ("run", index, key), says))

    height = room.height_m - table.drop_m
    if height <= 0:
        raise refuse(
            "drop",
            f"at or below the floor; the room is {say_length(room.height_m, unit)} high.",
        )
    depth = _across_room(room, table.lights)
    highest = max(0.0, wall.relief.highest_m) if wall.relief is not None else 0.0
    found = place(
        None if table.setback_m == "against" else float(table.setback_m),
        table.tilt_rad,
        table.beam_aim_rad,
        file_peak_rad=cross_section_peak(intensity, orientation.across_in_file),
        body=body,
        highest_m=highest,
        opening_height_m=height,
    )
    least = say_length(found.least_setback_m, unit, rounding="up")
    clear = found.setback_m - highest - body.reach_m(found.tilt_rad)
    if found.setback_m >= depth:
        raise refuse(
            "setback",
            f"larger than the room, which is {say_length(depth, unit)} from the "
            f'"{table.lights}" wall to the one opposite. Use less, or "against" ({least}).',
        )
    if clear <= 0:
        if found.setback_m <= highest:
            what = f"inside the relief, which stands out {say_length(highest, unit)}"
        elif highest > 0:
            what = (
                f"the luminaire would touch the relief, which stands out "
                f"{say_length(highest, unit)}"
            )
        else:
            what = "the luminaire would touch the wall"
        raise refuse("setback", f'{what}. Use "against" ({least}) or more.')
    return found


def _lit_line(
    tag: str,
    intensity: Intensity,
    wall: Surface,
    room: RoomTable,
    table: RunTable,
    orientation: Orientation,
    lengths: Lengths,
    placement: Placement,
    per_metre: float,
) -> LitLine:
    axis, up, across = wall.frame.u, np.array([0.0, 0.0, 1.0]), -wall.frame.n
    cos, sin = math.cos(placement.tilt_rad), math.sin(placement.tilt_rad)
    nadir = -cos * up + sin * across
    toward = cos * across + sin * up
    c0 = orientation.c0_from_axis_rad
    start = float(lengths.lit_m[0, 0])
    origin = wall.frame.to_room(
        np.array([start, room.height_m - table.drop_m, placement.setback_m])
    )
    return LitLine(
        tag=tag,
        lights=wall.name,
        origin_m=origin,
        axis=axis.astype(np.float64),
        nadir=nadir,
        across=toward,
        c0=math.cos(c0) * axis + math.sin(c0) * toward,
        lit_m=lengths.lit_m - start,
        opening_width_m=orientation.width_m,
        intensity=intensity,
        per_metre=per_metre,
        watts_per_metre=intensity.watts * per_metre,
    )


def _plan(
    tag: str,
    table: RunTable,
    room: RoomTable,
    wall: Surface,
    line: LitLine,
    orientation: Orientation,
    lengths: Lengths,
    placement: Placement,
    body: Body2,
) -> RunPlan:
    height = room.height_m - table.drop_m
    highest = max(0.0, wall.relief.highest_m) if wall.relief is not None else 0.0
    backing = wall.relief.backing_m if wall.relief is not None else 0.0
    where, at = landing(
        placement.setback_m,
        height,
        placement.beam_aim_rad,
        across_room_m=_across_room(room, table.lights),
        room_height_m=room.height_m,
    )
    names = {"wall": table.lights, "far wall": OPPOSITE[table.lights]}
    return RunPlan(
        tag=tag,
        lights=table.lights,
        file=line.intensity.name,
        count=lengths.count,
        luminaire_m=lengths.luminaire_m,
        gap_m=table.gap_m,
        start_m=float(lengths.lit_m[0, 0]),
        end_m=float(lengths.lit_m[-1, 1]),
        lit_m=line.lit_length_m,
        lumens=line.lumens,
        watts=line.watts_per_metre * line.lit_length_m,
        setback_m=placement.setback_m,
        against=table.setback_m == "against",
        least_setback_m=placement.least_setback_m,
        clear_gap_m=placement.setback_m - highest - body.reach_m(placement.tilt_rad),
        backing_m=placement.setback_m - backing,
        drop_m=table.drop_m,
        lowest_edge_m=height - body.foot_m(placement.tilt_rad),
        tilt_rad=placement.tilt_rad,
        beam_aim_rad=placement.beam_aim_rad,
        peak_on=names.get(where, where),
        peak_at_m=at,
        beam_on_wall=beam_on_wall(
            line.intensity,
            orientation.across_in_file,
            placement,
            opening_height_m=height,
            room_height_m=room.height_m,
        ),
        turn_rad=orientation.turn_rad,
        throw_toward_wall=orientation.toward_wall,
        housing_width_m=body.housing_width_m,
        housing_height_m=body.housing_height_m,
        housing_stated=table.housing is not None,
        opening_width_m=orientation.width_m,
        dim=table.dim,
        maintenance=table.maintenance,
        cct_k=table.cct_k,
        zone=table.zone,
        circuit=table.circuit,
        note=table.note,
        line=-1,
    )


def _across_room(room: RoomTable, wall: str) -> float:
    return room.depth_m if wall in ("main", "opposite") else room.width_m
