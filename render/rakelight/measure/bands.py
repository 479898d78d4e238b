"""Bands of height: which rows of a grid belong to which, and means over them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.grid import Grid

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Equal bands up a surface.

    Parameters
    ----------
    edges_m : ndarray of float64, shape (bands + 1,)
        Borders, from the foot up. [m]
    of_row : ndarray of int64, shape (rows,)
        Band of each row of vertices.
    """

    edges_m: Floats
    of_row: NDArray[np.int64]

    @property
    def count(self) -> int:
        """Number of bands."""
        return self.edges_m.size - 1

    @property
    def centres_m(self) -> Floats:
        """Middle of each band. [m]"""
        out: Floats = 0.5 * (self.edges_m[:-1] + self.edges_m[1:])
        return out

    @property
    def size_m(self) -> float:
        """Height of a band. [m]"""
        return float(self.edges_m[1] - self.edges_m[0])

    def sums(self, by_row: Floats) -> Floats:
        """Sums of a per-row quantity over each band."""
        out: Floats = np.bincount(self.of_row, weights=by_row, minlength=self.count).astype(float)
        return out

    def means(self, values: NDArray[np.float32], weights: Floats) -> Floats:
        """Weighted mean of (rows, columns) values in each band; nan where nothing counts."""
        top = self.sums(np.einsum("ij,ij->i", weights, values))
        below = self.sums(np.sum(weights, axis=1))
        out: Floats = np.divide(top, below, out=np.full(self.count, np.nan), where=below > 0)
        return out


def bands(grid: Grid, largest_m: float) -> Bands:
    """Fewest equal bands of at most `largest_m`, but never more than rows of cells.

    Raises
    ------
    ValueError
        If `largest_m` is not positive.
    """
    if not largest_m > 0:
        raise ValueError(f"largest_m is {largest_m}; it must be above 0 m")
    count = min(int(np.ceil(grid.height_m / largest_m - 1e-9)), grid.rows - 1)
    edges = np.linspace(0.0, grid.height_m, max(count, 1) + 1)
    # a hair inward, so that a row on a border falls the same way on every machine
    place = (grid.v_m() + 1e-9) / grid.height_m * max(count, 1)
    return Bands(edges, np.minimum(place.astype(np.int64), max(count, 1) - 1))
