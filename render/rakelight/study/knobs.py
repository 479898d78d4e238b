"""What of a scene can be swept or searched, and how a value of it is laid over the scene.

A knob is one row of `KNOBS`: its key, what it turns, and what has to be computed anew when it
turns. Values are SI floats, names of files, or ``against``; laying one over a scene is the same
mechanism as ``extends`` and ``--set``.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rakelight.build.mounting import lights_of
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile
from rakelight.scene.tables import RunTable, SceneTables

Value = float | str
Kind = Literal["length", "angle", "share", "name"]
#: What a knob makes stale: the output alone, where the light comes from, the reliefs and all
#: that hangs on them, or what stands in the room.
Changes = Literal["output", "runs", "reliefs", "room"]

AGAINST = "against"


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing that can be turned.

    Parameters
    ----------
    key : str
        Name on the command line, ``distance-below`` for ``--distance-below``, and in files.
    kind : {"length", "angle", "share", "name"}
        What its values are.
    changes : {"output", "runs", "reliefs", "room"}
        What has to be computed anew.
    table : {"run", "base", "relief"}
        Whose key it is: of the chosen runs, of what they lie on, of the lit wall's relief.
    field : str
        The key in the scene.
    noun : str
        What captions and axes call it.
    takes : str
        An example of a range, for messages.
    least, most : float
        Values beyond these make no sense for any scene. [SI]
    """

    key: str
    kind: Kind
    changes: Changes
    table: Literal["run", "base", "relief"]
    field: str
    noun: str
    takes: str
    least: float = -math.inf
    most: float = math.inf


KNOBS: tuple[Knob, ...] = (
    Knob("setback", "length", "runs", "run", "setback", "setback", "against:12in:1in", 0.0),
    Knob(
        "distance-below", "length", "room", "base", "below_ceiling",
        "distance below the ceiling", "4in:18in:2in", 0.0,
    ),
    Knob("tilt", "angle", "runs", "run", "tilt", "tilt", "0deg:20deg:2deg", -math.pi, math.pi),
    Knob("drop", "length", "runs", "run", "drop", "drop", "50mm:200mm:25mm"),
    Knob("dim", "share", "output", "run", "dim", "dim", "20%:100%:20%", 0.0, 1.0),
    Knob("gap", "length", "runs", "run", "gap", "gap", "0mm:60mm:10mm", 0.0),
    Knob("file", "name", "runs", "run", "photometry", "photometric file", "a.ies,b.ies"),
    Knob("relief", "name", "reliefs", "relief", "texture", "relief", "brick.toml,stone.toml"),
    Knob("relief-depth", "length", "reliefs", "relief", "depth", "relief depth", "0:6cm:1cm", 0.0),
)  # fmt: skip


def knob(key: str) -> Knob:
    """Return the knob of that key; ValueError if there is none."""
    for one in KNOBS:
        if one.key == key:
            return one
    raise ValueError(f"no knob {key!r}; there are {[one.key for one in KNOBS]}")


def run_tags(tables: SceneTables) -> tuple[str, ...]:
    """Tags of all runs, those that are not stated by their order."""
    return tuple(run.tag or f"L{number}" for number, run in enumerate(tables.run, 1))


def lit_surface(tables: SceneTables, run: RunTable) -> str:
    """The surface that a run lights, as `build` will find it."""
    fascias = {one.tag or f"F{i}" for i, one in enumerate(tables.fascia, 1)}
    return run.lights if run.on in fascias else lights_of(run)


def chosen_runs(scene_file: SceneFile, tags: Sequence[str] = ()) -> tuple[int, ...]:
    """Which runs a knob turns: those named, else all that light the first lit surface.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    tags : sequence of str
        Tags of runs; none: the default.

    Returns
    -------
    tuple of int
        Indices into ``tables.run``.

    Raises
    ------
    InputError
        If the scene has no run, or none of a tag.
    """
    tables = scene_file.tables
    known = run_tags(tables)
    if not known:
        raise InputError(f"{scene_file.label}: has no [[run]], so there is nothing to sweep.")
    missing = [tag for tag in tags if tag not in known]
    if missing:
        raise InputError(
            *(f'--run "{tag}": no such run; there are {", ".join(known)}.' for tag in missing)
        )
    if tags:
        return tuple(index for index, tag in enumerate(known) if tag in tags)
    lights = [lit_surface(tables, run) for run in tables.run]
    wanted = "main" if "main" in lights else lights[0]
    return tuple(index for index, name in enumerate(lights) if name == wanted)


def assignments(
    scene_file: SceneFile, runs: Sequence[int], turned: Mapping[str, Value]
) -> dict[str, Any]:
    """What to lay over a scene (`read.toml.lay_values`) so that knobs stand at values.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    runs : sequence of int
        From `chosen_runs`.
    turned : mapping of str to float or str
        Value by the knob's key; SI, a name, or ``against``.

    Raises
    ------
    InputError
        If the scene has nothing that a knob turns.
    """
    out: dict[str, Any] = {}
    for key, value in turned.items():
        one = knob(key)
        for place in _places(scene_file, runs, one):
            out[f"{place}.{one.field}"] = as_toml(one, value)
    return out


def as_toml(one: Knob, value: Value) -> Any:
    """Return a value as a scene would state it, with every digit."""
    if isinstance(value, str):
        return value
    if one.kind == "length":
        return f"{value:.12g} m"
    return f"{value:.12g} rad" if one.kind == "angle" else float(value)


def relief_index(scene_file: SceneFile, runs: Sequence[int]) -> int:
    """Which [[relief]] the runs light, from 0.

    Raises
    ------
    InputError
        If there is none on that surface.
    """
    tables = scene_file.tables
    lit = lit_surface(tables, tables.run[runs[0]])
    for index, table in enumerate(tables.relief):
        if table.on == lit:
            return index
    raise InputError(f'{scene_file.label}: no [[relief]] on "{lit}", which the run lights.')


def _places(scene_file: SceneFile, runs: Sequence[int], one: Knob) -> list[str]:
    """Dotted tables that a knob turns."""
    if one.table == "relief":
        return [f"relief.{relief_index(scene_file, runs) + 1}"]
    if one.table == "run":
        return [f"run.{index + 1}" for index in runs]
    return _bases(scene_file, runs, one)


def _bases(scene_file: SceneFile, runs: Sequence[int], one: Knob) -> list[str]:
    """Coves and panels that the runs lie on: what has a distance below the ceiling."""
    tables = scene_file.tables
    tags = run_tags(tables)
    known = {table.tag or f"C{i}": f"cove.{i}" for i, table in enumerate(tables.cove, 1)}
    known |= {table.tag or f"P{i}": f"panel.{i}" for i, table in enumerate(tables.panel, 1)}
    places: dict[str, None] = {}
    for index in runs:
        on = tables.run[index].on
        if on not in known:
            raise InputError(
                f"--{one.key}: run {tags[index]} lies on no [[cove]] or [[panel]]; its distance "
                "below the ceiling is its drop: use --drop."
            )
        places[known[on]] = None
    return list(places)
