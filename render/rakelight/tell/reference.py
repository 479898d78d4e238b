"""The reference page of the scene's keys, written from the schema itself."""

from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from rakelight.read.faults import inner_model, is_array_of_tables, key_of, takes
from rakelight.scene.tables import SceneTables
from rakelight.units import say_angle, say_illuminance

_INTRODUCTION = """\
# What a scene may say

This page is written from the schema; a test fails when it is stale. To write it anew:
`python -m rakelight.tell.reference > scenes/REFERENCE.md`.

The smallest useful scene:

```toml
[room]
width = "16 ft"
height = "9 ft"

[[relief]]
texture = "split-ledgestone"

[[run]]
photometry = "graze-narrow"
setback = "6 in"
```

## How values are written

- **Length**: `"6 in"`, `"9 ft 6 in"`, `"2 1/8 in"`, `"150 mm"`, `"15 cm"`, `"0.15 m"`. A bare
  number is in the unit that `[units]` declares, metres if it declares none.
- **Illuminance**: `"10 lx"`, `"1 fc"`, or a bare number likewise.
- **Angle**: `12`, `"12 deg"`, `"0.2 rad"`; a bare number is in degrees. A **direction** is an
  angle from straight down, positive toward the lit wall, and may also be said as
  `"12 deg toward"`, `"12 deg away"`, `"15 deg above horizontal"`, `"5 deg below horizontal"`,
  `"straight down"`, `"straight up"`, `"toward"`.
- **Reflectance**: `0.5` for grey, `"#c8b9a2"` for an sRGB colour, `[0.6, 0.5, 0.4]` for linear
  red, green and blue.
- **Files**: a name without a folder or an ending is shipped with Rakelight; anything else is a
  path that starts at the folder of the file that states it.

## Places

Everything on or along a wall counts from the wall's left end, for someone in the room who faces
it. Places in the room, `[x, y]` or `[x, y, z]`, count from the floor corner at the lower left of
the plan: x to the right along the main wall, y from the opposite wall toward the main wall, z up.

**Setback** of a run is its distance from a wall. Of a cove the trade says setback for the
distance below the ceiling; `[[cove]]` takes that word, or `below_ceiling`, for the same thing.

## One scene over another

`extends = "ticket-hall.toml"` starts from another scene. Tables are laid over its tables key by
key. A `[[run]]` is laid over the run with its `tag`, a `[[relief]]` over the relief `on` its
wall (or with its `tag`), a `[[camera]]` over the camera with its `name`, all else that is listed
over what has its `tag`; if any entry of the list matches none, the list replaces the whole list
below. Stating `tilt` withdraws a `beam_aim` from below, and the other way round.

`--set KEY=VALUE` lays one value over a scene in the same way: `--set room.height="9 ft"`,
`--set run.1.setback=6in`, `--set run.G1.dim=0.5`. A run is given by its place from 1, or by its
tag. A path in VALUE starts at the scene's folder.
"""


def reference_page() -> str:
    """Return the reference page in Markdown, without clock or machine in it."""
    parts = [_INTRODUCTION, "\n## Keys\n"]
    parts += _table("", "At the top of the file", SceneTables)
    for name, field in SceneTables.model_fields.items():
        model = inner_model(field.annotation)
        if model is None:
            continue
        title = f"[[{name}]]" if is_array_of_tables(field) else f"[{name}]"
        parts += _section(name, title, model)
    return "\n".join(parts).rstrip() + "\n"


def _section(name: str, title: str, model: type[BaseModel]) -> list[str]:
    inner = [
        (key_of(n, f), found)
        for n, f in model.model_fields.items()
        if (found := inner_model(f.annotation))
    ]
    same = {found for _, found in inner}
    if inner and len(inner) == len(model.model_fields) and len(same) == 1:
        keys = ", ".join(f"`[{name}.{key}]`" for key, _ in inner)
        return [f"\n### {keys}\n", *_rows(next(iter(same)))]
    out = _table(name, f"`{title}`", model)
    for key, found in inner:
        out += _table(f"{name}.{key}", f"`{key}` of `{title}`", found)
    return out


def _table(name: str, heading: str, model: type[BaseModel]) -> list[str]:
    return [f"\n### {heading}\n", *_rows(model)]


def _rows(model: type[BaseModel]) -> list[str]:
    out = [model.__doc__.strip() if model.__doc__ else "", ""]
    out += ["| key | takes | default | |", "|-|-|-|-|"]
    for name, field in model.model_fields.items():
        if model is SceneTables and inner_model(field.annotation):
            continue
        out.append(
            f"| `{key_of(name, field)}` | {takes(field)} | {_default(name, field)} "
            f"| {field.description} |"
        )
    return out


def _default(name: str, field: FieldInfo) -> str:
    if field.is_required():
        return "**required**"
    return "" if field.default is None else _said(name, field.default)


def _said(name: str, value: Any) -> str:
    if isinstance(value, BaseModel):
        return ""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, str):
        return f'`"{value}"`' if value else ""
    if isinstance(value, tuple) and all(isinstance(v, str) for v in value):
        return f'`"{value[0]}"`' if len(value) == 1 else f"`{list(value)}`"
    if isinstance(value, tuple):
        return f"`{[float(v) for v in value]}`"
    if name.endswith("_m"):
        # below a metre people think in millimetres
        return f"{value * 1000:g} mm" if 0 < abs(value) < 1 else f"{value:g} m"
    if name.endswith("_rad"):
        return say_angle(value)
    if name.endswith("_lx"):
        return say_illuminance(value, "lx")
    if name.endswith("_k"):
        return f"{value:.0f} K"
    return f"{value:g}"


if __name__ == "__main__":
    print(reference_page(), end="")
