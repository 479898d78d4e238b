"""Tables out: the meter grid, the runs and all numbers, as bytes that never differ."""

import csv
import io
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from rakelight.measure.ceiling_profile import CeilingProfile
from rakelight.measure.grid import MeterGrid
from rakelight.measure.profile import Profile
from rakelight.measure.texture import Texture
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.shown import Units, say, state_of
from rakelight.units import LX_PER_FC, say_angle, say_length, say_number

if TYPE_CHECKING:
    from rich.table import Table


def meter_grid_csv(grid: MeterGrid, units: Units, state: str) -> bytes:
    """Meter grid, one point a line, from the foot up and from the left.

    Parameters
    ----------
    grid : MeterGrid
        The readings.
    units : Units
        The reader's.
    state : str
        ``initial`` or ``maintained ...`` (`shown.state_of`).
    """
    per = LX_PER_FC if units.illuminance == "fc" else 1.0
    head = ("point", "from left", "up from foot", f"illuminance {units.illuminance}", "state")
    rows = [
        (
            str(i),
            say_length(u, units.length),
            say_length(v, units.length),
            say_number(lx / per),
            state,
        )
        for i, (u, v, lx) in enumerate(grid.rows(), start=1)
    ]
    return _csv([head, *rows])


def across_csv(profile: CeilingProfile, units: Units) -> bytes:
    """Light across a ceiling, one place a line from the wall beside the run to the far one.

    Parameters
    ----------
    profile : CeilingProfile
        In the run's section.
    units : Units
        The reader's.
    """
    per = LX_PER_FC if units.illuminance == "fc" else 1.0
    head = [
        "distance from the wall",
        f"all light {units.illuminance}",
        f"this run's direct light {units.illuminance}",
    ]
    columns = [profile.lx, profile.own_lx]
    if profile.bounced_lx.size:
        head.append(f"reflected {units.illuminance}")
        columns.append(profile.bounced_lx)
    rows = [
        [
            say_length(float(profile.out_m[i]), units.length),
            *(say_number(float(column[i]) / per) for column in columns),
        ]
        for i in range(profile.out_m.size)
    ]
    return _csv([head, *rows])


def by_height_csv(profile: Profile, texture: Texture, units: Units) -> bytes:
    """Light and texture by height, one band a line from the foot up: the drama chart's data.

    Parameters
    ----------
    profile : Profile
        Illuminance by height.
    texture : Texture
        Of the same surface, with the same bands.
    units : Units
        The reader's.

    Raises
    ------
    ValueError
        If the two have different bands.
    """
    if profile.v_m.shape != texture.v_m.shape:
        raise ValueError(f"{profile.v_m.size} bands of light, {texture.v_m.size} of texture")
    per = LX_PER_FC if units.illuminance == "fc" else 1.0
    head = (
        "height",
        f"mean plane {units.illuminance}",
        f"relief {units.illuminance}",
        "texture modulation cd/m2",
        "over the wall's mean",
        "RMS contrast",
        "share in shadow",
    )
    rows = [
        (
            say_length(float(profile.v_m[i]), units.length),
            say_number(float(profile.flat_lx[i]) / per),
            say_number(float(profile.relief_lx[i]) / per),
            f"{texture.modulation_cd_m2[i]:.2f}",
            f"{texture.over_mean[i]:.3f}",
            f"{texture.contrast[i]:.3f}",
            f"{texture.shadow[i]:.3f}",
        )
        for i in range(profile.v_m.size)
    ]
    return _csv([head, *rows])


# Heading and cell of the run table, in its order: one line here is one column.
RUN_COLUMNS: tuple[tuple[str, Callable[[RunPlan, Units], str]], ...] = (
    ("tag", lambda p, u: _text(p.tag)),
    ("lights", lambda p, u: _text(p.lights)),
    ("photometric file", lambda p, u: _text(p.file)),
    ("count", lambda p, u: _count(p.count)),
    ("lit length each", lambda p, u: say_length(p.luminaire_m, u.length)),
    ("gap", lambda p, u: say_length(p.gap_m, u.length)),
    ("starts at", lambda p, u: say_length(p.start_m, u.length)),
    ("ends at", lambda p, u: say_length(p.end_m, u.length)),
    ("lit length", lambda p, u: say_length(p.lit_m, u.length)),
    ("lm", lambda p, u: say_number(p.lumens)),
    ("W", lambda p, u: _known(p.watts)),
    ("lm/W", lambda p, u: _known(p.lumens / p.watts if p.watts > 0 else math.nan)),
    ("setback", lambda p, u: say_length(p.setback_m, u.length)),
    ("set against", lambda p, u: "yes" if p.against else "no"),
    ("least setback", lambda p, u: say_length(p.least_setback_m, u.length, rounding="up")),
    ("clear gap to highest point", lambda p, u: say_length(p.clear_gap_m, u.length)),
    ("backing to centreline", lambda p, u: say_length(p.backing_m, u.length)),
    ("drop", lambda p, u: say_length(p.drop_m, u.length)),
    ("lowest edge over floor", lambda p, u: say_length(p.lowest_edge_m, u.length)),
    ("tilt", lambda p, u: say_angle(p.tilt_rad)),
    ("beam aim", lambda p, u: say_angle(p.beam_aim_rad)),
    ("peak lands on", lambda p, u: p.peak_on),
    ("peak lands at", lambda p, u: say_length(p.peak_at_m, u.length)),
    ("turn in plan", lambda p, u: say_angle(p.turn_rad)),
    ("housing", lambda p, u: _housing(p, u)),
    ("opening width", lambda p, u: say_length(p.opening_width_m, u.length)),
    ("dim %", lambda p, u: say_number(100 * p.dim)),
    ("maintenance", lambda p, u: f"{p.maintenance:g}"),
    ("CCT K", lambda p, u: f"{p.cct_k:.0f}"),
    ("zone", lambda p, u: _text(p.zone)),
    ("circuit", lambda p, u: _text(p.circuit)),
    ("note", lambda p, u: _text(p.note)),
)


def run_table_csv(plans: Sequence[RunPlan], units: Units) -> bytes:
    """Run table, one run a line: what to install, where, how it is aimed."""
    head = tuple(title for title, _ in RUN_COLUMNS)
    return _csv([head, *(tuple(cell(p, units) for _, cell in RUN_COLUMNS) for p in plans)])


def numbers_csv(numbers: Iterable[Number], units: Units) -> bytes:
    """Write all numbers in the reader's units, one a line."""
    head = ("key", "value", "what it is")
    return _csv([head, *((n.key, say(n, units), n.says) for n in numbers)])


def numbers_json(
    scene: str,
    numbers: Iterable[Number],
    plans: Sequence[RunPlan] = (),
    groups: Sequence[LightGroup] = (),
    *,
    more: Mapping[str, Any] | None = None,
) -> bytes:
    """All numbers in SI with every digit, and the resolved runs to recompute the light from.

    Parameters
    ----------
    scene : str
        Its name.
    numbers : iterable of Number
        In the order to write.
    plans : sequence of RunPlan
        For the state and the runs' facts.
    groups : sequence of LightGroup
        The runs as lit: with them each run's frame and candela per metre are written.
    more : mapping, optional
        Further entries, made of plain values; they stand before the numbers.

    Notes
    -----
    JSON knows no infinity: such a value is null, and `value_is` says ``no limit`` or
    ``unknown``.
    """
    document: dict[str, Any] = {
        "scene": scene,
        "units": "SI; angles in degrees where a key ends in _deg",
        "illuminance_is": state_of(plans),
        **(more or {}),
        "numbers": [_number(n) for n in numbers],
    }
    if plans:
        document["run_table"] = [_plan(p) for p in plans]
    if groups:
        document["runs"] = [_line(group, line) for group in groups for line in group.lines]
    document["cautions"] = list(CAUTIONS)
    return _json(document)


def numbers_table(numbers: Iterable[Number], units: Units, title: str = "") -> "Table":
    """Numbers as a table for the terminal."""
    from rich.table import Table  # late, so that --help stays quick
    from rich.text import Text

    table = Table(title=title or None, show_lines=False)
    table.add_column("what")
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("key", style="dim")
    for number in numbers:  # Text, so that brackets in a tag are not read as markup
        table.add_row(Text(number.says), Text(say(number, units)), Text(number.key))
    return table


def _json(document: Mapping[str, Any]) -> bytes:
    """One line for each entry, and for each item of a list: easy to read and to compare."""

    def flat(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    entries = []
    for key, value in document.items():
        if isinstance(value, list) and value:
            text = "[\n  " + ",\n  ".join(flat(item) for item in value) + "\n ]"
        else:
            text = flat(value)
        entries.append(f" {flat(key)}: {text}")
    return ("{\n" + ",\n".join(entries) + "\n}\n").encode()


def _csv(rows: Iterable[Sequence[str]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def _text(text: str) -> str:
    """Guard a user's words: a spreadsheet must not take them for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _count(count: float) -> str:
    return f"{count:.0f}" if abs(count - round(count)) < 1e-9 else f"{count:.2f}"


def _known(value: float) -> str:
    return say_number(value) if math.isfinite(value) else "not in the file"


def _housing(plan: RunPlan, units: Units) -> str:
    width, height = (
        say_length(x, units.length) for x in (plan.housing_width_m, plan.housing_height_m)
    )
    return f"{width} x {height}{'' if plan.housing_stated else ' (assumed)'}"


def _number(number: Number) -> dict[str, Any]:
    out = {"key": number.key, "value": _plain(number.value), "unit": number.unit}
    if not math.isfinite(number.value):
        out["value_is"] = "unknown" if math.isnan(number.value) else "no limit"
    return {**out, "says": number.says}


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.ndarray):
        return [_plain(v) for v in value.tolist()]
    if isinstance(value, list):
        return [_plain(v) for v in value]
    return value


def _plan(plan: RunPlan) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for field in RunPlan.__dataclass_fields__:
        value = getattr(plan, field)
        if field.endswith("_rad"):
            out[f"{field.removesuffix('_rad')}_deg"] = _plain(math.degrees(value))
        else:
            out[field] = _plain(value)
    return out


def _line(group: LightGroup, line: LitLine) -> dict[str, Any]:
    """One run as it is lit: frame in the room, lit lengths, candela per metre."""
    file = line.intensity
    ends = line.origin_m + np.outer([line.lit_m[0, 0], line.lit_m[-1, 1]], line.axis)
    return {
        "tag": line.tag,
        "lights": line.lights,
        "start_m": _plain(ends[0]),
        "end_m": _plain(ends[1]),
        "origin_m": _plain(line.origin_m),
        "axis": _plain(line.axis),
        "nadir": _plain(line.nadir),
        "throw": _plain(line.across),
        "c0": _plain(line.c0),
        "lit_m": _plain(line.lit_m),
        "opening_width_m": _plain(line.opening_width_m),
        "dim": group.dim,
        "maintenance": group.maintenance,
        "cct_k": group.cct_k,
        "watts_per_m": _plain(line.watts_per_metre),
        "lumens": _plain(line.lumens),
        "photometric_file": file.name,
        "candela_per_m": {
            "c_deg": _plain(np.degrees(file.c_rad)),
            "gamma_deg": _plain(np.degrees(file.gamma_rad)),
            "by_c_then_gamma": _plain(file.candela * line.per_metre),
        },
    }
