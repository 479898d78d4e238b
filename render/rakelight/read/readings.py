"""Readings taken on site, from the CSV that `mockup` wrote or one like it."""

import csv
import io
import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.units import LX_PER_FC

Floats = NDArray[np.float64]

LARGEST_BYTES = 1_000_000
_LENGTHS_M = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048}
_LIGHT_LX = {"lx": 1.0, "fc": LX_PER_FC}
#: Columns that are needed, with the units that their names may end in.
NEEDED: dict[str, dict[str, float]] = {
    "from_left": _LENGTHS_M, "up": _LENGTHS_M, "measured": _LIGHT_LX,
}  # fmt: skip
_OPTIONAL: dict[str, dict[str, float]] = {"head": _LENGTHS_M, "background": _LIGHT_LX}
_RIGHT = (
    "Right is a header such as point,from_left_mm,up_mm,measured_lx; lengths end in _mm, _m, _in "
    "or _ft, light in _lx or _fc"
)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings of a meter, those that were taken.

    Parameters
    ----------
    names : tuple of str
        What the points are called.
    u_m, v_m : ndarray of float64, shape (points,)
        On the surface: from its left end and up from its foot (for a ceiling: as its own plan
        has them). [m]
    measured_lx : ndarray of float64, shape (points,)
        With the background taken off, where one was read. [lx]
    head_m : float
        The head off what it rested on; nan if the file does not say. [m]
    unread : tuple of str
        Points without a reading.
    """

    names: tuple[str, ...]
    u_m: Floats
    v_m: Floats
    measured_lx: Floats
    head_m: float
    unread: tuple[str, ...]


def read_readings(path: Path | str) -> Readings:
    """Read a CSV of readings.

    Parameters
    ----------
    path : Path or str
        The file; a header names columns and units.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    path = Path(path)
    rows = _rows(path)
    name = path.name
    header = [cell.strip().lower() for cell in rows[0]]
    columns = _columns(name, header)
    faults: list[str] = []
    names: list[str] = []
    values: list[tuple[float, float, float]] = []
    unread: list[str] = []
    heads: set[float] = set()
    label = header.index("point") if "point" in header else -1
    for number, row in enumerate(rows[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        called = row[label].strip() if 0 <= label < len(row) and row[label].strip() else ""
        called = called or str(number - 1)
        line = f"{name}: line {number}"
        if len(row) > len(header):
            faults.append(f"{line}: {len(row)} values under {len(header)} columns.")
            continue
        got: dict[str, float] = {}
        for key, (k, factor) in columns.items():
            cell = row[k].strip() if k < len(row) else ""
            if not cell:
                continue
            value = _number(cell)
            if value is None or (value < 0 and key in ("measured", "background", "head")):
                why = "a number" if value is None else "0 or more"
                faults.append(f'{line}, "{header[k]}" = "{cell[:40]}": must be {why}.')
            else:
                got[key] = value * factor
        if "head" in got:
            heads.add(round(got["head"], 6))
        missing = [k for k in ("from_left", "up") if k not in got]
        bad = any(fault.startswith(f"{line},") for fault in faults)
        if missing and not bad:
            faults.append(f'{line}: point {called} has no "{header[columns[missing[0]][0]]}".')
        elif "measured" not in got and not bad:
            unread.append(called)
        elif not bad:
            measured = got["measured"] - got.get("background", 0.0)
            if measured <= 0:
                faults.append(f"{line}: point {called} reads no more than its background.")
            else:
                names.append(called)
                values.append((got["from_left"], got["up"], measured))
    if len(heads) > 1:
        faults.append(f'{name}: "head" must be one height for all points.')
    faults += _twice(name, names, values)
    if not faults and len(values) < 3:
        faults.append(
            f"{name}: {len(values)} points have a reading ({len(unread)} are blank); 3 or more are "
            "needed."
        )
    if faults:
        raise InputError(*faults)
    u, v, lx = np.array(values, np.float64).T
    return Readings(tuple(names), u, v, lx, heads.pop() if heads else math.nan, tuple(unread))


def _rows(path: Path) -> list[list[str]]:
    try:
        if path.is_dir():
            raise InputError(f"{path}: is a folder. Right is a CSV file of readings.")
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError(f"{path}: no such file.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{path}: cannot be read ({reason}).") from None
    if len(data) > LARGEST_BYTES:
        raise InputError(f"{path.name}: larger than 1 MB; no list of readings is.")
    try:
        text = data.decode("utf-8-sig")
        if "\0" in text:
            raise ValueError
        first = text.split("\n", 1)[0]
        mark = ";" if first.count(";") > first.count(",") else ","
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except (ValueError, csv.Error):
        raise InputError(f"{path.name}: is not a CSV file in UTF-8. {_RIGHT}.") from None
    rows = [row for row in rows if not (row and row[0].lstrip().startswith("#"))]
    while rows and not any(cell.strip() for cell in rows[0]):
        rows.pop(0)
    if not rows:
        raise InputError(f"{path.name}: is empty. {_RIGHT}.")
    return rows


def _columns(name: str, header: list[str]) -> dict[str, tuple[int, float]]:
    """Place and factor to SI of each known column."""
    faults: list[str] = []
    found: dict[str, tuple[int, float]] = {}
    for key, units in {**NEEDED, **_OPTIONAL}.items():
        for k, title in enumerate(header):
            match = re.fullmatch(rf"{key}(?:_(.+))?", title)
            if match is None:
                continue
            unit = match[1] or ""
            if unit not in units:
                right = ", ".join(f"{key}_{u}" for u in units)
                said = f'the unit "{unit}" is not one' if unit else "has no unit"
                faults.append(f'{name}: column "{title}": {said}. Right is {right}.')
            elif key in found:
                faults.append(f'{name}: two columns are called "{key}".')
            else:
                found[key] = k, units[unit]
        if key in NEEDED and key not in found and not any(f'"{key}' in f for f in faults):
            faults.append(f'{name}: there is no column "{key}_...". {_RIGHT}.')
    if faults:
        raise InputError(*faults)
    return found


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _twice(name: str, names: list[str], values: list[tuple[float, float, float]]) -> list[str]:
    out = []
    for k, called in enumerate(names):
        if called in names[:k]:
            out.append(f'{name}: point "{called}" is there twice.')
    for k, (u, v, _) in enumerate(values):
        for j in range(k):
            if abs(u - values[j][0]) + abs(v - values[j][1]) < 1e-6:
                out.append(f"{name}: points {names[j]} and {names[k]} lie at one place.")
    return out
