"""Light that a relief's vertices receive from the surface around them, vertex by vertex.

The pieces of a relief's hollows are a centimetre wide: right for what leaves by the mouths, too
coarse for a vertex in the joint between a lit ledge and the dark one above. Each vertex looks
around itself once more, at the facets' own light: a vertex on an arris has the mean of two
facets, of which the one turned to the run is lit and the one turned to the joint is not. How
bright that is counts; its colour is that of the pieces.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.light.kernels.bands import go_on, set_level, weighed
from rakelight.light.kernels.facets import CORNERS, facet_exitance
from rakelight.light.kernels.near_light import near_light
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Surface
from rakelight.scene.white import luminance_weights, luminous

Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]
Azimuths = tuple[tuple[int, int], ...]

#: Azimuths of a quarter turn, in rows and columns. Nearly equal angles, and none along a line of
#: the grid: a relief that repeats every so many vertices has its crests there. Of all light in
#: hollows of a grazed ledgestone the looks miss 3 % (RMS) against rays, and twice as many azimuths
#: of twice the reach 2 %; with near looks at five vertices, not at eight, it was 6 %.
QUARTER = ((5, 1), (3, 2), (2, 3), (1, 5))
#: Those of a first look, which finds what the facets around send on of each other's light. What
#: they send besides the runs' is then 1.4 % of a hollow's light off (RMS, same ledgestone); with
#: the diagonals alone it was 5 %, with all sixteen it is 1.7 %.
FIRST_QUARTER = ((3, 1), (1, 3))
#: Near looks along each azimuth, one at each row (or column, if it goes that way).
NEAR = 8
#: Looks beyond at two vertices in turn: ledges are 10 to 25 vertices apart. With two such looks,
#: and those that take in more begun nearer, hollows of a grazed ledgestone were 6.4 % off (RMS) in
#: all, not 4.4; facets up to 24 vertices away bring 4.0 %, in 1.6 times the time.
PAIRS = 8
#: Looks of each width still further out, which take in 4, 8, 16, ... vertices at once. Single
#: vertices further and further apart missed lit ledges a few vertices wide: 15 % in such hollows.
OF_EACH_WIDTH = 2
#: The widest look takes in so many vertices, as a power of two.
WIDEST = 5
#: How far a vertex looks; what lies beyond has the exitance of what is seen nearer. [m]
REACH_M = 0.15
#: How far the form factor of what was seen may be from what the openness leaves.
SCALE = (np.float32(0.5), np.float32(2.0))
#: What is left of the last look's light at least, whatever it changed.
LEAST_KEPT = np.float32(0.5)
#: Form factor to it of vertices that see next to nothing of it.
LEAST_HIDDEN = np.float32(1e-4)


@dataclass(frozen=True, slots=True)
class Looks:
    """Where all vertices look, azimuth by azimuth; see the kernel."""

    signs: Ints
    more: Ints
    near: Ints
    near_mix: Floats32
    cells: Ints
    cell_mix: Floats32
    near_m: Floats32
    far: Ints
    far_m: Floats32
    widths: Ints
    angles: Floats32


def looks(step_u_m: float, step_v_m: float, azimuths: Azimuths = QUARTER) -> Looks:
    """Looks of a grid with these distances between columns and between rows."""
    quarter = np.array(azimuths)
    turned = quarter[:, ::-1] * (-1, 1)
    turns = np.concatenate([quarter, turned, -quarter, -turned])
    azimuth = np.arctan2(turns[:, 1] * step_u_m, turns[:, 0] * step_v_m)
    gaps = np.diff(np.append(azimuth, azimuth[0])) % (2 * np.pi)
    width = (gaps + np.roll(gaps, 1)) / 2
    far_count = _far_count(min(step_u_m, step_v_m))
    parts = [_along(abs(v), abs(u), far_count) for v, u in turns.tolist()]
    apart = np.abs(turns) / np.abs(turns).max(axis=1, keepdims=True)
    step_m = np.hypot(apart[:, 0] * step_v_m, apart[:, 1] * step_u_m)
    at = np.arange(1, NEAR + 1)
    _, middles = _far_steps(far_count)

    def kept(name: str, kind: type[np.generic]) -> NDArray[Any]:
        return np.array([part[name] for part in parts]).astype(kind)

    return Looks(
        signs=np.sign(turns).astype(np.int32),
        more=kept("more", np.int32),
        near=kept("near", np.int32),
        near_mix=kept("near_mix", np.float32),
        cells=kept("cells", np.int32),
        cell_mix=kept("cell_mix", np.float32),
        near_m=(at * step_m[:, None]).astype(np.float32),
        far=kept("far", np.int32).reshape(len(turns), far_count, 3),
        far_m=(np.array(middles) * step_m[:, None]).astype(np.float32),
        widths=kept("widths", np.int32),
        angles=np.stack([np.sin(azimuth), np.cos(azimuth), width / np.pi], 1).astype(np.float32),
    )


def _powers() -> list[int]:
    """How many vertices each far look takes in as a power of two; 0: two of them, in turn."""
    return [0] * PAIRS + [power for power in range(2, WIDEST + 1) for _ in range(OF_EACH_WIDTH)]


def _far_count(step_m: float) -> int:
    """How many far looks it takes to reach far enough."""
    starts, _ = _far_steps(len(_powers()))
    return sum(start * step_m < REACH_M for start in starts)


def _far_steps(count: int) -> tuple[list[int], list[float]]:
    """Steps to the first vertex of each far look and to its middle."""
    starts, middles, at = [], [], NEAR + 1
    for power in _powers()[:count]:
        size = 1 << power if power else 2
        starts.append(at)
        middles.append(at + (size - 1) / 2)
        at += size
    return starts, middles


def _along(v: int, u: int, far_count: int) -> dict[str, list[Any]]:
    """What `Looks` holds by the same names, of the azimuth of v rows and u columns."""
    slope = min(v, u) / max(v, u)  # steps aside, for each one ahead

    def placed(ahead: int, aside: int) -> list[int]:
        return [ahead, aside] if v > u else [aside, ahead]

    near, mix, cells, cell_mix = [], [], [], []
    for k in range(1, NEAR + 1):
        aside = math.floor(k * slope + 1e-9)
        near.append(placed(k, aside) + placed(k, aside + 1))
        mix.append(k * slope - aside)
        aside = math.floor((k - 0.5) * slope)
        cells.append(placed(k - 1, aside))
        sides = ((k - 1) * slope - aside, k * slope - aside)
        cell_mix.append([min(max(side, 0.0), 1.0) for side in sides])
    # a look's vertices step aside when a line of them has to be met again
    sideways = [math.floor((1 << power) * slope + 0.5) for power in range(WIDEST)]
    widths = [placed(1 << power, sideways[power]) for power in range(WIDEST)]
    far = []
    most = [NEAR, math.floor(NEAR * slope + 1e-9) + 1]
    for power, start, middle in zip(_powers(), *_far_steps(far_count), strict=False):
        wide = sum(sideways[: power or 1])
        aside = math.floor(middle * slope - wide / 2 + 0.5)
        far.append([*placed(start, aside), power])
        most = [start + (1 << (power or 1)) - 1, max(most[1], aside + wide)]
    return {
        "near": near,
        "near_mix": mix,
        "cells": cells,
        "cell_mix": cell_mix,
        "far": far,
        "widths": widths,
        "more": placed(*most),
    }


def at_corners(field: Floats32) -> Floats32:
    """Values of vertices, (rows, columns), at the corners of the cells between them.

    Shape (4, rows - 1, columns - 1): lower left, lower right, upper left and upper right corner.
    """
    rows, columns = field.shape
    return np.stack([field[v : rows - 1 + v, u : columns - 1 + u] for v, u in CORNERS])


def sent_by_facets(
    surface: Surface,
    normals: Floats32,
    lit: Lit,
    weights: Floats32,
    reflected_lx: Floats32,
    rho: Floats32,
) -> Floats32:
    """Exitance of a relief's facets at their corners, as `at_corners` orders them. [lm/m2]

    Direct light falls on a facet by its own normal, as far as its direction is known, and on each
    quarter of it by itself where a shadow's edge crosses it: of vertices in the joints of a grazed
    brick wall, those that see a ledge in half shadow were up to 13 % off. Other light comes from
    everywhere, so that a vertex's serves all its facets.

    Parameters
    ----------
    surface : Surface
        With the relief.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    lit : Lit
        Direct light.
    weights : ndarray of float32, shape (groups, bands)
        Output of each group in each band.
    reflected_lx : ndarray of float32, shape (rows, columns, bands)
        All other light on the vertices.
    rho : ndarray of float32, shape (bands,)
        Reflectance.
    """
    if surface.relief is None:
        raise ValueError(f"{surface.name} has no relief")
    direct_lx, toward_lx = lit.direct_lx[surface.name], lit.toward_lx.get(surface.name)
    sent = luminous(weights * rho)
    rest = np.empty(reflected_lx.shape[:2], np.float32)
    weighed(reflected_lx, (luminance_weights(rho.size) * rho).astype(np.float32), rest)
    if toward_lx is None:
        return at_corners(rest + np.tensordot(sent, direct_lx, axes=(0, 0)))
    grid = surface.grid
    out = np.empty((4, grid.rows - 1, grid.columns - 1), np.float32)
    steps = np.float32(grid.step_u_m), np.float32(grid.step_v_m)
    edges = lit.edges.get(surface.name)
    cells = np.full(out.shape[1:], -1, np.int32) if edges is None else edges.cells
    around = np.zeros((0, 5), np.int32) if edges is None else edges.around
    between = np.zeros((len(sent), 3, 0), np.float32) if edges is None else edges.toward_lx
    facet_exitance(
        surface.relief.heights_m, normals, direct_lx, toward_lx, sent, *steps, rest,
        cells, around, between, out,
    )  # fmt: skip
    return out


def from_around(
    surface: Surface,
    normals: Floats32,
    openness: Floats32,
    corners: Floats32,
    otherwise: Floats32,
    azimuths: Azimuths = QUARTER,
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
    corners : ndarray of float32, shape (4, rows - 1, columns - 1)
        Exitance of the facets, from `sent_by_facets`. [lm/m2]
    otherwise : ndarray of float32, shape (rows, columns, bands)
        By the pieces: its colour, and all of it for vertices that see nothing within reach. [lx]
    azimuths : tuple of (int, int)
        Azimuths of a quarter turn, in rows and columns.
    """
    if surface.relief is None:
        raise ValueError(f"{surface.name} has no relief")
    grid = surface.grid
    found, hidden = seen_around(
        surface.relief.heights_m, normals, corners, grid.step_u_m, grid.step_v_m, azimuths
    )
    weights, out = luminance_weights(otherwise.shape[2]), np.empty_like(otherwise)
    set_level(otherwise, weights, found, hidden, openness, LEAST_HIDDEN, *SCALE, out)
    return out


def all_looks(last: Floats32, before: Floats32, openness: Floats32, rho: Floats32) -> None:
    """Take a look's light to what more and more looks would end at, by what it changed; in place.

    Each look adds a reflection between the vertices around. A share of the light that reaches a
    vertex by them, about its reflectance times what it sees of them, goes round again; so do the
    errors of a first look with few azimuths, which this takes out of the last one too.

    Parameters
    ----------
    last, before : ndarray of float32, shape (rows, columns, bands)
        Illuminance by the last look, and by what it started from. [lx]
    openness : ndarray of float32, shape (rows, columns)
        Form factor of each vertex to the room.
    rho : ndarray of float32, shape (bands,)
        Reflectance, below 1.
    """
    go_on(before, openness, rho, LEAST_KEPT, last)


def seen_around(
    heights_m: Floats32,
    normals: Floats32,
    corners: Floats32,
    step_u_m: float,
    step_v_m: float,
    azimuths: Azimuths = QUARTER,
) -> tuple[Floats32, Floats32]:
    """Illuminance of a height field's vertices by itself within reach, and their form factor to it.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Height field. [m]
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    corners : ndarray of float32, shape (4, rows - 1, columns - 1)
        Exitance of each cell at its corners, as `at_corners` orders them. [lm/m2]
    step_u_m, step_v_m : float
        Distance between columns and between rows. [m]
    azimuths : tuple of (int, int)
        Azimuths of a quarter turn, in rows and columns.

    Returns
    -------
    ndarray of float32, two of shape (rows, columns)
        Illuminance [lx], and form factor to what is seen within reach.
    """
    where = looks(step_u_m, step_v_m, azimuths)
    found, hidden = np.zeros_like(heights_m), np.zeros_like(heights_m)
    near_light(
        np.ascontiguousarray(heights_m),
        np.ascontiguousarray(normals),
        corners,
        _means(corners),
        where.signs,
        where.more,
        where.near,
        where.near_mix,
        where.cells,
        where.cell_mix,
        where.near_m,
        where.far,
        where.far_m,
        where.widths,
        where.angles,
        found,
        hidden,
    )
    return found, hidden


def _means(corners: Floats32) -> Floats32:
    """Means of the cells' values at each vertex, shape (rows, columns)."""
    rows, columns = corners.shape[1] + 1, corners.shape[2] + 1
    out = np.zeros((rows, columns), np.float32)
    for (v, u), corner in zip(CORNERS, corners, strict=True):
        out[v : rows - 1 + v, u : columns - 1 + u] += corner
    out[1:-1] *= np.float32(0.5)
    out[:, 1:-1] *= np.float32(0.5)
    return out
