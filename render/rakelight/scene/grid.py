"""The grid of vertices that carries the light of one surface."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Grid:
    """Vertices in rows up v and columns along u, both borders included.

    Vertex (row, column) lies at u = column * step_u_m, v = row * step_v_m in the surface's
    frame. Each cell is cut into two triangles by the diagonal from its lower left vertex
    (row, column) to its upper right one (row + 1, column + 1); light, shadows, pictures and
    saved meshes all use this one triangulation.

    Parameters
    ----------
    rows, columns : int
        Number of vertices, at least 2 each.
    width_m, height_m : float
        Size along u and v. [m], > 0
    """

    rows: int
    columns: int
    width_m: float
    height_m: float

    def __post_init__(self) -> None:
        if self.rows < 2 or self.columns < 2:
            raise ValueError(f"a grid of {self.rows} x {self.columns} vertices; at least 2 x 2")
        if not (self.width_m > 0 and self.height_m > 0):
            raise ValueError(f"a grid of {self.width_m} x {self.height_m} m; both must be above 0")

    @property
    def step_u_m(self) -> float:
        """Distance between columns. [m]"""
        return self.width_m / (self.columns - 1)

    @property
    def step_v_m(self) -> float:
        """Distance between rows. [m]"""
        return self.height_m / (self.rows - 1)

    def u_m(self) -> NDArray[np.float64]:
        """u of each column, shape (columns,). [m]"""
        return np.linspace(0.0, self.width_m, self.columns)

    def v_m(self) -> NDArray[np.float64]:
        """v of each row, shape (rows,). [m]"""
        return np.linspace(0.0, self.height_m, self.rows)

    @staticmethod
    def with_step(width_m: float, height_m: float, step_m: float, least: int = 1) -> "Grid":
        """Smallest grid of steps up to `step_m` [m], `least` of them or more either way."""
        columns = max(least, int(np.ceil(width_m / step_m - 1e-9))) + 1
        rows = max(least, int(np.ceil(height_m / step_m - 1e-9))) + 1
        return Grid(rows, columns, width_m, height_m)
