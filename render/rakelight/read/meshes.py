"""Triangle meshes in: OBJ, PLY, STL and glTF, in metres with z up, checked."""

import math
import re
from pathlib import Path
from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.memory import available_memory_bytes
from rakelight.read.mesh_gltf import parse_gltf
from rakelight.read.mesh_obj import parse_obj
from rakelight.read.mesh_ply import parse_ply
from rakelight.read.mesh_soup import Floats, Indices, Soup, TooManyTriangles
from rakelight.read.mesh_stl import looks_like_stl, parse_stl
from rakelight.units import parse_length

MeshUnit = Literal["mm", "cm", "m", "in", "ft"]
Axis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]

ENDINGS = (".obj", ".ply", ".stl", ".gltf", ".glb")
MOST_TRIANGLES = 5_000_000
LARGEST_M = 100.0
SMALLEST_M = 0.001
_LARGEST_BYTES = 2_000_000_000
_MEMORY_PER_BYTE = 9  # text of 2 million triangles took 8 times its size, binary 7 times
_OBJ_VERTEX = re.compile(rb"(?:^|[\r\n])v[ \t]+[-+.\d]")
_UNITS = get_args(MeshUnit)


class Mesh(NamedTuple):
    """A mesh in metres.

    Parameters
    ----------
    points_m : ndarray of float64, shape (n, 3)
        z up; each belongs to a triangle. [m]
    faces : ndarray of int64, shape (m, 3)
        Triangles without area are left out; wound as in the file.
    notes : tuple of str
        What was assumed or left out, one line each.
    """

    points_m: Floats
    faces: Indices
    notes: tuple[str, ...]


def read_mesh(
    path: Path | str,
    unit: MeshUnit | None = None,
    *,
    up: Axis | None = None,
    most_triangles: int = MOST_TRIANGLES,
) -> Mesh:
    """Read a mesh.

    Parameters
    ----------
    path : Path or str
        OBJ, PLY or STL (text or binary), or glTF 2.0 (.gltf, .glb).
    unit : {"mm", "cm", "m", "in", "ft"}, optional
        The file's unit. May be left out for glTF alone, which is in metres.
    up : {"+x", "-x", "+y", "-y", "+z", "-z"}, optional
        The file's axis that points up. Not given: +y for glTF, as its standard has it, else +z.
    most_triangles : int
        Refuse more.

    Returns
    -------
    Mesh

    Raises
    ------
    InputError
        If the file cannot be read, has no unit, is empty or degenerate, holds a coordinate
        that is no number, or is larger or smaller than anything in a room.
    """
    path = Path(path)
    if unit is not None and unit not in _UNITS:
        raise InputError(f'{path}: unit "{unit}". Use {", ".join(_UNITS)}.')
    data = _bytes(path)
    kind = _kind(data, path)
    if unit is None and kind != "glTF":
        raise InputError(
            f"{path}: {kind} files do not say their unit. Give it: mm, cm, m, in or ft."
        )
    try:
        soup = _parse(kind, data, path, most_triangles)
    except TooManyTriangles:
        raise InputError(
            f"{path}: more than {most_triangles:,} triangles. Thin it out before it is used."
        ) from None
    except MemoryError:
        raise InputError(f"{path}: larger than memory. Thin it out before it is used.") from None
    notes = [f"{path.name}: {note}" for note in soup.notes]
    if kind == "glTF" and unit not in (None, "m"):
        notes.append(f"{path.name}: glTF is in metres by its standard; taken as {unit} as stated")
    factor = parse_length(f"1 {unit or 'm'}")
    points, faces = _checked(soup, path, notes)
    points = turned_up(points, up or ("+y" if kind == "glTF" else "+z")) * factor
    _check_size(points, path, unit)
    return Mesh(points, faces, tuple(notes))


def turned_up(points: Floats, up: Axis) -> Floats:
    """Turn points so that the named axis becomes z; handedness is kept.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 3)
        In the file's axes.
    up : {"+x", "-x", "+y", "-y", "+z", "-z"}
        The file's axis that points up.
    """
    axis, sign = "xyz".index(up[1]), 1.0 if up[0] == "+" else -1.0
    if axis == 2:
        return np.multiply(points, [1.0, sign, sign], dtype=np.float64)
    x, y, z = points.T
    # a quarter turn about the axis that is left: +y up keeps x, +x up keeps y
    columns = (x, -sign * z, sign * y) if axis == 1 else (-sign * z, y, sign * x)
    return np.stack(columns, axis=1)


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise InputError(f"{path}: a folder, not a mesh.")
        if path.exists() and not path.is_file():
            raise InputError(f"{path}: not an ordinary file.")
        size = path.stat().st_size
        _check_memory(path, size)
        data = path.read_bytes() if size <= _LARGEST_BYTES else b""
    except FileNotFoundError:
        raise InputError(f"{path}: no such file.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{path}: cannot be read ({reason}).") from None
    if size > _LARGEST_BYTES:
        raise InputError(f"{path}: larger than {_LARGEST_BYTES // 10**9} GB. Thin it out first.")
    if not data:
        raise InputError(f"{path}: the file is empty.")
    return data


def _check_memory(path: Path, size: int) -> None:
    free = available_memory_bytes()
    needed = size * _MEMORY_PER_BYTE
    if free is not None and needed > free:
        raise InputError(
            f"{path}: {size / 1e9:.2f} GB, which takes about {needed / 1e9:.1f} GB to read, and "
            f"{free / 1e9:.1f} GB are free. Thin it out first."
        )


def _kind(data: bytes, path: Path) -> str:
    """Tell the format by content; the ending decides where content alone cannot."""
    if data[:4] == b"glTF":
        return "glTF"
    if data[:3] == b"ply" and data[3:4] in (b"\n", b"\r", b" "):
        return "PLY"
    if looks_like_stl(data):
        return "STL"
    ending = path.suffix.lower()
    kinds = {".gltf": "glTF", ".stl": "STL", ".obj": "OBJ"}
    if ending in kinds:
        return kinds[ending]
    if ending in (".ply", ".glb"):
        raise InputError(f"{path}: not a {ending[1:].upper()} file, whatever its ending says.")
    if b"\0" not in data[:4096] and _OBJ_VERTEX.search(data[:65_536]):
        return "OBJ"
    raise InputError(f"{path}: not a mesh. Use {', '.join(ENDINGS)}.")


def _parse(kind: str, data: bytes, path: Path, most: int) -> Soup:
    name = str(path)
    if kind == "glTF":
        return parse_gltf(data, name, most, path.parent)
    return {"PLY": parse_ply, "STL": parse_stl, "OBJ": parse_obj}[kind](data, name, most)


def _checked(soup: Soup, path: Path, notes: list[str]) -> tuple[Floats, Indices]:
    points, faces = soup.points, soup.faces
    if len(points) == 0 or len(faces) == 0:
        raise InputError(f"{path}: an empty mesh: {len(points):,} points, no triangles.")
    if int(faces.min()) < 0 or int(faces.max()) >= len(points):
        raise InputError(
            f"{path}: a face names a vertex that is not there; there are {len(points):,}."
        )
    used = np.zeros(len(points), dtype=np.bool_)
    used[faces] = True
    if not used.all():
        notes.append(f"{path.name}: {int((~used).sum()):,} points without a triangle left out")
        faces = (np.cumsum(used) - 1)[faces]
        points = points[used]
    if not (np.abs(points) < 1e12).all():  # catches NaN too
        raise InputError(f"{path}: holds a coordinate that is no number or beyond all bounds.")
    flat = _without_area(points, faces)
    if flat.all():
        raise InputError(f"{path}: degenerate: none of its {len(faces):,} triangles has an area.")
    if flat.any():
        notes.append(f"{path.name}: {int(flat.sum()):,} triangles without area left out")
        faces = faces[~flat]
        left = np.zeros(len(points), dtype=np.bool_)
        left[faces] = True
        faces = (np.cumsum(left) - 1)[faces]
        points = points[left]
    return points, faces


def _without_area(points: Floats, faces: Indices) -> NDArray[np.bool_]:
    """Return which triangles are a line or a point, in parts to bound the work space."""
    out = np.empty(len(faces), dtype=np.bool_)
    for start in range(0, len(faces), 500_000):
        part = faces[start : start + 500_000]
        a = points[part[:, 0]]
        ab, ac = points[part[:, 1]] - a, points[part[:, 2]] - a
        twice = np.linalg.norm(np.cross(ab, ac), axis=1)
        longest = np.maximum((ab**2).sum(axis=1), (ac**2).sum(axis=1))
        out[start : start + 500_000] = twice <= 1e-12 * longest
    return out


def _check_size(points: Floats, path: Path, unit: MeshUnit | None) -> None:
    low, high = points.min(axis=0), points.max(axis=0)
    size = float((high - low).max())
    taken = unit or "m"
    if size > LARGEST_M or not math.isfinite(size):
        raise InputError(
            f"{path}: {size:,.4g} m across if its unit is {taken}; at most {LARGEST_M:g} m. "
            "State the unit that it was exported in."
        )
    if size < SMALLEST_M:
        raise InputError(
            f"{path}: {size * 1000:.2g} mm across if its unit is {taken}; at least "
            f"{SMALLEST_M * 1000:g} mm. State the unit that it was exported in."
        )
    if float(np.abs(points).max()) > 1000 * LARGEST_M:
        raise InputError(
            f"{path}: lies {np.abs(points).max() / 1000:,.4g} km from its origin. Move it there."
        )
