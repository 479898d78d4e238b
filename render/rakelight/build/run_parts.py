"""The parts of a run, from what its table states: file, lengths, housing."""

import math
from dataclasses import replace

from rakelight.build.cross_section import Body2
from rakelight.build.lengths import Lengths, lay_out
from rakelight.build.mounting import Mount, lights_of
from rakelight.build.orient import Orientation, orient
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.intensity import Intensity
from rakelight.scene.tables import RunTable
from rakelight.units import LengthUnit, say_angle, say_length

# A housing that is not stated: its size beyond the opening on each side, and its height. [m]
ASSUMED_RIM_M = 0.005
ASSUMED_HEIGHT_M = 0.040


def orientation_of(
    scene_file: SceneFile, index: int, intensity: Intensity, mount: Mount, notes: list[str]
) -> Orientation:
    """Place a run's file in it, with the sizes that the scene states."""
    table = scene_file.tables.run[index]
    unit = scene_file.tables.units.length
    tilt = mount.rest_rad if table.tilt_rad is None else table.tilt_rad
    found = orient(intensity, table.turn_rad, upside_down=math.cos(tilt) < -1e-9)
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
    said = (
        f"{intensity.name}: turn in plan {say_angle(found.turn_rad)} {how}, C0 points "
        f"{c0_words}, {throw}"
    )
    if lights_of(table) in ("ceiling", "floor"):
        said = said.replace("the wall", "the side it lights")
    notes.append(said)
    return found


def lengths_of(scene_file: SceneFile, index: int, mount: Mount, file_length_m: float) -> Lengths:
    """Lay a run's luminaires out, or refuse what does not fit."""
    table = scene_file.tables.run[index]
    unit = scene_file.tables.units.length

    def refuse(key: str, says: str) -> InputError:
        return InputError(stated_fault(scene_file.stated, ("run", index, key), says))

    span = mount.length_m
    wide = f'the "{mount.beside}" wall, which is {say_length(span, unit)} wide'
    if mount.kind == "upright":
        wide = f'the "{mount.beside}" wall, which is {say_length(span, unit)} high there'
    elif mount.kind == "free":
        wide = f"the way from point to point, which is {say_length(span, unit)}"
    slack = 1e-9
    if table.start_m >= span:
        raise refuse("start", f"beyond {wide}.")
    end = span if table.end_m is None else table.end_m
    if end > span + slack:
        raise refuse("end", f"beyond {wide}. Use that or less.")
    end = min(end, span)
    each = file_length_m if table.length_m is None else table.length_m
    gap = table.gap_m
    length = table.length_m
    if table.spacing_m is not None:
        gap, length = table.spacing_m - each, each
        if gap < -slack:
            raise refuse(
                "spacing",
                f"less than the luminaires' own {say_length(each, unit)}; they would overlap.",
            )
        gap = max(gap, 0.0)
    try:
        return lay_out(
            table.start_m,
            end,
            count=table.count,
            length_m=length,
            gap_m=gap,
            file_length_m=file_length_m,
            centred=table.centred,
        )
    except ValueError as error:
        fits = int(str(error))
        key = "count" if table.count is not None and fits else "length"
        with_gap = f" with {say_length(gap, unit)} between" if gap else ""
        right = f"Use {fits} or fewer." if fits else "Use shorter ones."
        raise refuse(
            key,
            f"longer than the {say_length(end - table.start_m, unit)} there are: luminaires of "
            f"{say_length(each, unit)}{with_gap} on {wide}. {right}",
        ) from None


def body_of(table: RunTable, opening_m: float, notes: list[str], unit: LengthUnit) -> Body2:
    """A run's cross-section, as stated or assumed."""
    stated = table.housing
    if stated is not None:
        return Body2(opening_m, stated.width_m, stated.height_m, stated.opening_m, stated.recess_m)
    body = Body2(opening_m, opening_m + 2 * ASSUMED_RIM_M, ASSUMED_HEIGHT_M)
    wide, high = say_length(body.housing_width_m, unit), say_length(body.housing_height_m, unit)
    notes.append(f"housing not stated: taken as {wide} wide and {high} high")
    return body
