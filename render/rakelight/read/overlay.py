"""Tables laid over tables, each value remembering the file that states it.

`extends`, `--set` and a sweep's steps are one mechanism: stated values laid over stated values
before the one validation.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rakelight.errors import InputError

Key = str | int
Where = tuple[Key, ...]

# Arrays of tables whose entries are found again by one of their own keys, with its default
NAMES: dict[str, tuple[tuple[str, ...], str | None]] = {
    "run": (("tag",), None),
    "relief": (("tag", "on"), "main"),
    "camera": (("name",), None),
    "eye": (("name",), None),
    **{
        table: (("tag",), None)
        for table in (
            "opening",
            "cove",
            "fascia",
            "soffit",
            "panel",
            "column",
            "bench",
            "mesh",
            "painting",
        )
    },
}

# Stating one of these in a later layer withdraws the other from an earlier one
RIVALS = {
    "tilt": ("beam_aim", "aim"),
    "beam_aim": ("tilt", "aim"),
    "aim": ("tilt", "beam_aim"),
    "drop": ("height", "from", "to"),
    "height": ("drop",),
    "setback": ("from", "to", "below_ceiling"),
    "below_ceiling": ("setback",),
    "lip": ("aperture",),
    "aperture": ("lip",),
    "from": ("setback", "drop", "start", "end"),
    "gap": ("spacing",),
    "spacing": ("gap",),
    "eye": ("eye_height", "distance", "from_left"),
    "eye_height": ("eye",),
    "distance": ("eye",),
    "from_left": ("eye",),
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value was stated.

    Parameters
    ----------
    path : Path
        The file; relative paths in its values start at its folder.
    label : str
        What faults call it: the file's name, or ``--set``.
    position : int
        For an entry of an array of tables: its place in that file, from 1; else 0.
    """

    path: Path
    label: str
    position: int = 0


@dataclass(frozen=True, slots=True)
class Stated:
    """A value with its source; tables hold further `Stated`, all else is plain."""

    value: Any
    source: Source

    @property
    def is_array_of_tables(self) -> bool:
        """True for `[[...]]`."""
        return (
            isinstance(self.value, list) and bool(self.value) and isinstance(self.value[0], Stated)
        )


def state(value: Any, source: Source) -> Stated:
    """Attach a source to a value read from TOML, and to all that is in it."""
    if isinstance(value, dict):
        return Stated({key: state(item, source) for key, item in value.items()}, source)
    if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        return Stated(
            [
                state(item, Source(source.path, source.label, number))
                for number, item in enumerate(value, 1)
            ],
            source,
        )
    return Stated(value, source)


def plain(stated: Stated) -> Any:
    """Return the bare value, as TOML would give it."""
    if isinstance(stated.value, dict):
        return {key: plain(item) for key, item in stated.value.items()}
    if stated.is_array_of_tables:
        return [plain(item) for item in stated.value]
    return stated.value


def source_of(stated: Stated, where: Where) -> Source:
    """Return the source of the value at `where`, or of the last table on the way that exists."""
    for key in where:
        inside = stated.value
        if isinstance(inside, dict) and key in inside:
            stated = inside[str(key)]
        elif stated.is_array_of_tables and isinstance(key, int) and key < len(inside):
            stated = inside[key]
        else:
            break
    return stated.source


def lay_over(below: Stated, above: Stated, name: str = "") -> Stated:
    """Lay a later layer over an earlier one; `name` is the table's key.

    Tables merge key by key. An array of tables whose every entry names an entry below (run by
    `tag`, relief by `on`, camera by `name`) is laid over those; any other value replaces.
    """
    if isinstance(below.value, dict) and isinstance(above.value, dict):
        merged = dict(below.value)
        for key in above.value:
            for rival in RIVALS.get(key, ()):
                if rival not in above.value:
                    merged.pop(rival, None)
        for key, item in above.value.items():
            merged[key] = lay_over(merged[key], item, key) if key in merged else item
        return Stated(merged, above.source)
    if below.is_array_of_tables and above.is_array_of_tables and name in NAMES:
        names = [_name(entry, name) for entry in below.value]
        if all(_name(entry, name) in names and _name(entry, name) for entry in above.value):
            entries = list(below.value)
            for entry in above.value:
                index = names.index(_name(entry, name))
                entries[index] = lay_over(entries[index], entry)
            return Stated(entries, above.source)
    return above


def lay_assignments(below: Stated, assignments: Mapping[str, Any], path: Path) -> Stated:
    """Lay ``run.G1.setback`` style assignments over a scene, in order.

    Parameters
    ----------
    below : Stated
        The scene.
    assignments : mapping of str to value
        Dotted key to a TOML value; an entry of an array of tables is given by its place from 1
        or by its name.
    path : Path
        The scene file: a relative path in a value starts at its folder.

    Raises
    ------
    InputError
        If a dotted key leads nowhere.
    """
    faults: list[str] = []
    for dotted, value in assignments.items():
        keys = dotted.split(".")
        try:
            below = _assign(below, keys, state(value, Source(path, "--set")), dotted)
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(*faults)
    return below


def parse_assignment(text: str) -> tuple[str, Any]:
    """Split ``KEY=VALUE``; VALUE is a TOML value or bare text.

    Raises
    ------
    InputError
        If there is no key or no ``=``.
    """
    key, equals, value = text.partition("=")
    key, value = key.strip(), value.strip()
    if not equals or not key or not all(part.strip() for part in key.split(".")):
        raise InputError(f'--set "{text}": right is KEY=VALUE, for example run.1.setback="6 in".')
    try:
        read = tomllib.loads(f"value = {value}")
    except (ValueError, RecursionError):
        return key, value
    # text with a line break could smuggle in further keys; then it is bare text
    return key, read["value"] if list(read) == ["value"] else value


def _name(entry: Stated, table: str) -> Any:
    keys, default = NAMES[table]
    return next((entry.value[key].value for key in keys if key in entry.value), default)


def _assign(below: Stated, keys: list[str], value: Stated, dotted: str, table: str = "") -> Stated:
    if not keys:
        return lay_over(below, value, table) if isinstance(value.value, dict) else value
    key, rest = keys[0], keys[1:]
    if below.is_array_of_tables:
        index = _entry(below, key, table, dotted)
        entries = list(below.value)
        entries[index] = _assign(entries[index], rest, value, dotted)
        return Stated(entries, below.source)
    if not isinstance(below.value, dict):
        raise InputError(f'--set {dotted}: "{table}" is a value, not a table; nothing lies in it.')
    merged = dict(below.value)
    for rival in () if rest else RIVALS.get(key, ()):
        merged.pop(rival, None)
    if key in NAMES and key not in merged and rest:
        raise InputError(f"--set {dotted}: the scene has no [[{key}]].")
    empty = Stated({}, value.source)
    merged[key] = _assign(merged.get(key, empty), rest, value, dotted, key) if rest else value
    return Stated(merged, below.source)


def _entry(below: Stated, key: str, table: str, dotted: str) -> int:
    entries = below.value
    if key.isdecimal() and len(key) < 6:
        if 1 <= int(key) <= len(entries):
            return int(key) - 1
        raise InputError(
            f"--set {dotted}: there is no [[{table}]] {key}; the scene has {len(entries)}."
        )
    names = [_name(entry, table) if table in NAMES else None for entry in entries]
    if table == "run":  # the tags that runs get by order
        names = [name or f"L{number}" for number, name in enumerate(names, 1)]
    if key in names:
        return names.index(key)
    known = ", ".join(f'"{name}"' for name in names if name)
    raise InputError(f'--set {dotted}: no [[{table}]] is called "{key}"; there is {known}.')
