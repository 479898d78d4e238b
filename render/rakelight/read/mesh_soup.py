"""What every mesh format is first read into, and what the readers of text formats share.

The formats are read here, in numpy, rather than by VTK: its readers end the process on a face
that names a vertex which is not there, and on a header that promises too much.
"""

import re
import warnings
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

# D is how Fortran writes the exponent of a long number
_FORTRAN = re.compile(rb"(?<=[\d.])[dD](?=[+-]?\d)")
_BLOCK = 32_000_000  # bytes of text that are split into lines at once


class Soup(NamedTuple):
    """Points and triangles as they stand in a file, in its own unit and axes.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 3)
        In the file's unit.
    faces : ndarray of int64, shape (m, 3)
        Not yet checked against the number of points.
    notes : tuple of str
        What was done on the way.
    """

    points: Floats
    faces: Indices
    notes: tuple[str, ...] = ()


class TooManyTriangles(Exception):
    """A mesh that passes the limit of triangles."""


def line_blocks(data: bytes) -> Iterator[list[bytes]]:
    """Split text into lines, some megabytes at a time, so that no list of all lines is made."""
    start = 0
    while start < len(data):
        end = len(data)
        if end - start > _BLOCK:
            cut = data.rfind(b"\n", start, start + _BLOCK)
            # a line longer than a block is taken whole
            cut = cut if cut >= start else data.find(b"\n", start + _BLOCK)
            end = end if cut < 0 else cut + 1
        yield data[start:end].splitlines()
        start = end


def numbers(text: bytes) -> Floats:
    """Read numbers between white space.

    Raises
    ------
    ValueError
        If anything else stands there.
    """
    if b"\0" in text:  # the parser below takes it for the end
        raise ValueError("not numbers")
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        for attempt in (text, _FORTRAN.sub(b"e", text)):
            try:
                return np.fromstring(attempt, dtype=np.float64, sep=" ")
            except (DeprecationWarning, ValueError):
                continue
    raise ValueError("not numbers")


def as_indices(values: Floats, name: str) -> Indices:
    """Whole numbers from floats, or a fault."""
    if values.size and not (np.abs(values) < 2**53).all():  # catches NaN too
        raise InputError(f"{name}: a face names a vertex that is no number.")
    whole = values.astype(np.int64)
    if not np.array_equal(whole, values):
        raise InputError(f"{name}: a face names a vertex by a broken number; indices are whole.")
    return whole


def fan(flat: Indices, counts: Indices, most: int) -> tuple[Indices, int]:
    """Split polygons into triangles that share the polygon's first corner.

    Parameters
    ----------
    flat : ndarray of int64
        Corners of all polygons, one after the other.
    counts : ndarray of int64
        Corners of each.
    most : int
        Largest number of triangles.

    Returns
    -------
    faces : ndarray of int64, shape (m, 3)
        Right for convex polygons.
    split : int
        How many polygons had more than three corners.

    Raises
    ------
    TooManyTriangles
        Beyond `most`.
    """
    triangles = np.clip(counts - 2, 0, None)
    if int(triangles.sum()) > most:
        raise TooManyTriangles
    if (counts == 3).all():
        return flat.reshape(-1, 3), 0
    first = np.repeat(np.cumsum(counts) - counts, triangles)
    before = np.repeat(np.cumsum(triangles) - triangles, triangles)
    k = np.arange(first.size) - before  # which triangle of its polygon
    faces = np.stack([flat[first], flat[first + k + 1], flat[first + k + 2]], axis=1)
    return faces, int((counts > 3).sum())


def split_note(split: int) -> tuple[str, ...]:
    """Say what `fan` did."""
    if not split:
        return ()
    return (f"{split:,} polygons were split into triangles, right for convex ones",)
