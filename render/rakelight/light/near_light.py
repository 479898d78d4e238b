"""Light that a relief's vertices receive from the surface around them, vertex by vertex.

The pieces of a relief's hollows are a centimetre wide: right for what leaves by the mouths, too
coarse for a vertex in the joint between a lit ledge and the dark one above. Each vertex looks
around itself once more, at the vertices' own light. How bright that is counts; its colour is
that of the pieces.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.kernels.near_light import near_light
from rakelight.scene.surfaces import Surface
from rakelight.scene.white import LUMINANCE_WEIGHTS

Floats32 = NDArray[np.float32]

#: Azimuths lie on lines of the grid, so that every near edge is met.
TURNS = ((1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1))
#: Looks along each azimuth: how many there are that take in 1, 2, 4, ... vertices at once. Single
#: vertices further and further apart missed lit ledges a few vertices wide: 19 % of all reflected
#: light in the hollows of a grazed ledgestone (RMS) instead of 9 %, which every vertex gives too.
LOOKS = (4, 2, 2, 5)
#: Vertices that the widest look takes in.
WIDEST = 1 << (len(LOOKS) - 1)
#: Added to the height that each step faces, so that level ground has a mean too. [m]
LEVEL_M = np.float32(1e-7)
#: Rows that are taken in at a time: what they need stays in the processor's cache.
CHUNK_ROWS = 64
#: How far a vertex looks; what lies beyond has the exitance of what is seen nearer. [m]
REACH_M = 0.15
#: How far the form factor of what was seen may be from what the openness leaves.
SCALE = (0.5, 2.0)


def looks_along(step_m: float) -> NDArray[np.int32]:
    """Steps of the grid to each look, and how many vertices it takes in as a power of two."""
    out: list[tuple[int, int]] = []
    at = 1
    for power, count in enumerate(LOOKS):
        for _ in range(count):
            if not out or at * step_m < REACH_M:
                out.append((at, power))
                at += 1 << power
    return np.array(out, np.int32)


def take_in(
    heights_m: Floats32, light: Floats32, turn: tuple[int, int], tops: Floats32, fronts: Floats32
) -> None:
    """What looks that take in 1, 2, 4, ... vertices along one azimuth meet at each vertex.

    Parameters
    ----------
    heights_m, light : ndarray of float32, shape (rows + 2 WIDEST, columns + 2 WIDEST)
        Of the vertices, with a margin all round. [m], [lm/m2]
    turn : tuple of int
        Rows and columns of one step.
    tops, fronts : ndarray of float32, shape (levels, rows, columns)
        Filled: height of the highest vertex [m], and mean exitance of the steps up to each,
        weighted by the height that each one shows to whoever looks. [lm/m2]
    """
    rows, columns = tops.shape[1:]
    v, u = turn
    for start in range(0, rows, CHUNK_ROWS):
        size = (min(CHUNK_ROWS, rows - start), columns)
        left = WIDEST - 1  # steps beyond the last vertex that are still there
        window = [
            (WIDEST + at + min(0, left * step), WIDEST + at + count + max(0, left * step))
            for at, count, step in zip((start, 0), size, turn, strict=True)
        ]
        (r0, r1), (c0, c1) = window
        far, bright = heights_m[r0:r1, c0:c1], light[r0:r1, c0:c1]
        near, dim = (
            heights_m[r0 - v : r1 - v, c0 - u : c1 - u],
            light[r0 - v : r1 - v, c0 - u : c1 - u],
        )
        rises = np.maximum(far - near, np.float32(0))
        rises += LEVEL_M
        shown = (dim + bright) * np.float32(0.5)
        shown *= rises
        top = far
        for level in range(len(LOOKS)):
            if level:
                step = 1 << (level - 1)
                top = np.maximum(*_next_to(top, v * step, u * step))
                rises = np.add(*_next_to(rises, v * step, u * step))
                shown = np.add(*_next_to(shown, v * step, u * step))
                left -= step
            r, c = (left if step < 0 else 0 for step in turn)
            inner = (slice(r, r + size[0]), slice(c, c + columns))
            rows_here = slice(start, start + size[0])
            tops[level, rows_here] = top[inner]
            np.divide(shown[inner], rises[inner], out=fronts[level, rows_here])


def _next_to(field: Floats32, v: int, u: int) -> tuple[Floats32, Floats32]:
    """A field, and the same some rows and columns further, where both are there."""
    rows, columns = field.shape
    here = field[max(0, -v) : rows - max(0, v), max(0, -u) : columns - max(0, u)]
    there = field[max(0, v) : rows - max(0, -v), max(0, u) : columns - max(0, -u)]
    return here, there


def from_around(
    surface: Surface,
    normals: Floats32,
    openness: Floats32,
    exitance: Floats32,
    otherwise: Floats32,
) -> Floats32:
    """Illuminance of vertices by the relief itself, shape (rows, columns, bands). [lx]

    Parameters
    ----------
    surface : Surface
        With the relief.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    openness : ndarray of float32, shape (rows, columns)
        Form factor of each vertex to the room; the rest is what it sees of the relief.
    exitance : ndarray of float32, shape (rows, columns, bands)
        Of the vertices. [lm/m2]
    otherwise : ndarray of float32, shape (rows, columns, bands)
        By the pieces: its colour, and all of it for vertices that see nothing within reach. [lx]
    """
    if surface.relief is None:
        raise ValueError(f"{surface.name} has no relief")
    heights, grid = np.ascontiguousarray(surface.relief.heights_m), surface.grid
    turns = np.array(TURNS, np.int32)
    across, up = turns[:, 1] * grid.step_u_m, turns[:, 0] * grid.step_v_m
    azimuth = np.arctan2(across, up)
    gaps = np.diff(np.append(azimuth, azimuth[0])) % (2 * np.pi)
    width = (gaps + np.roll(gaps, 1)) / 2
    normals = np.ascontiguousarray(normals)
    tops, fronts = np.empty((2, len(LOOKS), *heights.shape), np.float32)
    found, hidden = np.zeros_like(heights), np.zeros_like(heights)
    looks = looks_along(min(grid.step_u_m, grid.step_v_m))
    wide, light = (np.pad(field, WIDEST, mode="edge") for field in (heights, _luminous(exitance)))
    for a, turn in enumerate(TURNS):
        take_in(wide, light, turn, tops, fronts)
        near_light(
            heights,
            normals,
            tops,
            fronts,
            turns[a],
            looks,
            np.float32(np.hypot(across[a], up[a])),
            np.float32(np.sin(azimuth[a])),
            np.float32(np.cos(azimuth[a])),
            np.float32(width[a] / np.pi),
            found,
            hidden,
        )
    rest = np.maximum(1 - openness, np.float32(0))
    some = hidden > np.float32(1e-4)
    scale = np.where(some, np.clip(rest / np.maximum(hidden, np.float32(1e-4)), *SCALE), 0)
    found *= scale.astype(np.float32)
    usual = _luminous(otherwise)
    usual_too = some & (usual > 0)
    ratio = np.divide(found, usual, out=np.ones_like(found), where=usual_too)
    out: Floats32 = otherwise * ratio[..., None]
    return out


def _luminous(field: Floats32) -> Floats32:
    """Luminance-weighted sum of bands, shape (rows, columns)."""
    if field.shape[2] == 1:
        return np.ascontiguousarray(field[..., 0])
    out: Floats32 = field @ LUMINANCE_WEIGHTS.astype(np.float32)
    return out
