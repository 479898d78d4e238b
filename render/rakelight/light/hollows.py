"""Interreflection inside a relief's hollows, by pieces of surface that see each other.

A piece is a block of cells about a centimetre wide, cut by height where it is steep. From each
one a march over the height field along a few azimuths finds all that lies below its horizon
and how much of it is seen. These links depend on the relief alone; one pass over them is one
more reflection inside the hollows.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import TERMS
from rakelight.light.kernels.hollow_light import exchange, light_vertices
from rakelight.light.kernels.hollows import link_pieces
from rakelight.light.kernels.pieces import measure_blocks, piece_means
from rakelight.scene.relief import Relief

Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Width of a block of cells. [m]
BLOCK_M = 0.010
#: Azimuths of a block's march over the whole turn; four neighbours have four times as many.
AZIMUTHS = 8
#: Longest stride of the march over the distance gone.
GROWTH = 0.08
#: Links of a piece for each azimuth, at most; more are added to its last one.
MOST_LINKS = 64
#: Blocks whose links are found at a time: about 100 MB.
CHUNK_BLOCKS = 6_000
#: Reflections inside a hollow are followed until they add less than this share.
RESIDUAL = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Hollows:
    """A relief's pieces and what they see of each other.

    Parameters
    ----------
    relief : Relief
        Whose they are.
    size : int
        Cells along each side of a block.
    steep_m : float
        Height of a piece where a block is cut by height. [m]
    low_m, high_m : ndarray of float32, shape (block rows, block columns)
        Height range of each block. [m]
    bins, first : ndarray of int32, shape (block rows, block columns)
        Pieces of each block, by height, and the number of its first one.
    area_m2 : ndarray of float32, shape (pieces,)
        True area. [m2]
    moments : ndarray of float32, shape (TERMS, pieces)
        Openness and the moments of the directions that each piece is open to.
    starts : ndarray of int64, shape (pieces + 1,)
        Where each piece's links start.
    targets : ndarray of int32, shape (links,)
        Which piece is seen.
    weights : ndarray of float32, shape (links,)
        Form factor to it; a piece's sum is 1 - openness.
    """

    relief: Relief
    size: int
    steep_m: float
    low_m: Floats32
    high_m: Floats32
    bins: Ints
    first: Ints
    area_m2: Floats32
    moments: Floats32
    starts: NDArray[np.int64]
    targets: Ints
    weights: Floats32

    @property
    def whole_cells(self) -> NDArray[np.bool_]:
        """Cells that are on the relief with all four corners, shape (rows - 1, columns - 1)."""
        mask = self.relief.mask
        return mask[1:, 1:] & mask[:-1, :-1] & mask[1:, :-1] & mask[:-1, 1:]

    @property
    def openness(self) -> Floats32:
        """Form factor of each piece to the room, shape (pieces,)."""
        out: Floats32 = self.moments[0]
        return out

    @property
    def mouth_m2(self) -> Floats32:
        """Area times openness of each piece: its share of the hollows' mouths. [m2]"""
        return self.area_m2 * self.openness

    def places(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """u and v of the block that each piece belongs to, shape (pieces,). [m]"""
        grid = self.relief.grid
        block_rows, block_columns = self.bins.shape
        u = np.minimum((np.arange(block_columns) + 0.5) * self.size, grid.columns - 1)
        v = np.minimum((np.arange(block_rows) + 0.5) * self.size, grid.rows - 1)
        repeats = self.bins.ravel()
        return (
            np.repeat(np.tile(u * grid.step_u_m, block_rows), repeats),
            np.repeat(np.repeat(v * grid.step_v_m, block_columns), repeats),
        )


def find_hollows(relief: Relief, block_m: float = BLOCK_M, azimuths: int = AZIMUTHS) -> Hollows:
    """Cut a relief into pieces and find what they see of each other.

    Parameters
    ----------
    relief : Relief
        Heights.
    block_m : float
        Width of a block; at least one cell. [m]
    azimuths : int
        Of the march, over the whole turn.
    """
    grid = relief.grid
    step = min(grid.step_u_m, grid.step_v_m)
    size = max(1, round(block_m / step))
    steep = np.float32(size * step)
    shape = (-(-(grid.rows - 1) // size), -(-(grid.columns - 1) // size))
    low, high = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    bins = np.zeros(shape, np.int32)
    heights, mask = relief.heights_m, relief.mask
    measure_blocks(heights, mask, np.int32(size), steep, low, high, bins)
    ends = np.cumsum(bins.ravel(), dtype=np.int64)
    first = (ends - bins.ravel()).astype(np.int32).reshape(shape)
    count = int(ends[-1])
    area, moments = np.zeros(count, np.float32), np.zeros((TERMS, count), np.float32)
    share = np.array([0.125, 0.625, 0.875, 0.375])[:, None]  # of neighbours, far apart
    turn = 2 * np.pi * (np.arange(azimuths) + share) / azimuths
    counts = np.zeros(count, np.int32)
    targets, weights = [], []
    rows_at_once = max(1, CHUNK_BLOCKS // shape[1])
    for start in range(0, shape[0], rows_at_once):
        stop = min(shape[0], start + rows_at_once)
        pieces = slice(int(first[start, 0]), int(ends[stop * shape[1] - 1]))
        room = (pieces.stop - pieces.start, azimuths * MOST_LINKS)
        some_targets, some_weights = np.empty(room, np.int32), np.empty(room, np.float32)
        link_pieces(
            heights,
            mask,
            np.float32(relief.highest_m if mask.any() else 0.0),
            np.array([grid.step_u_m, grid.step_v_m], np.float32),
            np.float32(GROWTH),
            np.sin(turn).astype(np.float32),
            np.cos(turn).astype(np.float32),
            np.int32(size),
            steep,
            low,
            high,
            bins,
            first,
            np.int32(start),
            np.int32(stop),
            area,
            moments,
            counts,
            some_targets,
            some_weights,
        )
        found = counts[pieces]
        ends_of = np.cumsum(found, dtype=np.int64)
        row = np.repeat(np.arange(found.size), found)
        column = np.arange(row.size) - np.repeat(ends_of - found, found)
        targets.append(some_targets[row, column])
        weights.append(some_weights[row, column])
    starts = np.concatenate([[0], np.cumsum(counts, dtype=np.int64)])
    return Hollows(
        relief,
        size,
        float(steep),
        low,
        high,
        bins,
        first,
        area,
        moments,
        starts,
        np.concatenate(targets),
        np.concatenate(weights),
    )


def means_over_pieces(hollows: Hollows, field: Floats32) -> Floats32:
    """Means of a vertex field over the pieces, weighted by true area.

    Parameters
    ----------
    hollows : Hollows
        The pieces.
    field : ndarray of float32, shape (bands, rows, columns)
        Values at the relief's vertices.

    Returns
    -------
    ndarray of float32, shape (pieces, bands)
        0 for pieces without area.
    """
    grid = hollows.relief.grid
    out = np.zeros((hollows.area_m2.size, field.shape[0]), np.float32)
    piece_means(
        hollows.relief.heights_m,
        hollows.relief.mask,
        np.int32(hollows.size),
        np.float32(hollows.steep_m),
        np.array([grid.step_u_m, grid.step_v_m], np.float32),
        hollows.low_m,
        hollows.high_m,
        hollows.bins,
        hollows.first,
        np.ascontiguousarray(field),
        out,
    )
    return out


def received(hollows: Hollows, exitance_lm_m2: Floats32) -> Floats32:
    """What each piece receives from its hollow's walls, shape (pieces, bands). [lx]"""
    out = np.empty_like(exitance_lm_m2)
    exchange(hollows.starts, hollows.targets, hollows.weights, exitance_lm_m2, out)
    return out


def fill_hollows(hollows: Hollows, arriving_lx: Floats32, reflectance: Floats32) -> Floats32:
    """All light of each piece, once reflections inside the hollows have died away.

    Parameters
    ----------
    hollows : Hollows
        The relief.
    arriving_lx : ndarray of float32, shape (pieces, bands)
        What comes from outside the hollows: runs and room. [lx]
    reflectance : ndarray of float32, shape (bands,)
        Diffuse reflectance, below 1.

    Returns
    -------
    ndarray of float32, shape (pieces, bands)
        Arriving light and what the hollows' walls add. [lx]

    Notes
    -----
    Each pass adds one reflection. They end when one adds less than `RESIDUAL` (1 - reflectance)
    of the largest value: all later ones together then add less than `RESIDUAL`.
    """
    total = arriving_lx.copy()
    part = arriving_lx
    least = RESIDUAL * float(arriving_lx.max(initial=0.0)) * (1 - float(reflectance.max()))
    for _ in range(500):
        part = received(hollows, part * reflectance)
        total += part
        if float(part.max(initial=0.0)) <= least:
            break
    return total


def vertex_light(
    hollows: Hollows,
    moments: Floats32,
    hollow_lx: Floats32,
    along_u: tuple[Ints, Floats32],
    along_v: tuple[Ints, Floats32],
    coefficients_lx: Floats32,
) -> tuple[Floats32, Floats32]:
    """Bounced light of a relief's vertices: of the room, and of their hollow by its pieces.

    Parameters
    ----------
    hollows : Hollows
        The relief.
    moments : ndarray of float32, shape (4, rows, columns)
        Of its vertices, from `open_moments`.
    hollow_lx : ndarray of float32, shape (pieces, bands)
        What each piece receives from its hollow's walls. [lx]
    along_u, along_v : tuple of ndarray, shape (columns, 4), (rows, 4)
        Nodes and weights that interpolate the room's light at each column and row.
    coefficients_lx : ndarray of float32, shape (4, nodes up v, nodes along u, bands)
        The room's light as a linear function of direction. [lx]

    Returns
    -------
    ndarray of float32, two of shape (rows, columns, bands)
        Together all that was reflected; that of the room is below 0 where it is far from linear.
        [lx]
    """
    heights = hollows.relief.heights_m
    out = np.empty((*heights.shape, hollow_lx.shape[1]), np.float32)
    inside = np.zeros_like(out)
    light_vertices(
        heights,
        moments,
        np.int32(hollows.size),
        hollows.low_m,
        hollows.high_m,
        hollows.bins,
        hollows.first,
        np.where(hollows.area_m2 > 0, hollows.openness, np.float32(1)),  # empty: says nothing
        hollow_lx,
        *along_u,
        *along_v,
        coefficients_lx,
        out,
        inside,
    )
    return out, inside
