"""OBJ text files (from memory): vertices and polygons; all else is passed over."""

import re

import numpy as np

from rakelight.errors import InputError
from rakelight.read.mesh_soup import (
    Floats,
    Indices,
    Soup,
    TooManyTriangles,
    as_indices,
    fan,
    line_blocks,
    numbers,
    split_note,
)

# "fo" is what the first editions of the format called a face
_VERTEX, _FACE = (b"v", b"V"), (b"f", b"F", b"fo")
_COMMENT = re.compile(rb"#[^\r\n]*")
_CONTINUED = re.compile(rb"\\\r?\n")
_AFTER_SLASH = re.compile(rb"/[^\s]*")


def parse_obj(data: bytes, name: str, most: int) -> Soup:
    """Read an OBJ file.

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
        If a vertex or a face cannot be read.
    """
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"#" in data:
        data = _COMMENT.sub(b"", data)
    if b"\\" in data:
        data = _CONTINUED.sub(b" ", data)
    points: list[Floats] = []
    faces: list[Indices] = []
    known = split = triangles = line_number = 0
    for lines in line_blocks(data):
        kinds = [line.split(None, 1) for line in lines]
        start = line_number
        line_number += len(lines)
        vertex_at = [k for k, words in enumerate(kinds) if words and words[0] in _VERTEX]
        face_at = [k for k, words in enumerate(kinds) if words and words[0] in _FACE]
        if vertex_at:
            rests = [kinds[k][1] if len(kinds[k]) > 1 else b"" for k in vertex_at]
            points.append(_vertices(rests, [start + k + 1 for k in vertex_at], name))
        if face_at:
            rests = [kinds[k][1] if len(kinds[k]) > 1 else b"" for k in face_at]
            # a negative index counts back from the vertices read so far
            ahead = known + np.searchsorted(np.array(vertex_at, np.int64), np.array(face_at))
            flat, counts = _corners(rests, [start + k + 1 for k in face_at], ahead, name)
            part, more = fan(flat, counts, most)
            faces.append(part)
            split += more
            triangles += len(part)
            if triangles > most:
                raise TooManyTriangles
        known += len(vertex_at)
    return Soup(
        np.concatenate(points) if points else np.empty((0, 3)),
        np.concatenate(faces) if faces else np.empty((0, 3), np.int64),
        split_note(split),
    )


def _vertices(rests: list[bytes], line_numbers: list[int], name: str) -> Floats:
    width = len(rests[0].split())
    if width in (3, 4, 6, 7):  # alone, with a weight, with a colour
        try:
            values = numbers(b"\n".join(rests))
        except ValueError:
            values = np.empty(0)
        # a line feed between lines alone does not say that each line has as many
        if values.size == width * len(rests) and all(len(rest.split()) == width for rest in rests):
            return values.reshape(-1, width)[:, :3]
    out = np.empty((len(rests), 3))
    for k, rest in enumerate(rests):
        try:
            row = numbers(rest)
        except ValueError:
            row = np.empty(0)
        if row.size < 3:
            shown = rest.decode("latin-1")[:40].strip()
            raise InputError(
                f"{name}: line {line_numbers[k]}: vertex {shown!r} is not three numbers."
            )
        out[k] = row[:3]
    return out


def _corners(
    rests: list[bytes], line_numbers: list[int], ahead: Indices, name: str
) -> tuple[Indices, Indices]:
    counts = np.array([len(rest.split()) for rest in rests], np.int64)
    blob = b"\n".join(rests)
    if b"/" in blob:
        blob = _AFTER_SLASH.sub(b"", blob)
    try:
        values = numbers(blob)
    except ValueError:
        values = np.empty(0)
    if values.size != counts.sum() or (counts < 3).any():
        for k, rest in enumerate(rests):
            try:
                good = numbers(_AFTER_SLASH.sub(b"", rest)).size == counts[k] >= 3
            except ValueError:
                good = False
            if not good:
                shown = rest.decode("latin-1")[:40].strip()
                raise InputError(
                    f"{name}: line {line_numbers[k]}: face {shown!r} is not three corners or more."
                )
    flat = as_indices(values, name)
    if (flat == 0).any():
        raise InputError(f"{name}: a face names vertex 0; they are counted from 1.")
    back = flat < 0
    if back.any():
        return np.where(back, np.repeat(ahead, counts) + flat, flat - 1), counts
    return flat - 1, counts
