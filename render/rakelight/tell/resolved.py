"""A scene as it was understood: every key with its default, every run as it stands."""

import math
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from pydantic import BaseModel

from rakelight.read.faults import key_of
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Scene
from rakelight.scene.tables import WALLS
from rakelight.units import (
    IlluminanceUnit,
    LengthUnit,
    say_angle,
    say_illuminance,
    say_length,
    say_number,
)


def say_value(name: str, value: Any, length: LengthUnit, illuminance: IlluminanceUnit) -> str:
    """Write a field's value as it could stand in a scene.

    Parameters
    ----------
    name : str
        The field's name; its ending tells the unit.
    value : object
        SI, text, number, truth value, or a tuple of these.
    length, illuminance : str
        Units to write in.
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        inner = (say_value(name, v, length, illuminance) for v in value)
        return f"[{', '.join(inner)}]"
    if name.endswith("_m") and not name.endswith("_per_m"):
        # a mesh step of 2.5 mm must not be said as 0.003 m
        fine = 0 < abs(value) < 0.01
        return f'"{value * 1000:g} mm"' if fine else f'"{say_length(value, length)}"'
    if name.endswith("_rad"):
        return f'"{say_angle(value)}"'
    if name.endswith("_lx"):
        return f'"{say_illuminance(value, illuminance)}"'
    if name.endswith("_k"):
        return f'"{value:.0f} K"'
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def resolved_text(scene: Scene) -> str:
    """Return the scene with every default, its runs, notes and warnings, as plain text.

    Parameters
    ----------
    scene : Scene
        Built.
    """
    out = [scene.title, "=" * len(scene.title), ""]
    for name, value in _tables(scene):
        out += _table_lines(name, value, scene)
    out.append("# finishes as used: mean reflectance (linear red, green, blue), other light")
    for built in scene.room.surfaces:
        rgb = ", ".join(f"{v:.3f}" for v in built.reflectance_rgb)
        other = say_illuminance(built.other_light_lx, scene.illuminance_unit)
        relief = ""
        if built.relief is not None:
            highest = say_length(built.relief.highest_m, scene.length_unit)
            relief = f", {built.relief.name}, stands out {highest} from the mean plane"
        out.append(f"{built.name}: {rgb}; {other}{relief}")
    out += ["", "# cameras: eye (right, toward the main wall, up), lens"]
    for camera in scene.cameras:
        eye = ", ".join(say_length(float(v), scene.length_unit) for v in camera.eye_m)
        size = f"{camera.width_px} x {camera.height_px}"
        out.append(f"{camera.name}: {eye}; {camera.lens_mm:.0f} mm; {size}")
    for plan in scene.runs:
        out += ["", *run_lines(plan, scene.length_unit)]
    if scene.notes:
        out += ["", "Notes", *(f"- {note}" for note in scene.notes)]
    out += ["", *warning_lines(scene)]
    return "\n".join(out) + "\n"


def warning_lines(scene: Scene) -> list[str]:
    """Return a heading and one line for each warning, or a line that says there is none."""
    if not scene.warnings:
        return ["No warnings."]
    return ["Warnings", *(f"- {w.place}: {w.says}" for w in scene.warnings)]


def run_lines(plan: RunPlan, unit: LengthUnit) -> list[str]:
    """Return a run as it is installed, one fact a line.

    Parameters
    ----------
    plan : RunPlan
        The run.
    unit : {"m", "mm", "ft", "in"}
        Unit of lengths.
    """

    def say(length_m: float) -> str:
        return say_length(length_m, unit)

    count = f"{plan.count:.0f}" if plan.count == round(plan.count) else f"{plan.count:.2f}"
    gap = f", gaps {say(plan.gap_m)}" if plan.gap_m else ""
    watts = "watts not stated by the file" if math.isnan(plan.watts) else f"{plan.watts:.0f} W"
    if plan.peak_on.startswith(("floor", "ceiling")):
        lands = f"{say(plan.peak_at_m)} from the wall on the {plan.peak_on}"
    else:
        lands = f"{say(plan.peak_at_m)} up the {plan.peak_on} wall"
    against = " (against)" if plan.against else ""
    return [
        f"Run {plan.tag}, {plan.file}, lights {plan.lights}",
        f"  {count} x {say(plan.luminaire_m)}{gap}; lit {say(plan.lit_m)} from "
        f"{say(plan.start_m)} to {say(plan.end_m)}",
        f"  {say_number(plan.lumens)} lm, {watts} at full output; dim {plan.dim:g}, maintenance "
        f"{plan.maintenance:g}, {plan.cct_k:.0f} K",
        f"  setback {say(plan.setback_m)}{against}: clear gap to the highest point "
        f"{say(plan.clear_gap_m)}, backing to centreline {say(plan.backing_m)}; least "
        f"{say_length(plan.least_setback_m, unit, rounding='up')}",
        f"  {_hangs(plan, say)}lowest edge at {say(plan.lowest_edge_m)}",
        f"  tilt {say_angle(plan.tilt_rad)}, beam aim {say_angle(plan.beam_aim_rad)}: the peak "
        f"lands {lands}",
    ]


def _hangs(plan: RunPlan, say: Callable[[float], str]) -> str:
    """Where it hangs, stands or lies, before its lowest edge."""
    if plan.kind == "upright":
        return f"upright from {say(plan.start_m)} to {say(plan.end_m)} over the floor, "
    words = f"drop {say(plan.drop_m)}"
    if plan.kind == "wall" and plan.along == "ceiling":
        return f"{words}, "
    beside = f" beside the {plan.beside} wall" if plan.beside in WALLS else ""
    return f"{plan.along}{beside}, opening at {say(plan.height_m)}, {words}, "


def resolved_record(scene: Scene) -> dict[str, Any]:
    """Return the scene for machines: SI, field names with their units, every digit.

    Parameters
    ----------
    scene : Scene
        Built.
    """
    return {
        "name": scene.name,
        "title": scene.title,
        "tables": scene.tables.model_dump(mode="json"),
        "surfaces": [
            {
                "name": surface.name,
                "reflectance_rgb": surface.reflectance_rgb.tolist(),
                "other_light_lx": surface.other_light_lx,
                "relief": surface.relief.name if surface.relief is not None else None,
                "highest_m": surface.relief.highest_m if surface.relief is not None else 0.0,
            }
            for surface in scene.room.surfaces
        ],
        "cameras": [
            {
                "name": camera.name,
                "eye_m": camera.eye_m.tolist(),
                "forward": camera.forward.tolist(),
                "up": camera.up.tolist(),
                "lens_mm": camera.lens_mm,
                "shift_mm": camera.shift_mm,
                "width_px": camera.width_px,
                "height_px": camera.height_px,
            }
            for camera in scene.cameras
        ],
        "runs": [_finite(asdict(plan)) for plan in scene.runs],
        "notes": list(scene.notes),
        "warnings": [asdict(warning) for warning in scene.warnings],
    }


def _finite(record: dict[str, Any]) -> dict[str, Any]:
    """Replace NaN, which JSON has not, by null."""
    return {
        key: None if isinstance(value, float) and math.isnan(value) else value
        for key, value in record.items()
    }


def _tables(scene: Scene) -> list[tuple[str, Any]]:
    tables = scene.tables
    return [(name, getattr(tables, name)) for name in type(tables).model_fields]


def _table_lines(name: str, value: Any, scene: Scene) -> list[str]:
    if isinstance(value, BaseModel):
        return [*_one_table(f"[{name}]", value, scene), ""]
    if isinstance(value, tuple):
        out: list[str] = []
        for item in value:
            out += [*_one_table(f"[[{name}]]", item, scene), ""]
        return out
    return [] if value in (None, "") else [f'{name} = "{value}"', ""]


def _one_table(title: str, table: BaseModel, scene: Scene) -> list[str]:
    out = [title]
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        key = key_of(name, field)
        if isinstance(value, BaseModel):
            if value.model_fields_set:
                out += [f"{key}.{line}" for line in _one_table("", value, scene)[1:]]
            continue
        if value is None or value == "":
            continue
        said = say_value(name, value, scene.length_unit, scene.illuminance_unit)
        mark = "" if name in table.model_fields_set else "  # default"
        out.append(f"{key} = {said}{mark}")
    return out if len(out) > 1 else [f"{title}  # nothing stated"]
