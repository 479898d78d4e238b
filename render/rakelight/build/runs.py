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
from rakelight.build.hanging import ceiling_over, hang, least_of, lowest_edge, peak_lands
from rakelight.build.lengths import Lengths
from rakelight.build.mounting import Mount, Unmountable, lights_of, mount_run
from rakelight.build.openings import Cut
from rakelight.build.orient import Orientation, rises
from rakelight.build.run_parts import body_of, lengths_of, orientation_of
from rakelight.build.setting import check_setting
from rakelight.build.shell import FACING, across_m
from rakelight.build.slots import slot_of
from rakelight.build.sources import photometry_of
from rakelight.build.standing import Standing
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LitLine
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import RoomTable, RunTable
from rakelight.units import say_length

Floats = NDArray[np.float64]


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
        Where it is lit, counted along the line's axis.
    body : Body2
        Its cross-section.
    notes : tuple of str
        What was chosen, assumed or scaled.
    slot : Cut or None
        The slot in the ceiling that it is up in.
    """

    line: LitLine
    plan: RunPlan
    lengths: Lengths
    body: Body2
    notes: tuple[str, ...]
    slot: Cut | None = None


def build_runs(
    scene_file: SceneFile, room: Room, standing: tuple[Standing, ...] = ()
) -> tuple[BuiltRun, ...]:
    """Build every run of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    room : Room
        Its surfaces.
    standing : tuple of Standing
        What runs may lie on.

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
            built.append(_build_run(scene_file, index, read[key], room, standing))
        except InputError as error:
            faults.extend(fault for fault in error.faults if fault not in faults)
        except Unmountable as fault:
            said = stated_fault(scene_file.stated, ("run", index, fault.key), fault.says)
            faults.append(said)
    if faults:
        raise InputError(*faults)
    # lines come group by group, so a run's place among them is known only now
    order = [i for group in alike([run.plan for run in built]).values() for i in group]
    return tuple(
        replace(run, plan=replace(run.plan, line=order.index(i))) for i, run in enumerate(built)
    )


def _build_run(
    scene_file: SceneFile,
    index: int,
    intensity: Intensity,
    room: Room,
    standing: tuple[Standing, ...],
) -> BuiltRun:
    table = scene_file.tables.run[index]
    sizes = scene_file.tables.room
    unit = scene_file.tables.units.length
    tag = table.tag or f"L{index + 1}"
    notes: list[str] = []

    mount, base = mount_run(table, room, sizes, standing)
    lights = table.lights if base is not None and base.kind == "fascia" else lights_of(table)
    lit = room.surface(lights)
    if lights == "ceiling" and rises(intensity):
        mount = replace(mount, rest_rad=0.0)  # measured as it is mounted
    orientation = orientation_of(scene_file, index, intensity, mount, notes)
    lengths = lengths_of(scene_file, index, mount, orientation.length_m)
    body = replace(body_of(table, orientation.width_m, notes, unit), rises=rises(intensity))
    placement, height = _placement(
        scene_file, index, intensity, orientation, body, room, mount, base, lengths
    )
    check_setting(table, placement, mount.rest_rad)
    slot = slot_of(table, tag, room, sizes, mount, placement, body, height, lengths, unit)

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
    line = _lit_line(tag, intensity, lit, mount, orientation, lengths, placement, height, per_metre)
    along = f"{base.kind} {base.tag}" if base is not None else table.along
    plan = _plan(
        tag,
        table,
        sizes,
        room,
        lit,
        line,
        mount,
        along,
        orientation,
        lengths,
        placement,
        height,
        body,
    )
    plan = replace(plan, in_slot=slot is not None)
    said = tuple(f"run {tag}: {note}" for note in notes)
    counted = lengths if mount.forward else lengths.from_end()
    return BuiltRun(line, plan, counted, body, said, slot)


def _highest(room: Room, mount: Mount) -> float:
    wall = room.surface(mount.beside)
    return max(0.0, wall.relief.highest_m) if wall.relief is not None else 0.0


def _placement(
    scene_file: SceneFile,
    index: int,
    intensity: Intensity,
    orientation: Orientation,
    body: Body2,
    room: Room,
    mount: Mount,
    base: Standing | None,
    lengths: Lengths,
) -> tuple[Placement, float]:
    table, sizes = scene_file.tables.run[index], scene_file.tables.room
    unit = scene_file.tables.units.length

    def refuse(key: str, says: str) -> InputError:
        return InputError(stated_fault(scene_file.stated, ("run", index, key), says))

    highest = _highest(room, mount)
    peak = cross_section_peak(intensity, orientation.across_in_file)
    reach = body.reach_back_m if mount.kind == "out" else body.reach_m
    tilt = table.tilt_rad
    if tilt is None and table.beam_aim_rad is None:
        tilt = mount.rest_rad
    if table.beam_aim_rad == "base" and mount.kind in ("out", "free"):
        says = f"there is no foot of a wall to aim at: it lights the {lights_of(table)}."
        raise refuse("beam_aim", says)
    setback, off_base = least_of(table, mount, base, sizes)

    def placed(height: float) -> Placement:
        down = mount.reach_m if mount.kind == "upright" else height
        found = place(
            setback, tilt, table.beam_aim_rad, file_peak_rad=peak, body=body,
            highest_m=highest, opening_height_m=down, reach=reach,
        )  # fmt: skip
        return found

    found, height = hang(table, sizes, mount, base, body, lengths, placed, unit)
    least = say_length(found.least_setback_m, unit, rounding="up")
    clear = found.setback_m - highest - reach(found.tilt_rad)
    if found.setback_m >= mount.depth_m:
        raise refuse(
            "setback",
            f"larger than the room, which is {say_length(mount.depth_m, unit)} from the "
            f'"{mount.beside}" wall to the one opposite. Use less, or "against" ({least}).',
        )
    if mount.kind == "free":
        if clear <= 0:
            raise refuse("from", f"the luminaire would touch the {mount.beside} surface.")
        return found, height
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
        if off_base:
            what += ", counted from the wall"
        raise refuse("setback", f'{what}. Use "against" ({least}) or more.')
    return found, height


def _lit_line(
    tag: str,
    intensity: Intensity,
    lit: Surface,
    mount: Mount,
    orientation: Orientation,
    lengths: Lengths,
    placement: Placement,
    height: float,
    per_metre: float,
) -> LitLine:
    axis, up, across = mount.axis, mount.up, mount.across
    cos, sin = math.cos(placement.tilt_rad), math.sin(placement.tilt_rad)
    nadir = -cos * up + sin * across
    toward = cos * across + sin * up
    c0 = orientation.c0_from_axis_rad
    counted = lengths if mount.forward else lengths.from_end()
    start = float(lengths.lit_m[0, 0] if mount.forward else lengths.lit_m[-1, 1])
    return LitLine(
        tag=tag,
        lights=lit.name,
        origin_m=mount.point_m(start, placement.setback_m, height),
        axis=axis.astype(np.float64),
        nadir=nadir,
        across=toward,
        c0=math.cos(c0) * axis + math.sin(c0) * toward,
        lit_m=counted.lit_m - counted.lit_m[0, 0],
        opening_width_m=orientation.width_m,
        intensity=intensity,
        per_metre=per_metre,
        watts_per_metre=intensity.watts * per_metre,
        rises=rises(intensity),
    )


def _plan(
    tag: str,
    table: RunTable,
    sizes: RoomTable,
    room: Room,
    lit: Surface,
    line: LitLine,
    mount: Mount,
    along: str,
    orientation: Orientation,
    lengths: Lengths,
    placement: Placement,
    height: float,
    body: Body2,
) -> RunPlan:
    highest = _highest(room, mount)
    wall = room.surface(mount.beside)
    backing = wall.relief.backing_m if wall.relief is not None else 0.0
    reach = body.reach_back_m if mount.kind == "out" else body.reach_m
    over = ceiling_over(sizes, mount, placement.setback_m, lengths)
    plain = mount.kind == "wall" and sizes.ceiling is None
    if plain:
        where, at = landing(
            placement.setback_m,
            height,
            placement.beam_aim_rad,
            across_room_m=across_m(sizes, mount.beside),
            room_height_m=sizes.height_m,
        )
        where = {"wall": mount.beside, "far wall": FACING[mount.beside]}.get(where, where)
    else:
        where, at = peak_lands(room, mount, line, placement)
    gap = table.gap_m
    if table.spacing_m is not None:
        gap = max(0.0, table.spacing_m - lengths.luminaire_m)
    middle = line.origin_m + line.axis * float(line.lit_m[-1, 1]) / 2
    return RunPlan(
        tag=tag,
        lights=lit.name,
        file=line.intensity.name,
        count=lengths.count,
        luminaire_m=lengths.luminaire_m,
        gap_m=gap,
        start_m=float(lengths.lit_m[0, 0]),
        end_m=float(lengths.lit_m[-1, 1]),
        lit_m=line.lit_length_m,
        lumens=line.lumens,
        watts=line.watts_per_metre * line.lit_length_m,
        setback_m=placement.setback_m,
        against=table.setback_m == "against",
        least_setback_m=placement.least_setback_m,
        clear_gap_m=placement.setback_m - highest - reach(placement.tilt_rad),
        backing_m=placement.setback_m - backing,
        drop_m=table.drop_m if plain and _drop_holds(table) else over - height,
        lowest_edge_m=lowest_edge(mount, line, body, placement, height),
        tilt_rad=placement.tilt_rad,
        beam_aim_rad=placement.beam_aim_rad,
        peak_on=where,
        peak_at_m=at,
        beam_on_wall=beam_on_wall(
            line.intensity,
            orientation.across_in_file,
            placement,
            opening_height_m=height,
            room_height_m=sizes.height_m,
        )
        if plain
        else 1.0,
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
        along=along,
        beside=mount.beside,
        kind=mount.kind,
        height_m=float(middle[2]),
        span_m=mount.length_m,
        click_rad=(table.adjust.click_rad or 0.0) if table.adjust is not None else 0.0,
    )


def _drop_holds(table: RunTable) -> bool:
    """Whether the stated or usual drop is where the run hangs."""
    sets_own = table.flush or table.slot is not None or table.on or table.along != "ceiling"
    return table.height_m is None and ("drop_m" in table.model_fields_set or not sets_own)
