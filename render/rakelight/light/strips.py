"""Into how many strips a run's opening is cut, as rows of a relief see it."""

import itertools

import numpy as np
from numpy.typing import NDArray

#: Strips across the opening, by distance over opening width (IES Lighting Handbook, line
#: sources, from memory: one line is within 1 % only beyond about six widths; nearer ones
#: checked against Lambert's polygon formula in the tests).
STRIPS = ((6.0, 1), (2.5, 3), (0.0, 7))


def strips_by_row(
    line_vn: NDArray[np.float64],
    across_vn: NDArray[np.float64],
    width_m: float,
    rows_v: NDArray[np.float64],
    highest_m: float,
) -> list[tuple[slice, NDArray[np.float32]]]:
    """Rows that are served by one number of strips, with the strips' places.

    Parameters
    ----------
    line_vn, across_vn : ndarray of float64, shape (2,)
        Centre of the opening and its direction, as (v, n). [m], unit
    width_m : float
        Of the opening. [m]
    rows_v : ndarray of float64, shape (rows,)
        v of the rows. [m]
    highest_m : float
        Highest point of the relief. [m]

    Returns
    -------
    list of (slice, ndarray of float32, shape (strips, 6))
        Rows, and for each strip v, n of its middle and of its two edges. [m]
    """
    distance = np.hypot(line_vn[0] - rows_v, line_vn[1] - highest_m)
    wanted = np.full(rows_v.size, STRIPS[-1][1])
    for widths, count in reversed(STRIPS):
        wanted[distance >= widths * width_m] = count
    edges = np.flatnonzero(np.diff(wanted)) + 1
    bounds = [0, *edges.tolist(), rows_v.size]
    blocks = []
    for start, stop in itertools.pairwise(bounds):
        count = int(wanted[start])
        cut = (np.arange(count + 1) / count - 0.5) * width_m
        edge = line_vn + cut[:, None] * across_vn
        middle = (edge[1:] + edge[:-1]) / 2
        strips = np.concatenate([middle, edge[:-1], edge[1:]], axis=1).astype(np.float32)
        blocks.append((slice(start, stop), strips))
    return blocks
