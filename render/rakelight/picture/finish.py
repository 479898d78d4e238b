"""Reflectance at every scale: a pyramid of box averages in linear light."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.kernels.shade import reflectance_seen
from rakelight.picture.tone import srgb_decode
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.surfaces import Room

FULL = 65535.0


@dataclass(frozen=True, slots=True, eq=False)
class Pyramid:
    """A reflectance map and its averages over ever larger texels.

    Parameters
    ----------
    texels : ndarray of uint16, shape (k, 3)
        All levels one after the other, each row by row from the foot: linear reflectance
        before the map's scale, 65535 = 1. Level 0 is the map itself.
    sizes : ndarray of int64, shape (levels, 3)
        First texel, rows and columns of each level.
    source : ReflectanceMap
        Where it came from.
    """

    texels: NDArray[np.uint16]
    sizes: NDArray[np.int64]
    source: ReflectanceMap


def pyramid(source: ReflectanceMap) -> Pyramid:
    """Build the pyramid; every level has the mean of the map (to the 16-bit step)."""
    table = srgb_decode(np.arange(256) / 255).astype(np.float32)
    level = table[source.encoded]
    levels = [level]
    while max(level.shape[:2]) > 1:
        level = _halved(_halved(level, 0), 1)
        levels.append(level)
    sizes, first = [], 0
    for level in levels:
        sizes.append((first, *level.shape[:2]))
        first += level.shape[0] * level.shape[1]
    texels = np.concatenate([np.round(x.reshape(-1, 3) * FULL).astype(np.uint16) for x in levels])
    return Pyramid(texels, np.array(sizes, np.int64), source)


def finishes(room: Room) -> Mapping[str, Pyramid]:
    """Pyramids of all surfaces that have a reflectance map, by surface; make them once.

    Surfaces that share a map share its pyramid.
    """
    made: dict[int, Pyramid] = {}
    out: dict[str, Pyramid] = {}
    for surface in room.surfaces:
        source = surface.reflectance_map
        if source is not None:
            if id(source) not in made:
                made[id(source)] = pyramid(source)
            out[surface.name] = made[id(source)]
    return out


def add_reflectance(
    stone: Pyramid,
    place: tuple[NDArray[np.int16], NDArray[np.float32], NDArray[np.float32], int, int],
    out: NDArray[np.uint16],
) -> None:
    """Fill in what the samples of one surface have of its map, along their footprints.

    Parameters
    ----------
    stone : Pyramid
        Its map.
    place : tuple
        Ids, u and v of all the picture's samples, the band's first row, the surface's id.
    out : ndarray of uint16, shape (band rows, columns, 3)
        As texels are stored; samples of other surfaces stay as they are.
    """
    size = 1 / stone.source.width_m, 1 / stone.source.height_m
    reflectance_seen(*place, stone.texels, stone.sizes, *size, stone.source.mirror, out)


def reflectances(
    ids: NDArray[np.int16],
    u_m: NDArray[np.float32],
    v_m: NDArray[np.float32],
    room: Room,
    finish: Mapping[str, Pyramid],
) -> NDArray[np.uint16]:
    """What all samples have of their surfaces' maps, for several pictures of one view.

    Parameters
    ----------
    ids, u_m, v_m : ndarray, shape (rows, columns)
        As in `View`; bodies may be left out.
    room : Room
        The surfaces, by id.
    finish : mapping of str to Pyramid
        `finishes(room)`.

    Returns
    -------
    ndarray of uint16, shape (rows, columns, 3)
        As `add_reflectance` fills it in; 0 where a sample's surface has no map.
    """
    out = np.zeros((*ids.shape, 3), np.uint16)
    for index, surface in enumerate(room.surfaces):
        if surface.name in finish:
            add_reflectance(finish[surface.name], (ids, u_m, v_m, 0, index), out)
    return out


def _halved(values: NDArray[np.float32], axis: int) -> NDArray[np.float32]:
    """Half as many texels along an axis (rounded up), each the average of what it covers."""
    count = values.shape[axis]
    if count == 1:
        return values
    moved = np.moveaxis(values, axis, 0)
    if count % 2 == 0:
        half = (moved[0::2] + moved[1::2]) * np.float32(0.5)
    else:
        edges = np.linspace(0, count, (count + 1) // 2 + 1)
        sums = np.concatenate([np.zeros_like(moved[:1]), np.cumsum(moved, 0, np.float64)])
        low = np.minimum(edges.astype(np.int64), count - 1)
        part = (edges - low).reshape(-1, *[1] * (moved.ndim - 1))
        running = sums[low] + part * moved[low]
        half = (np.diff(running, axis=0) / (edges[1] - edges[0])).astype(np.float32)
    return np.moveaxis(half, 0, axis)
