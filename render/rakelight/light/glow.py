"""Which way a relief sends the runs' light on: more finely than four terms can say.

A run that grazes a relief lights facets that look toward it, and they send nothing the other
way. Light of such facets, as a function of direction, is cut off where their planes end; four
terms over the half-space smooth that out (a grazed ledgestone sent 8 % too little to the opposite
wall and 6 % too much to either side). So the first reflection takes what leaves by bins of
direction, from a sixteenth of the vertices, and adds to the terms what they leave out. Later
reflections are close to diffuse; the terms are enough for them.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rakelight.light.cuts import whole_relief
from rakelight.light.directions import terms_of
from rakelight.light.kernels.glow_bins import send_into_bins
from rakelight.light.openness import THIN, thin_places
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Edges of the bins by elevation over the mean plane. [deg]
EDGES_DEG = (0.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0)
#: Width of the squares of a wall whose vertices say together where its light goes. [m]
ZONE_M = 0.3
#: Cells along each side of a table of directions: the half-space seen from below its lowest
#: point, so that grazing directions have their share and no angle has to be found.
SIDE = 48


@dataclass(frozen=True, slots=True, eq=False)
class Glow:
    """What vertices of a relief send where.

    Parameters
    ----------
    rows, columns : ndarray of int64, shape (vertices,)
        The vertices, square by square.
    starts : ndarray of int64, shape (zones + 1,)
        Where the vertices of each square of the wall begin among them.
    zones : tuple of int
        Squares up and along.
    size_m : tuple of float
        Height and width of the wall. [m]
    sent_m2 : ndarray of float32, shape (vertices, bins)
        Flux of a vertex's first reflection into each bin, for 1 lx and reflectance 1. [m2]
    left_out : ndarray of float32, shape (bins, cells)
        What four terms leave out, in each cell of a table of directions, of an exitance of 1 in
        one bin.
    even_m2 : ndarray of float32, shape (zones, bins)
        What 1 lx on all vertices sends.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    starts: NDArray[np.int64]
    zones: tuple[int, int]
    size_m: tuple[float, float]
    sent_m2: Floats32
    left_out: Floats32
    even_m2: Floats32

    def of(self, direct_lx: Floats32) -> Floats32:
        """Flux by zone and bin that one group's light makes leave, shape (zones, bins)."""
        light = direct_lx[self.rows, self.columns].astype(np.float32)
        out = np.empty((self.starts.size - 1, self.sent_m2.shape[1]), np.float32)
        for k, (start, stop) in enumerate(pairwise(self.starts)):
            # not by a matrix product, whose sums may depend on threads
            out[k] = np.einsum("v,vb->b", light[start:stop], self.sent_m2[start:stop])
        return out

    def zone_at(self, u_m: Floats, v_m: Floats) -> Ints:
        """Zone of places on the wall."""
        up, along = (
            np.clip((x / whole_m * most).astype(np.int32), 0, most - 1)
            for x, most, whole_m in zip((v_m, u_m), self.zones, self.size_m, strict=True)
        )
        out: Ints = (up * self.zones[1] + along).astype(np.int32)
        return out


def find_glow(
    surface: Surface, normals: Floats32, thin_horizons: Floats32, azimuths_rad: Floats
) -> Glow:
    """What a sixteenth of a relief's vertices send where.

    Parameters
    ----------
    surface : Surface
        With the relief.
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals.
    thin_horizons : ndarray of float32, shape (azimuths, *thin places)
        Tangents of the horizons at `thin_places`.
    azimuths_rad : ndarray of float64, shape (azimuths,)
        Of these: even steps over the whole turn, from +v toward +u.
    """
    if surface.relief is None:
        raise ValueError(f"{surface.name} has no relief")
    grid = surface.grid
    rows, columns = (place.ravel() for place in thin_places(grid.rows, grid.columns))
    zones = (max(1, round(grid.height_m / ZONE_M)), max(1, round(grid.width_m / ZONE_M)))
    zone = rows * zones[0] // grid.rows * zones[1] + columns * zones[1] // grid.columns
    order = np.argsort(zone, kind="stable")
    kept = order[whole_relief(surface).mask[rows, columns][order]]
    rows, columns, zone = rows[kept], columns[kept], zone[kept]
    n = normals[:, rows, columns]
    edges = np.radians(EDGES_DEG).astype(np.float32)
    low_a = (edges + np.sin(edges) * np.cos(edges)) / 2
    low_n = -(np.cos(edges) ** 2) / 2
    turn = azimuths_rad.astype(np.float32)
    sent = np.empty((rows.size, turn.size * (edges.size - 1)), np.float32)
    scale = THIN**2 * grid.step_u_m * grid.step_v_m * (2 / turn.size)  # width over pi
    send_into_bins(
        n,
        thin_horizons.reshape(turn.size, -1),
        kept,
        np.sin(turn),
        np.cos(turn),
        (scale / n[2]).astype(np.float32),
        low_a,
        low_n,
        sent,
    )
    glow = Glow(
        rows,
        columns,
        np.searchsorted(zone, np.arange(zones[0] * zones[1] + 1)),
        zones,
        (grid.height_m, grid.width_m),
        sent,
        left_out(azimuths_rad),
        np.zeros((0, 0), np.float32),
    )
    return replace(glow, even_m2=glow.of(np.ones((grid.rows, grid.columns), np.float32)))


def cells_of(way: Floats) -> Ints:
    """Cell of the table for unit directions (u, v, n), shape (..., 3) to (...)."""
    f32 = np.float32
    scale = f32(SIDE / 2) / (1 + np.maximum(way[..., 2], 0).astype(f32))
    column = (way[..., 0] * scale + f32(SIDE / 2)).astype(np.int32)
    row = (way[..., 1] * scale + f32(SIDE / 2)).astype(np.int32)
    out: Ints = np.clip(row, 0, SIDE - 1) * np.int32(SIDE) + np.clip(column, 0, SIDE - 1)
    return out


def table_directions() -> tuple[Floats, Floats]:
    """Directions of the table's cells, shape (cells, 3), and the cosine's share of each, over pi.

    Those beyond the half-space have the direction at its rim, and no share.
    """
    at = (np.arange(SIDE) + 0.5) / (SIDE / 2) - 1
    v, u = np.meshgrid(at, at, indexing="ij")
    radius = np.hypot(u, v)
    square = np.minimum(radius, 1.0) ** 2
    n = (1 - square) / (1 + square)
    long = np.where(radius > 1, 1 / radius, 2 / (1 + square))
    share = np.where(radius < 1, n * 4 / (1 + square) ** 2, 0.0)
    way = np.stack([u * long, v * long, n], axis=-1).reshape(-1, 3)
    return way, (share / share.sum()).ravel()


def left_out(azimuths_rad: Floats) -> Floats32:
    """What four terms leave out of light in bins of direction, by cells of the table.

    Parameters
    ----------
    azimuths_rad : ndarray of float64, shape (azimuths,)
        Middles of the bins: even steps over the whole turn.

    Returns
    -------
    ndarray of float32, shape (azimuths * elevations, cells)
        For an exitance of 1 in each bin. Light between the bins' middles is interpolated; its
        four moments are those of the terms, so that what is left has none.
    """
    way, share = table_directions()
    edges = np.radians(EDGES_DEG)
    count = azimuths_rad.size
    turn = (np.arctan2(way[:, 0], way[:, 1]) - azimuths_rad[0]) / (2 * np.pi / count) % count
    height = np.interp(
        np.arcsin(way[:, 2]), (edges[1:] + edges[:-1]) / 2, np.arange(edges.size - 1)
    )
    across = np.abs((turn[:, None] - np.arange(count) + count / 2) % count - count / 2)
    up = np.abs(height[:, None] - np.arange(edges.size - 1))
    mix = np.maximum(1 - across, 0)[:, :, None] * np.maximum(1 - up, 0)[:, None, :]
    mix = mix.reshape(len(way), -1)
    terms = terms_of(way).astype(np.float64)
    weighed = terms * share[:, None]
    fit = np.linalg.solve(weighed.T @ terms, weighed.T @ mix)
    out: Floats32 = (mix - terms @ fit).T.astype(np.float32)
    return out


def bin_shares(count: int) -> Floats:
    """Share of an even plane's light that goes into each of so many bins, shape (count,)."""
    steps = np.diff(np.sin(np.radians(EDGES_DEG)) ** 2)
    out: Floats = np.tile(steps, count // steps.size) / (count // steps.size)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Beyond:
    """What four terms leave out of the first reflection of a relief's patches.

    Parameters
    ----------
    table : ndarray of float32, shape (zones, cells, bands)
        By zone and direction, for patches of exitance 1.
    zone : ndarray of int32, shape (own,)
        Of each patch.
    exitance : ndarray of float32, shape (own, bands)
        Mean over all directions of each patch's first reflection. [lm/m2]
    offset : ndarray of float32, shape (own, bands)
        Of each patch's exitance of 1, so that nothing is gained or lost among its factors.
    """

    table: Floats32
    zone: Ints
    exitance: Floats32
    offset: Floats32

    def toward(self, cells: Ints) -> Floats32:
        """Exitance in the directions of cells, shape (..., own) to (..., own, bands). [lm/m2]"""
        at = cells + self.zone * np.int32(self.table.shape[1])
        flat = self.table.reshape(-1, self.table.shape[2])
        out: Floats32 = np.take(flat, at, axis=0)
        out -= self.offset
        out *= self.exitance
        return out

    def arriving(self, cells: Ints, seen: Floats32, given: Floats32) -> tuple[Floats32, "Beyond"]:
        """What each patch sends each other patch, shape (patches, own, bands) [lx], and itself.

        Parameters
        ----------
        cells : ndarray of int32, shape (patches, own)
            Direction of each patch from each own one.
        seen, given : ndarray of float32, shape (own, patches), (patches, own)
            Form factors, from either end.
        """
        light = self.toward(cells)
        whole = np.maximum(seen.sum(axis=1), np.float32(1e-6))[:, None]
        gained = np.einsum("pq,qpb->pb", seen, light) / whole
        light -= gained
        light *= given[..., None]
        offset = np.divide(
            gained, self.exitance, out=np.zeros_like(gained), where=self.exitance > 0
        )
        return light, replace(self, offset=self.offset + offset)


def beyond_terms(glow: Glow, sent_lm: Floats32, zone: Ints, exitance: Floats32) -> Beyond:
    """What four terms leave out.

    Parameters
    ----------
    glow : Glow
        Of the relief.
    sent_lm : ndarray of float32, shape (zones, bins, bands)
        From `Glow.of`, of all groups.
    zone : ndarray of int32, shape (own,)
        Zone of each patch.
    exitance : ndarray of float32, shape (own, bands)
        Of its first reflection. [lm/m2]
    """
    # against light that leaves evenly: what a few vertices miss of a bin cancels
    even = glow.even_m2[..., None]
    shape = np.divide(sent_lm, even, out=np.zeros_like(sent_lm), where=even > 0)
    whole = np.einsum("b,zbc->zc", bin_shares(shape.shape[1]), shape)[:, None]
    np.divide(shape, whole, out=shape, where=whole > 0)
    zones, _, bands = sent_lm.shape
    table = np.empty((zones, glow.left_out.shape[1], bands), np.float32)
    for band in range(bands):
        table[..., band] = shape[..., band] @ glow.left_out
    return Beyond(table, zone, exitance, np.zeros_like(exitance))
