"""A scene from TOML: `extends`, `--set`, and every fault at once in plain words."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from rakelight.errors import InputError
from rakelight.read.faults import fault_lines
from rakelight.read.overlay import (
    Source,
    Stated,
    lay_assignments,
    lay_over,
    parse_assignment,
    plain,
    source_of,
    state,
)
from rakelight.read.shipped import shipped_folder
from rakelight.scene.tables import SceneTables, UnitsTable

LARGEST_BYTES = 2_000_000


@dataclass(frozen=True, slots=True, eq=False)
class SceneFile:
    """A scene as stated: validated tables, and where each value came from.

    Parameters
    ----------
    path : Path
        The scene's own file, as given.
    tables : SceneTables
        Everything stated, in SI, with defaults.
    stated : Stated
        The merged raw tables with the source of each value.
    notes : tuple of str
        What was done on the way: which scenes it extends, what was set.
    """

    path: Path
    tables: SceneTables
    stated: Stated
    notes: tuple[str, ...] = field(default=())

    @property
    def name(self) -> str:
        """The file's name without its ending; outputs are named after it."""
        return self.path.stem

    @property
    def label(self) -> str:
        """What messages call the scene."""
        return self.path.name

    @property
    def folder(self) -> Path:
        """Folder of the scene's own file."""
        return self.path.parent

    @property
    def raw(self) -> dict[str, Any]:
        """The merged tables as TOML would give them."""
        raw: dict[str, Any] = plain(self.stated)
        return raw

    def source(self, *where: str | int) -> Source:
        """Return which file states the value at `where`, for example ``("run", 0, "setback")``."""
        return source_of(self.stated, where)

    def folder_of(self, *where: str | int) -> Path:
        """Return the folder from which a relative path at `where` starts."""
        return self.source(*where).path.parent

    def is_stated(self, *where: str | int) -> bool:
        """Return whether a value stands at `where`, rather than a default."""
        at: Any = self.raw
        for key in where:
            try:
                at = at[key]
            except (KeyError, IndexError, TypeError):
                return False
        return True


def read_scene(path: Path | str, overrides: Sequence[str] = ()) -> SceneFile:
    """Read a scene with all that it extends, lay `overrides` over it, and validate it once.

    Parameters
    ----------
    path : Path or str
        A TOML file, or the name of a shipped scene.
    overrides : sequence of str
        ``KEY=VALUE``, as ``run.1.setback=6in`` or ``run.G1.dim=0.5``; VALUE is a TOML value or
        bare text. They stand as if written at the end of the scene: a relative path in one
        starts at the scene's folder.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    path = _located(Path(path))
    stated, notes = _read_chain(path, ())
    faults: list[str] = []
    assignments: dict[str, Any] = {}
    for text in overrides:
        try:
            key, value = parse_assignment(text)
            assignments[key] = value
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(*faults)
    notes = (*notes, *(f"set {' '.join(text.split())}" for text in overrides))
    return _validated(path, lay_assignments(stated, assignments, path), notes)


def lay_values(scene_file: SceneFile, values: Mapping[str, Any]) -> SceneFile:
    """Return the scene with values laid over it, without reading its files again.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    values : mapping of str to value
        Dotted key, as ``run.1.setback``, to a value as TOML would give it.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    stated = lay_assignments(scene_file.stated, values, scene_file.path)
    return _validated(scene_file.path, stated, scene_file.notes)


def _read_chain(path: Path, children: tuple[Path, ...]) -> tuple[Stated, tuple[str, ...]]:
    own = state(_read_toml(path), Source(path, path.name))
    if "extends" not in own.value:
        return own, ()
    parent = own.value["extends"].value
    if not isinstance(parent, str) or not parent.strip():
        raise InputError(
            f'{path.name}: "extends" = {parent!r}: must be the path of a scene, in quotes.'
        )
    below_path = _shipped(parent) or path.parent / parent
    chain = (*children, path)
    if any(below_path.resolve() == seen.resolve() for seen in chain):
        names = " -> ".join(seen.name for seen in (*chain, below_path))
        raise InputError(
            f'{path.name}: "extends" = "{parent}": goes round in a circle ({names}). '
            "A scene may extend only scenes that do not come back to it."
        )
    if not below_path.exists():
        raise InputError(
            f'{path.name}: "extends" = "{parent}": no such file. '
            "A path starts at the folder of this file; a shipped scene has a name without ending."
        )
    below, notes = _read_chain(below_path, chain)
    return lay_over(below, own), (f"{path.name} extends {parent}", *notes)


def is_path(name: str) -> bool:
    """Return whether a name is a path: it has a folder or an ending; else it is a shipped name."""
    return "/" in name or "\\" in name or Path(name).suffix != ""


def _located(path: Path) -> Path:
    """Return the shipped scene of that name, where there is no such path."""
    return path if path.exists() else _shipped(str(path)) or path


def _shipped(name: str) -> Path | None:
    if is_path(name):
        return None
    path = shipped_folder("scenes") / f"{name}.toml"
    return path if path.is_file() else None


def _read_toml(path: Path) -> dict[str, Any]:
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise InputError(f"{path}: is a folder. Right is a scene file, name.toml.")
        if path.exists() and not path.is_file():
            raise InputError(f"{path}: is not an ordinary file. Right is a scene file, name.toml.")
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError(f"{path}: no such file.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{path}: cannot be read ({reason}).") from None
    if len(data) > LARGEST_BYTES:
        raise InputError(f"{name}: larger than {LARGEST_BYTES // 1_000_000} MB; no scene is.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise InputError(f"{name}: is not text in UTF-8. Right is a scene in TOML.")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise InputError(f"{name}: tables or arrays are nested too deeply.") from None
    except ValueError as error:
        says = str(error)
        match = re.fullmatch(
            r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", says, re.S
        )
        line = (match[2] if match else None) or str(text.count("\n") + 1)
        column = f", column {match[3]}" if match and match[3] else ""
        what = (match[1] if match else says).strip()
        raise InputError(
            f"{name}: line {line}{column}: not TOML ({what[:1].lower()}{what[1:]}). "
            'Right is a [table] or key = value, with text in "quotes".'
        ) from None


def _validated(path: Path, stated: Stated, notes: tuple[str, ...]) -> SceneFile:
    raw = plain(stated)
    try:
        # units first: every bare number below depends on them
        units = UnitsTable.model_validate(raw.get("units", {}))
    except ValidationError:
        units = UnitsTable()  # the whole validation reports the fault in its place
    try:
        tables = SceneTables.model_validate(raw, context=units.model_dump())
    except ValidationError as error:
        raise InputError(*fault_lines(error.errors(include_url=False), stated)) from None
    except RecursionError:
        raise InputError(f"{path.name}: tables or arrays are nested too deeply.") from None
    return SceneFile(path, tables, stated, notes)


__all__ = ["SceneFile", "is_path", "lay_values", "read_scene"]
