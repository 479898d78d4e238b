"""Area that a vertex of a relief stands for: of its triangles, and as its normal sees it."""

import numpy as np
from numpy.typing import NDArray

Heights = NDArray[np.float32]


def facing_share(heights_m: Heights, normals: Heights, step_u_m: float, step_v_m: float) -> Heights:
    """Area along the vertex normals over the area of the triangles, shape (rows, columns).

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Height field; cells are cut from their lower left to their upper right vertex. [m]
    normals : ndarray of float32, shape (3, rows, columns)
        Unit vertex normals, area-weighted.
    step_u_m, step_v_m : float
        Distance between columns and between rows. [m]

    Returns
    -------
    ndarray of float32
        1 where the triangles around a vertex lie in one plane, less on edges and in corners.

    Notes
    -----
    An illuminance on a vertex normal times the plan area over the normal's n is the flux that
    the triangles around it catch together, whatever their directions: their vector sum.
    Times their true area it would count too much, a tenth and more at a sharp lit edge.
    """
    along_u = np.diff(heights_m, axis=1) / np.float32(step_u_m)
    along_v = np.diff(heights_m, axis=0) / np.float32(step_v_m)
    true = np.zeros_like(heights_m)
    count = np.zeros_like(heights_m)
    for edge_u, edge_v, corners in (
        (along_u[:-1], along_v[:, 1:], ((0, 0), (0, 1), (1, 1))),
        (along_u[1:], along_v[:, :-1], ((0, 0), (1, 1), (1, 0))),
    ):
        slant = np.sqrt(1 + edge_u * edge_u + edge_v * edge_v)
        for row, column in corners:
            rows = slice(row, heights_m.shape[0] - 1 + row)
            columns = slice(column, heights_m.shape[1] - 1 + column)
            true[rows, columns] += slant
            count[rows, columns] += 1
    out: Heights = count / (true * normals[2])
    return out
