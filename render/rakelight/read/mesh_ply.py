"""PLY (the polygon file format of 1994, from memory): text, and binary of both byte orders."""

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.mesh_soup import Floats, Indices, Soup, as_indices, fan, numbers, split_note

_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2",
    "ushort": "u2", "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4",
    "float": "f4", "float32": "f4", "double": "f8", "float64": "f8",
}  # fmt: skip
_FORMATS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_LONGEST_HEADER = 65_536


class _Property(NamedTuple):
    name: str
    kind: str
    counted_by: str | None  # type of the count of a list; None: one value


class _Element(NamedTuple):
    name: str
    size: int
    properties: list[_Property]


def parse_ply(data: bytes, name: str, most: int) -> Soup:
    """Read a PLY file.

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
        If it is no PLY, is truncated, or holds no faces.
    """
    order, elements, at = _header(data, name)
    for element in elements:
        if element.size > len(data) - at:  # each takes at least one byte
            raise InputError(f"{name}: truncated: {element.size:,} x {element.name} are promised.")
    body = _Text(data[at:], name) if order == "" else _Binary(data, at, order, name)
    points: Floats | None = None
    faces: tuple[Indices, Indices] | None = None
    for element in elements:
        if element.name == "vertex":
            points = body.vertices(element)
        elif element.name == "face":
            faces = body.faces(element)
        elif points is None or faces is None:
            body.skip(element)
        if points is not None and faces is not None:
            break
    if points is None:
        raise InputError(f'{name}: has no element "vertex", so no points.')
    if faces is None or faces[1].size == 0:
        what = "triangle strips" if any(e.name == "tristrips" for e in elements) else "points only"
        raise InputError(f"{name}: holds {what}. Export it as a mesh of triangles.")
    triangles, split = fan(*faces, most)
    return Soup(points, triangles, split_note(split))


def _header(data: bytes, name: str) -> tuple[str, list[_Element], int]:
    found = re.search(rb"(?:^|[\r\n])end_header[ \t]*(\r\n|\r|\n)", data[:_LONGEST_HEADER])
    if not found:
        raise InputError(f"{name}: PLY without end_header; truncated or broken.")
    order: str | None = None
    elements: list[_Element] = []
    lines = data[: found.start()].decode("latin-1").splitlines()
    for number, line in enumerate(lines[1:], 2):
        words = line.split()
        try:
            if not words or words[0] in ("comment", "obj_info"):
                continue
            if words[0] == "format":
                order = _FORMATS[words[1]]
            elif words[0] == "element":
                if not re.fullmatch(r"\d{1,15}", words[2], re.ASCII):
                    raise ValueError
                elements.append(_Element(words[1], int(words[2]), []))
            elif words[0] == "property" and words[1] == "list":
                entry = _Property(words[4], _TYPES[words[3]], _TYPES[words[2]])
                elements[-1].properties.append(entry)
            elif words[0] == "property":
                elements[-1].properties.append(_Property(words[2], _TYPES[words[1]], None))
            else:
                raise ValueError
        except (KeyError, IndexError, ValueError):
            raise InputError(
                f"{name}: line {number}: {' '.join(words)[:40]!r} is no line of a PLY header."
            ) from None
    if order is None:
        raise InputError(f"{name}: the header has no format line.")
    return order, elements, found.end()


def _places(element: _Element, name: str) -> list[int]:
    names = [p.name for p in element.properties]
    try:
        return [names.index(axis) for axis in "xyz"]
    except ValueError:
        raise InputError(f"{name}: its vertices have no x, y and z.") from None


def _corner_list(element: _Element, name: str) -> int:
    for k, prop in enumerate(element.properties):
        if prop.name in ("vertex_indices", "vertex_index"):
            if prop.counted_by is None:
                break
            return k
    raise InputError(f'{name}: its faces have no list "vertex_indices".')


def _scalars_only(element: _Element, name: str) -> None:
    if any(p.counted_by is not None for p in element.properties):
        raise InputError(
            f"{name}: {element.name} holds lists, which this reader does not know. "
            "Export it again without extra data."
        )


class _Text:
    """The body of a text file: all its numbers, taken element by element."""

    def __init__(self, body: bytes, name: str) -> None:
        self.name = name
        try:
            self.values = numbers(body)
        except ValueError:
            raise InputError(f"{name}: something after the header is no number.") from None
        self.at = 0

    def _take(self, count: int, what: str) -> Floats:
        if self.at + count > self.values.size:
            raise InputError(f"{self.name}: truncated among its {what} elements.")
        self.at += count
        return self.values[self.at - count : self.at]

    def vertices(self, element: _Element) -> Floats:
        _scalars_only(element, self.name)
        places = _places(element, self.name)
        width = len(element.properties)
        table = self._take(element.size * width, element.name).reshape(element.size, width)
        return table[:, places]

    def faces(self, element: _Element) -> tuple[Indices, Indices]:
        chosen = _corner_list(element, self.name)
        if element.size == 0:
            return np.empty(0, np.int64), np.empty(0, np.int64)
        if len(element.properties) == 1:
            # nearly every file: the same number of corners everywhere
            corners = self._count(self.at)
            size = element.size * (corners + 1)
            if self.at + size <= self.values.size:
                table = self.values[self.at : self.at + size].reshape(element.size, corners + 1)
                if (table[:, 0] == corners).all():
                    self.at += size
                    counts = np.full(element.size, corners)
                    return as_indices(table[:, 1:].ravel(), self.name), counts
        firsts = np.empty(element.size, np.int64)
        counts = np.empty(element.size, np.int64)
        at = self.at
        for row in range(element.size):
            for k, prop in enumerate(element.properties):
                size = 1
                if prop.counted_by is not None:
                    size = self._count(at)
                    at += 1
                    if k == chosen:
                        firsts[row], counts[row] = at, size
                at += size
            if at > self.values.size:
                raise InputError(f"{self.name}: truncated among its face elements.")
        self.at = at
        total = int(counts.sum())
        before = np.repeat(np.cumsum(counts) - counts, counts)
        places = np.repeat(firsts, counts) + np.arange(total) - before
        return as_indices(self.values[places], self.name), counts

    def _count(self, at: int) -> int:
        if at >= self.values.size:
            raise InputError(f"{self.name}: truncated among its face elements.")
        value = float(self.values[at])
        if not (0 <= value <= self.values.size and value == int(value)):
            raise InputError(f"{self.name}: a face with {value:g} corners.")
        return int(value)

    def skip(self, element: _Element) -> None:
        _scalars_only(element, self.name)
        self._take(element.size * len(element.properties), element.name)


class _Binary:
    """The body of a binary file, read in place."""

    def __init__(self, data: bytes, at: int, order: str, name: str) -> None:
        self.data, self.at, self.order, self.name = data, at, order, name

    def _truncated(self, element: _Element) -> InputError:
        return InputError(f"{self.name}: truncated among its {element.name} elements.")

    def _table(self, element: _Element) -> NDArray[np.void]:
        _scalars_only(element, self.name)
        kinds = [(f"p{k}", self.order + p.kind) for k, p in enumerate(element.properties)]
        row = np.dtype(kinds)
        size = element.size * row.itemsize
        if self.at + size > len(self.data):
            raise self._truncated(element)
        start, self.at = self.at, self.at + size
        if size == 0:
            return np.empty(element.size, row)
        return np.frombuffer(self.data, row, element.size, start)

    def vertices(self, element: _Element) -> Floats:
        places = _places(element, self.name)
        table = self._table(element)
        out = np.empty((element.size, 3))
        for axis, k in enumerate(places):
            out[:, axis] = table[f"p{k}"]
        return out

    def skip(self, element: _Element) -> None:
        self._table(element)

    def faces(self, element: _Element) -> tuple[Indices, Indices]:
        chosen = _corner_list(element, self.name)
        if element.size == 0:
            return np.empty(0, np.int64), np.empty(0, np.int64)
        return self._even_faces(element, chosen) or self._uneven_faces(element, chosen)

    def _even_faces(self, element: _Element, chosen: int) -> tuple[Indices, Indices] | None:
        """Read faces as a table, if every list is as long as in the first face."""
        kinds: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
        lengths = {}
        at = self.at
        for k, prop in enumerate(element.properties):
            size = 1
            if prop.counted_by is not None:
                size, at = self._count(prop.counted_by, at, element)
                lengths[k] = size
                kinds.append((f"n{k}", self.order + prop.counted_by))
            kinds.append((f"p{k}", self.order + prop.kind, (size,)))
            at += size * np.dtype(prop.kind).itemsize
        row = np.dtype(kinds)
        if self.at + element.size * row.itemsize > len(self.data):
            return None
        table = np.frombuffer(self.data, row, element.size, self.at)
        if not all((table[f"n{k}"] == size).all() for k, size in lengths.items()):
            return None
        self.at += element.size * row.itemsize
        return self._whole(table[f"p{chosen}"].ravel()), np.full(element.size, lengths[chosen])

    def _uneven_faces(self, element: _Element, chosen: int) -> tuple[Indices, Indices]:
        kind = np.dtype(self.order + element.properties[chosen].kind)
        parts: list[bytes] = []
        counts = np.empty(element.size, np.int64)
        at = self.at
        for row in range(element.size):
            for k, prop in enumerate(element.properties):
                size = 1
                if prop.counted_by is not None:
                    size, at = self._count(prop.counted_by, at, element)
                end = at + size * np.dtype(prop.kind).itemsize
                if end > len(self.data):
                    raise self._truncated(element)
                if k == chosen:
                    parts.append(self.data[at:end])
                    counts[row] = size
                at = end
        self.at = at
        return self._whole(np.frombuffer(b"".join(parts), kind)), counts

    def _whole(self, values: NDArray[np.generic]) -> Indices:
        if values.dtype.kind == "f":
            return as_indices(values.astype(np.float64), self.name)
        return values.astype(np.int64)

    def _count(self, kind: str, at: int, element: _Element) -> tuple[int, int]:
        dtype = np.dtype(self.order + kind)
        if at + dtype.itemsize > len(self.data):
            raise self._truncated(element)
        value = float(np.frombuffer(self.data, dtype, 1, at)[0])
        if not (0 <= value <= len(self.data) and value == int(value)):
            raise InputError(f"{self.name}: a face with {value:g} corners.")
        return int(value), at + dtype.itemsize
