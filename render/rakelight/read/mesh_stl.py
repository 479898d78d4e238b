"""STL (from memory; it has no written standard): text and binary."""

import numpy as np

from rakelight.errors import InputError
from rakelight.read.mesh_soup import Soup, TooManyTriangles, line_blocks, numbers

_HEAD = 84
_RECORD = np.dtype([("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("extra", "<u2")])


def looks_like_stl(data: bytes) -> bool:
    """Whether a file is binary STL to the byte, or begins as text STL does."""
    if len(data) > _HEAD:
        promised = int.from_bytes(data[80:84], "little")
        if promised and len(data) == _HEAD + promised * _RECORD.itemsize:
            return True
    start = data[:2048].lstrip().lower()
    return start.startswith(b"solid") and b"facet" in start and b"\0" not in start


def parse_stl(data: bytes, name: str, most: int) -> Soup:
    """Read an STL file; three own corners a triangle.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What messages call it.
    most : int
        Largest number of triangles.

    Raises
    ------
    InputError
        If it is neither text nor binary STL, or truncated.
    """
    promised = int.from_bytes(data[80:84], "little") if len(data) >= _HEAD else -1
    whole = promised >= 0 and len(data) == _HEAD + promised * _RECORD.itemsize
    # binary files may start with "solid" too, so the length decides first
    if not whole and data[:512].lstrip()[:5].lower() == b"solid" and b"\0" not in data[:512]:
        return _text(data, name, most)
    if promised < 0:
        raise InputError(f"{name}: too short for an STL file; truncated or of another kind.")
    present = (len(data) - _HEAD) // _RECORD.itemsize
    if promised > present:
        raise InputError(
            f"{name}: truncated, or no STL: {promised:,} triangles promised, {present:,} there."
        )
    if promised > most:
        raise TooManyTriangles
    table = np.frombuffer(data, _RECORD, promised, _HEAD)
    points = table["corners"].reshape(-1, 3).astype(np.float64)
    rest = len(data) - _HEAD - promised * _RECORD.itemsize
    notes = (f"{rest:,} bytes after the last triangle are not used",) if rest else ()
    return Soup(points, np.arange(len(points)).reshape(-1, 3), notes)


def _text(data: bytes, name: str, most: int) -> Soup:
    parts, facets, seen = [], 0, 0
    for lines in line_blocks(data):
        stripped = [line.lstrip() for line in lines]
        facets += sum(line[:5].lower() == b"facet" for line in stripped)
        corners = [line[6:] for line in stripped if line[:6].lower() == b"vertex"]
        if not corners:
            continue
        try:
            values = numbers(b" ".join(corners))
        except ValueError:
            values = np.empty(0)
        if values.size != 3 * len(corners):
            wrong = next(k for k, corner in enumerate(corners) if not _three(corner))
            shown = corners[wrong].decode("latin-1")[:40].strip()
            raise InputError(
                f"{name}: corner {seen + wrong + 1:,}: {shown!r} are not three numbers."
            )
        seen += len(corners)
        parts.append(values)
        if seen > 3 * most:
            raise TooManyTriangles
    if seen % 3 or seen != 3 * facets:
        raise InputError(
            f"{name}: truncated or broken: {facets:,} facets with {seen:,} corners in all; "
            "each has three."
        )
    points = np.concatenate(parts).reshape(-1, 3) if parts else np.empty((0, 3))
    return Soup(points, np.arange(len(points)).reshape(-1, 3))


def _three(corner: bytes) -> bool:
    try:
        return numbers(corner).size == 3
    except ValueError:
        return False
