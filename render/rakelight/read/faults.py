"""Validation faults in plain words: file, table, key, what is wrong, what would be right."""

import difflib
import re
from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from rakelight.read.overlay import Key, Source, Stated, Where, plain, source_of
from rakelight.scene.stated import takes_of
from rakelight.scene.tables import SceneTables


def fault_lines(errors: list[ErrorDetails], scene: Stated) -> list[str]:
    """Return one line for each validation fault, without repeating one.

    Parameters
    ----------
    errors : list of ErrorDetails
        As pydantic gives them.
    scene : Stated
        The scene that was validated, with its sources.
    """
    # "setbck" is misspelt; that "setback" is missing then says nothing new
    meant: set[Where] = set()
    for error in errors:
        if error["type"] == "extra_forbidden":
            table, keys = _table_and_keys(tuple(error["loc"]))
            close = difflib.get_close_matches(str(keys[0]).lower(), _known(table), n=1)
            meant.update((*table, word) for word in close)
    kept = [e for e in errors if not (e["type"] == "missing" and tuple(e["loc"]) in meant)]
    return list(dict.fromkeys(_fault_line(error, scene) for error in kept))


def _fault_line(error: ErrorDetails, scene: Stated) -> str:
    where: Where = tuple(error["loc"])
    source = source_of(scene, where)
    kind = error["type"]
    if kind == "extra_forbidden":
        return _line(source, scene, where, None, _unknown_key(where))
    if kind == "missing":
        field = _field(where)
        what = f"missing. {field.description} Right is a {takes(field)}." if field else "missing."
        return _line(source, scene, where, None, what)
    if kind in ("model_type", "model_attributes_type", "dict_type", "tuple_type"):
        return f"{source.label}: {_shape(where)}"
    value = error["input"]
    if kind == "value_error":
        says = str(error["ctx"]["error"])
        if match := re.fullmatch(r"missing (\w+)", says):
            where = (*where, match[1])
            field = _field(where)
            right = f" {field.description} Right is a {takes(field)}." if field else ""
            return _line(source, scene, where, None, f"missing.{right}")
        if isinstance(value, dict) and (not where or _model(where) is not None):
            return f"{source.label}: {place(scene, where)}{says}."
        return _line(source, scene, where, value, f"{says}.")
    if kind == "literal_error":
        field = _field(where)
        options = _options(field.annotation) if field else []
        says = f"must be {_or(options)}.{_suggest(str(value), options)}"
    elif kind == "string_type":
        says = "must be text, in quotes."
    else:
        says = f"{error['msg'][:1].lower()}{error['msg'][1:]}."
    return _line(source, scene, where, value, says)


def stated_fault(scene: Stated, where: Where, says: str) -> str:
    """Return one line for a fault found after validation, with the value as it was typed.

    Parameters
    ----------
    scene : Stated
        The scene with its sources.
    where : tuple of str and int
        Path of the key, for example ``("run", 0, "setback")``; or of a table.
    says : str
        What is wrong and what would be right, with its full stop.
    """
    source = source_of(scene, where)
    if _model(where) is not None:
        return f"{source.label}: {place(scene, where)}{says}"
    at = plain(scene)
    for key in where:
        try:
            at = at[key]
        except (KeyError, IndexError, TypeError):
            at = None  # a default: nothing was typed
            break
    return _line(source, scene, where, at, says)


def place(scene: Stated, where: Where) -> str:
    """Return ``[[run]] 2, `` or ``[surface.main], `` for the table at `where`; '' for the top."""
    if not where:
        return ""
    names = ".".join(str(key) for key in where if isinstance(key, str))
    numbers = [i for i, key in enumerate(where) if isinstance(key, int)]
    if numbers:
        last = numbers[0]
        number = source_of(scene, where[: last + 1]).position or int(where[last]) + 1
        inner = names[len(str(where[0])) :]
        return f"[[{where[0]}]] {number}{', [' + inner[1:] + ']' if inner else ''}: "
    return f"[{names}]: "


def takes(field: FieldInfo) -> str:
    """Return what a key takes, in words."""
    words = takes_of(field.metadata) or _takes_of_union(field.annotation)
    if words:
        return words
    options = _options(field.annotation)
    if options:
        return " or ".join(f'`"{option}"`' for option in options)
    model = inner_model(field.annotation)
    if model is not None:
        return f"table {{ {', '.join(key_of(n, f) for n, f in model.model_fields.items())} }}"
    return "text"


def inner_model(annotation: Any) -> type[BaseModel] | None:
    """Return the table's class inside an annotation such as ``tuple[RunTable, ...]``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        found = inner_model(part)
        if found:
            return found
    return None


def key_of(name: str, field: FieldInfo) -> str:
    """Return the key in TOML of a field."""
    return field.alias or name


def _line(source: Source, scene: Stated, where: Where, value: Any, says: str) -> str:
    table, keys = _table_and_keys(where)
    before = place(scene, table)
    key = ".".join(str(k) for k in keys)
    shown = "" if value is None else f" = {_shown(value)}"
    comma = f"{before[:-2]}, " if before else ""
    return f'{source.label}: {comma}"{key}"{shown}: {says}'


def _table_and_keys(where: Where) -> tuple[Where, Where]:
    """Split a place into the innermost table and the key within it."""
    for cut in range(len(where) - 1, 0, -1):
        if _model(where[:cut]) is not None:
            return where[:cut], where[cut:]
    return (), where


def _model(where: Where) -> type[BaseModel] | None:
    model: type[BaseModel] | None = SceneTables
    in_array = False
    for key in where:
        if isinstance(key, int):
            if not in_array:
                return None
            in_array = False
            continue
        if model is None or in_array:
            return None
        field = _find(model, key)
        model = inner_model(field.annotation) if field else None
        in_array = field is not None and is_array_of_tables(field)
    return model


def _field(where: Where) -> FieldInfo | None:
    table, keys = _table_and_keys(where)
    model = _model(table)
    return _find(model, keys[0]) if model else None


def _find(model: type[BaseModel], key: Key) -> FieldInfo | None:
    for name, field in model.model_fields.items():
        if key_of(name, field) == key:
            return field
    return None


def is_array_of_tables(field: FieldInfo) -> bool:
    """Return whether a field is written ``[[...]]``."""
    return get_origin(field.annotation) is tuple and inner_model(field.annotation) is not None


def _unknown_key(where: Where) -> str:
    table, keys = _table_and_keys(where)
    word = str(keys[0])
    known = _known(table)
    guess = _suggest(word, known)
    if guess:
        return f"no such key.{guess}"
    homes = [home for home, keys_there in _all_tables() if word in keys_there]
    if homes:
        return f"no such key here. It belongs in {_or_plain(homes)}."
    return f"no such key. There are {', '.join(known)}."


def _known(table: Where) -> list[str]:
    model = _model(table) or SceneTables
    return [key_of(name, field) for name, field in model.model_fields.items()]


def _all_tables() -> Iterator[tuple[str, list[str]]]:
    for name, field in SceneTables.model_fields.items():
        model = inner_model(field.annotation)
        if model:
            title = f"[[{name}]]" if is_array_of_tables(field) else f"[{name}]"
            yield title, [key_of(n, f) for n, f in model.model_fields.items()]


def _shape(where: Where) -> str:
    names = ".".join(str(key) for key in where if isinstance(key, str))
    field = _find(SceneTables, where[0]) if where else None
    if field is not None and is_array_of_tables(field) and len(where) <= 2:
        return f"[{names}]: must be written [[{names}]], once for each {names}."
    return f'"{names}": must be a table, written [{names}] once, with its keys below.'


def _options(annotation: Any) -> list[str]:
    if get_origin(annotation) is Literal:
        return [str(option) for option in get_args(annotation)]
    return [option for part in get_args(annotation) for option in _options(part)]


def _takes_of_union(annotation: Any) -> str | None:
    for part in get_args(annotation):
        words = takes_of(list(getattr(part, "__metadata__", ())))
        if words:
            return words
    return None


def _suggest(word: str, known: list[str]) -> str:
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""


def _or(options: list[str]) -> str:
    quoted = [f'"{option}"' for option in options]
    return _or_plain(quoted)


def _or_plain(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _shown(value: Any) -> str:
    if isinstance(value, Stated):
        value = plain(value)
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, int) and abs(value) >= 10**50:
        text = "a number of more than 50 digits"
    else:
        text = str(value)
    text = " ".join(text.split())
    return text if len(text) <= 60 else f"{text[:56]} ..."
