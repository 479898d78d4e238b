"""How much of the runs' light a relief catches, and where."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.hollows import Hollows, means_over_pieces

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: Width over which a relief catches what passes its mean plane: a few shadows long. Ledges that
#: a close run grazes catch what the plane would catch half a metre below; at 0.2 m that was
#: scaled away, and a grazed ledgestone caught 5 % less than shadow rays bring it. [m]
SPREAD_M = 1.0
#: Vertices whose normal's n is below this stand on steep places, where the mesh cannot tell
#: how far down a shadow reaches. A slope of 2.
STEEP = 0.45
#: How far the catch of steep and of gentle places may be scaled.
STEEP_SCALE = (0.3, 1.5)
GENTLE_SCALE = (0.5, 2.0)
#: A relief that hides less than this of itself, plaster, says nothing of how its facets see it.
LEAST_HIDDEN = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Catch:
    """A relief's vertices and pieces, ready to share out the runs' light.

    Parameters
    ----------
    hollows : Hollows
        The pieces.
    moments : ndarray of float32, shape (TERMS, rows, columns)
        Openness of the vertices and its moments.
    facing : ndarray of float32, shape (rows, columns)
        From `facing_share`: turns illuminance at vertices into flux over true area.
    normal_n : ndarray of float32, shape (rows, columns)
        How far the vertices' normals look out of the wall.
    sees : tuple of float
        What facets see of the room, and of the relief itself, over what vertices do: from
        `facets_see`.
    """

    hollows: Hollows
    moments: Floats32
    facing: Floats32
    normal_n: Floats32
    sees: tuple[float, float] = (1.0, 1.0)

    @property
    def steep(self) -> NDArray[np.bool_]:
        """Vertices on steep places, shape (rows, columns)."""
        out: NDArray[np.bool_] = self.normal_n < STEEP
        return out

    def flux(self, room_lx: Floats32, hollow_lx: Floats32) -> Floats:
        """Flux of light that reaches the relief from all around, shape (bands,). [lm]

        Parameters
        ----------
        room_lx, hollow_lx : ndarray of float32, shape (rows, columns, bands)
            At its vertices, from the room and from the relief itself. [lx]
        """
        grid = self.hollows.relief.grid
        area = _area_of(self.hollows, self.facing * self.normal_n)
        out = np.zeros(room_lx.shape[2])
        for light_lx, share in zip((room_lx, hollow_lx), self.sees, strict=True):
            rows: Floats32 = np.einsum("rc,rcb->rb", area, light_lx)
            out += share * rows.sum(axis=0, dtype=np.float64)
        out *= grid.step_u_m * grid.step_v_m
        return out

    def of(
        self, direct_lx: Floats32, flat_lx: Floats32, more_lm: float = 0.0
    ) -> tuple[Floats32, Floats32]:
        """What one group of runs brings to each piece, and how much of it looks out where.

        Parameters
        ----------
        direct_lx, flat_lx : ndarray of float32, shape (rows, columns)
            At the wall's vertices, and on its mean plane. [lx]
        more_lm : float
            What the relief catches before its mean plane at its borders. Light along the wall
            goes far within the relief's depth, so that this is shared out as the rest is. [lm]

        Returns
        -------
        ndarray of float32, shape (pieces,)
            Mean direct light. [lx]
        ndarray of float32, shape (TERMS, pieces)
            Mean of the direct light times the vertices' openness and its moments. [lx]

        Notes
        -----
        Direct light and the way a facet looks go together vertex by vertex: a piece may hold a
        lit ledge and the dark face below it.

        A cliff one cell wide has vertices at its edges only. A lit edge then stands for half the
        cliff, most of which may lie in shadow, and the relief would catch up to a third more
        than the run sends (grazed ledgestone, counted by shadow rays). What passes the mean plane
        is what is caught, so the sums are set to that, averaged over `SPREAD_M`: by what falls on
        steep places as far as that goes, then by all.
        """
        fields = np.empty((1 + len(self.moments), *direct_lx.shape), np.float32)
        field = np.multiply(direct_lx, self.facing, out=fields[0])
        is_steep = self.steep
        np.multiply(field, is_steep, out=fields[2])
        np.subtract(field, fields[2], out=fields[1])
        both = means_over_pieces(self.hollows, fields[1:3])
        passing = self._passing(flat_lx)
        passing *= 1 + more_lm / max(float(passing.sum()), 1e-9)
        flat = self._over_blocks(passing)
        gentle, steep = (self._over_blocks(self._caught(both[:, k])) for k in (0, 1))
        cut = np.clip(_ratio(flat - gentle, steep), *STEEP_SCALE)
        rest = np.clip(_ratio(flat - cut * steep, gentle), *GENTLE_SCALE)
        scale = np.where(is_steep, self._at_vertices(cut), self._at_vertices(rest))
        field *= scale
        np.multiply(field, self.moments, out=fields[1:])
        means = means_over_pieces(self.hollows, fields).T
        return means[0], means[1:]

    def _caught(self, mean_lx: Floats32) -> Floats:
        """Flux that the pieces of each block catch, shape (block rows, block columns). [lm]"""
        hollows = self.hollows
        blocks = np.repeat(np.arange(hollows.bins.size), hollows.bins.ravel())
        sums = np.bincount(blocks, hollows.area_m2 * mean_lx, hollows.bins.size)
        return sums.astype(np.float64).reshape(hollows.bins.shape)

    def _passing(self, flat_lx: Floats32) -> Floats:
        """Flux through the mean plane of each block, shape (block rows, block columns). [lm]"""
        hollows, grid = self.hollows, self.hollows.relief.grid
        cells = (flat_lx[1:, 1:] + flat_lx[:-1, :-1] + flat_lx[1:, :-1] + flat_lx[:-1, 1:]) / 4
        cells = cells * hollows.whole_cells * np.float32(grid.step_u_m * grid.step_v_m)
        rows = np.add.reduceat(cells, np.arange(0, cells.shape[0], hollows.size), axis=0)
        out: Floats = np.add.reduceat(
            rows, np.arange(0, cells.shape[1], hollows.size), axis=1, dtype=np.float64
        )
        return out

    def _over_blocks(self, flux_lm: Floats) -> Floats:
        """Spread a field of blocks by a Gaussian of full width `SPREAD_M` at half its height."""
        from scipy.ndimage import gaussian_filter

        grid, size = self.hollows.relief.grid, self.hollows.size
        sigma = SPREAD_M / 2.355 / (size * np.array([grid.step_v_m, grid.step_u_m]))
        out: Floats = gaussian_filter(flux_lm, sigma, mode="reflect")
        return out

    def _at_vertices(self, blocks: Floats) -> Floats32:
        """Give each vertex its block's value, shape (rows, columns)."""
        grid, size = self.hollows.relief.grid, self.hollows.size
        row = np.minimum(np.arange(grid.rows) // size, blocks.shape[0] - 1)
        column = np.minimum(np.arange(grid.columns) // size, blocks.shape[1] - 1)
        out: Floats32 = blocks.astype(np.float32)[row][:, column]
        return out


def facets_see(
    hollows: Hollows, openness: Floats32, facing: Floats32, normal_n: Floats32
) -> tuple[float, float]:
    """What a relief's facets see of the room, and of the relief, over what its vertices do.

    Parameters
    ----------
    hollows : Hollows
        With the relief.
    openness : ndarray of float32, shape (rows, columns)
        Form factor of each vertex to the room.
    facing, normal_n : ndarray of float32, shape (rows, columns)
        As `Catch` has them.

    Notes
    -----
    Each ray from an even half-space that passes the mean plane ends on one facet: the sum over
    facets of area times openness is the plan area. A vertex at an edge looks both ways and has a
    freer view than the facets that it stands for: counted by vertices, slats saw 1.9 % more of the
    room than there is, and so much less of themselves.
    """
    plan = float(_area_of(hollows, np.ones_like(facing)).sum(dtype=np.float64))
    area = _area_of(hollows, facing * normal_n)
    true = float(area.sum(dtype=np.float64))
    seen = float((area * openness).sum(dtype=np.float64))
    hidden = true - seen
    return plan / max(seen, 1e-9), (true - plan) / hidden if hidden > LEAST_HIDDEN * true else 1.0


def _area_of(hollows: Hollows, per: Floats32) -> Floats32:
    """Plan area of each vertex over something, in steps of the grid; 0 off the relief."""
    area: Floats32 = np.divide(hollows.relief.mask, per, dtype=np.float32)
    area[[0, -1]] *= np.float32(0.5)
    area[:, [0, -1]] *= np.float32(0.5)
    return area


def _ratio(above: Floats, below: Floats) -> Floats:
    out = np.ones(above.shape)
    np.divide(above, below, out=out, where=below > 0)
    return out
