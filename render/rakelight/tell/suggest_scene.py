"""The winning scene file: the given scene, extended by what the search found."""

import json
import math
import os
from pathlib import Path
from typing import Any

from rakelight.errors import InputError
from rakelight.read.shipped import shipped_folder
from rakelight.read.toml import SceneFile, is_path
from rakelight.study.hardware import cove_of
from rakelight.study.suggest import Suggestion


def winning_scene(scene_file: SceneFile, index: int, result: Suggestion, target: Path) -> str:
    """Text of a scene that extends the given one.

    Parameters
    ----------
    scene_file : SceneFile
        The scene that was searched.
    index : int
        The run that was searched.
    result : Suggestion
        What was found.
    target : Path
        Where it is to lie: paths in it start there.

    Raises
    ------
    InputError
        If it would overwrite the scene that it extends.
    """
    if target.exists() and target.resolve() == scene_file.path.resolve():
        raise InputError(f"--write {target}: that is the scene itself. Choose another name.")
    best = result.best
    title = scene_file.tables.title or scene_file.name
    met = "It is met" if best.outcome.met else "It is not met within the bounds; this is nearest"
    lines = [
        f"# Found by a search for: {_one_line(result.wish.text)}. {met}.",
        "# Predicted, not a guarantee: verify with a mock-up.",
        f"title = {_quoted(title + ', as suggested')}",
        f"extends = {_quoted(_extends(scene_file, target))}",
        "",
    ]
    changed: dict[str, Any] = {"setback": f"{1000 * best.plan.setback_m:.1f} mm"}
    changed["tilt"] = f"{math.degrees(best.plan.tilt_rad):.2f} deg"
    if best.candidate.file:
        changed["photometry"] = _file(scene_file, best.candidate.file, target)
    if best.candidate.below_m is not None:
        below = f"{1000 * best.candidate.below_m:.1f} mm"
        number = cove_of(scene_file, index)
        lines += _entries(
            scene_file, "cove", number, {"below_ceiling": below}, ("setback",), target
        )
    drops = ("beam_aim", "aim")
    lines += _entries(scene_file, "run", index, changed, drops, target)
    return "\n".join(lines).rstrip() + "\n"


def _entries(
    scene_file: SceneFile,
    table: str,
    index: int,
    changed: dict[str, Any],
    drops: tuple[str, ...],
    target: Path,
) -> list[str]:
    """One entry laid over by its tag; where it has none, the whole list stated again."""
    entries = scene_file.raw[table]
    tag = entries[index].get("tag")
    if tag is not None:
        return [f"[[{table}]]", *_pairs({"tag": tag, **changed}), ""]
    lines = []
    for k, entry in enumerate(entries):
        whole = dict(entry)
        if "photometry" in whole:
            folder = scene_file.folder_of(table, k, "photometry")
            whole["photometry"] = _moved(whole["photometry"], folder, target)
        if k == index:
            whole = {key: v for key, v in whole.items() if key not in drops} | changed
        lines += [f"[[{table}]]", *_pairs(whole), ""]
    return lines


def _pairs(values: dict[str, Any]) -> list[str]:
    return [f"{key} = {_toml(value)}" for key, value in values.items()]


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + " }"
    return repr(value)


def _quoted(text: str) -> str:
    # JSON's escapes of a string are TOML's, but for the solidus and DEL, which it leaves alone
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _extends(scene_file: SceneFile, target: Path) -> str:
    shipped = shipped_folder("scenes")
    if scene_file.path.resolve().parent == shipped.resolve():
        return scene_file.path.stem
    return Path(os.path.relpath(scene_file.path.resolve(), target.resolve().parent)).as_posix()


def _file(scene_file: SceneFile, name: str, target: Path) -> str:
    return _moved(name, scene_file.folder, target)


def _moved(name: str, folder: Path, target: Path) -> str:
    """A path that started at a folder, from the new file's; a shipped name stays."""
    if not is_path(name) or Path(name).is_absolute():
        return name
    return Path(os.path.relpath((folder / name).resolve(), target.resolve().parent)).as_posix()
