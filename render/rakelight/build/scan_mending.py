"""What a scan lacks is mended: holes filled, borders made to join."""

import numpy as np
from numpy.typing import NDArray

from rakelight.build.kernels.cells import relax

Heights = NDArray[np.float32]


def fill_holes(heights_m: Heights, holes: NDArray[np.bool_]) -> None:
    """Fill holes in place with a surface like a stretched skin.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        [m]
    holes : ndarray of bool, shape (rows, columns)
        Cells to fill; not all.

    Notes
    -----
    Laplace's equation, from coarse to fine: each level starts from the one below it and is
    relaxed, so that wide holes settle as quickly as narrow ones.
    """
    if not holes.any():
        return
    if holes.all():
        raise ValueError("there is nothing to fill from")
    rows, columns = heights_m.shape
    # halve: mean of the cells that are known
    even = np.pad(np.where(holes, np.float32(0), heights_m), ((0, rows % 2), (0, columns % 2)))
    known = np.pad((~holes).astype(np.float32), ((0, rows % 2), (0, columns % 2)))
    even = even.reshape(even.shape[0] // 2, 2, -1, 2).sum(axis=(1, 3))
    known = known.reshape(known.shape[0] // 2, 2, -1, 2).sum(axis=(1, 3))
    coarse_holes = known == 0
    coarse = even / np.maximum(known, 1)
    fill_holes(coarse, coarse_holes)
    upper = np.repeat(np.repeat(coarse, 2, axis=0), 2, axis=1)[:rows, :columns]
    heights_m[holes] = upper[holes]
    relax(heights_m, holes, 40)


def tiled(
    heights_m: Heights, step_m: float, blend_m: float | None
) -> tuple[Heights, tuple[int, int]]:
    """Blend opposite borders into each other, so that copies join without a seam.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        About their mean. [m]
    step_m : float
        Side of a cell. [m]
    blend_m : float or None
        Width of the blend; None: an eighth of each side. [m]

    Returns
    -------
    heights_m : ndarray of float32
        Smaller by the blend.
    blend : tuple of int
        Cells that were spent, along rows and columns.

    Raises
    ------
    ValueError
        If the blend takes more than half of a side.

    Notes
    -----
    Plain cross-fading would flatten the relief where two unlike parts overlap; dividing by
    sqrt(w^2 + (1 - w)^2) keeps its variance there.
    """
    spent = []
    for axis in (0, 1):
        count = heights_m.shape[axis]
        cells = max(1, count // 8) if blend_m is None else max(1, round(blend_m / step_m))
        if 2 * cells > count:
            raise ValueError(
                f"a blend of {cells * step_m * 1000:.0f} mm takes more than half of a side of "
                f"{count * step_m * 1000:.0f} mm; use less"
            )
        t = ((np.arange(cells) + 0.5) / cells).astype(np.float32)
        w = t * t * (3 - 2 * t)
        w = (w if axis == 1 else w[:, None]).astype(np.float32)
        head = np.split(heights_m, [cells], axis=axis)[0]
        body, tail = np.split(heights_m, [count - cells], axis=axis)
        body = body.copy()
        mixed = (w * head + (1 - w) * tail) / np.sqrt(w * w + (1 - w) * (1 - w))
        body[(slice(None),) * axis + (slice(0, cells),)] = mixed
        heights_m = body
        spent.append(cells)
    return np.ascontiguousarray(heights_m), (spent[0], spent[1])


def widest_hole_m(holes: NDArray[np.bool_], step_m: float) -> float:
    """Longer side of the largest box around a hole; 0 without holes. [m]

    Parameters
    ----------
    holes : ndarray of bool, shape (rows, columns)
        Cells without a height.
    step_m : float
        Side of a cell. [m]
    """
    if not holes.any():
        return 0.0
    from scipy.ndimage import find_objects, label

    boxes = find_objects(label(holes)[0])
    return float(max(max(s.stop - s.start for s in box) for box in boxes)) * step_m
