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
#: Steps that are looked at one by one, and the growth of those beyond.
ONE_BY_ONE = 4
GROWTH = 1.35
#: How far a vertex looks; what lies beyond has the exitance of what is seen nearer. [m]
REACH_M = 0.15
#: Looks along each azimuth, at most.
MOST_LOOKS = 16
#: How far the form factor of what was seen may be from what the openness leaves.
SCALE = (0.5, 2.0)


def strides(step_m: float) -> NDArray[np.int32]:
    """Steps of the grid to each look along one of its lines."""
    out: list[int] = []
    at = 0.0
    while len(out) < MOST_LOOKS and (not out or out[-1] * step_m < REACH_M):
        at = max(at + 1, at * GROWTH) if at >= ONE_BY_ONE else at + 1
        out.append(round(at))
    return np.array(out, np.int32)


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
    turns = np.array(TURNS)
    looks = strides(min(grid.step_u_m, grid.step_v_m))
    across, up = turns[:, 1] * grid.step_u_m, turns[:, 0] * grid.step_v_m
    azimuth = np.arctan2(across, up)
    gaps = np.diff(np.append(azimuth, azimuth[0])) % (2 * np.pi)
    width = (gaps + np.roll(gaps, 1)) / 2
    found, hidden = np.zeros((1, *heights.shape), np.float32), np.zeros_like(heights)
    near_light(
        heights,
        np.ascontiguousarray(normals),
        _luminous(exitance)[None],
        (looks[None, :, None] * turns[:, None]).astype(np.int32),
        (looks * np.hypot(across, up)[:, None]).astype(np.float32),
        np.sin(azimuth).astype(np.float32),
        np.cos(azimuth).astype(np.float32),
        (width / np.pi).astype(np.float32),
        found,
        hidden,
    )
    rest = np.maximum(1 - openness, np.float32(0))
    some = hidden > np.float32(1e-4)
    usual = _luminous(otherwise)
    some &= usual > 0
    ratio = np.clip(np.divide(rest, hidden, out=rest, where=some), *SCALE)
    ratio *= found[0]
    ratio = np.divide(ratio, usual, out=np.ones_like(usual), where=some)
    out: Floats32 = otherwise * ratio[..., None]
    return out


def _luminous(field: Floats32) -> Floats32:
    """Luminance-weighted sum of bands, shape (rows, columns)."""
    if field.shape[2] == 1:
        return np.ascontiguousarray(field[..., 0])
    out: Floats32 = field @ LUMINANCE_WEIGHTS.astype(np.float32)
    return out
