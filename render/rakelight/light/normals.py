"""Vertex normals of a height field on the grid's one triangulation."""

import numpy as np
from numpy.typing import NDArray

Heights = NDArray[np.float32]


def vertex_normals(heights_m: Heights, step_u_m: float, step_v_m: float) -> Heights:
    """Area-weighted unit normals at the vertices.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Height field; cells are cut from their lower left to their upper right vertex. [m]
    step_u_m, step_v_m : float
        Distance between columns and between rows. [m]

    Returns
    -------
    ndarray of float32, shape (3, rows, columns)
        Unit normals as (u, v, n), n toward the viewer.

    Notes
    -----
    All triangles of a height field have one plan area, so the area-weighted sum of their
    normals is the sum of (-dh/du, -dh/dv, 1) over the triangles that meet at the vertex.
    """
    along_u = np.diff(heights_m, axis=1) / np.float32(step_u_m)  # (rows, columns - 1)
    along_v = np.diff(heights_m, axis=0) / np.float32(step_v_m)  # (rows - 1, columns)
    slope_u = np.zeros_like(heights_m)
    slope_v = np.zeros_like(heights_m)
    count = np.zeros(heights_m.shape, np.float32)
    # lower right triangle of a cell: its u slope on the lower edge, its v slope on the right;
    # upper left triangle: u slope on the upper edge, v slope on the left
    for edge_u, edge_v, corners in (
        (along_u[:-1], along_v[:, 1:], ((0, 0), (0, 1), (1, 1))),
        (along_u[1:], along_v[:, :-1], ((0, 0), (1, 1), (1, 0))),
    ):
        for row, column in corners:
            rows = slice(row, heights_m.shape[0] - 1 + row)
            columns = slice(column, heights_m.shape[1] - 1 + column)
            slope_u[rows, columns] += edge_u
            slope_v[rows, columns] += edge_v
            count[rows, columns] += 1
    normals = np.empty((3, *heights_m.shape), np.float32)
    np.divide(-slope_u, count, out=normals[0])
    np.divide(-slope_v, count, out=normals[1])
    normals[2] = 1.0 / np.sqrt(1.0 + normals[0] ** 2 + normals[1] ** 2)
    normals[:2] *= normals[2]
    return normals
