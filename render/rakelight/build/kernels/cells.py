"""A mesh seen along one axis: its front over a grid of cells, and how much stays hidden."""

# mypy: allow-untyped-defs
import numpy as np

from rakelight.build.kernels import loop

_EDGE = 1e-5  # share of a triangle by which it reaches over its border, against cracks


@loop
def front_heights(
    points,  # float32 (n, 3): u and v in cells from the grid's corner, height [m]
    faces,  # int32 (m, 3)
    heights,  # float32 (rows, columns): -inf where nothing is; out, at the cells' middles [m]
):
    """Keep the largest height over the middle of each cell."""
    rows, columns = heights.shape
    for k in range(faces.shape[0]):
        a, b, c = faces[k, 0], faces[k, 1], faces[k, 2]
        au, av, ah = np.float64(points[a, 0]), np.float64(points[a, 1]), points[a, 2]
        bu, bv, bh = np.float64(points[b, 0]), np.float64(points[b, 1]), points[b, 2]
        cu, cv, ch = np.float64(points[c, 0]), np.float64(points[c, 1]), points[c, 2]
        twice = (bu - au) * (cv - av) - (cu - au) * (bv - av)
        if abs(twice) < 1e-12:  # seen edge-on
            continue
        first_row = max(0, int(np.ceil(min(av, bv, cv) - 0.5 - _EDGE)))
        last_row = min(rows - 1, int(np.floor(max(av, bv, cv) - 0.5 + _EDGE)))
        first = max(0, int(np.ceil(min(au, bu, cu) - 0.5 - _EDGE)))
        last = min(columns - 1, int(np.floor(max(au, bu, cu) - 0.5 + _EDGE)))
        for row in range(first_row, last_row + 1):
            v = row + 0.5
            for column in range(first, last + 1):
                u = column + 0.5
                wb = ((u - au) * (cv - av) - (cu - au) * (v - av)) / twice
                wc = ((bu - au) * (v - av) - (u - au) * (bv - av)) / twice
                if wb < -_EDGE or wc < -_EDGE or wb + wc > 1.0 + _EDGE:
                    continue
                h = np.float32(ah + wb * (bh - ah) + wc * (ch - ah))
                if h > heights[row, column]:
                    heights[row, column] = h


@loop
def hidden_area(
    points,  # float32 (n, 3): as in `front_heights`
    faces,  # int32 (m, 3)
    heights,  # float32 (rows, columns): front as seen, -inf or NaN where nothing is
    step,  # float: side of a cell [m]
    outward,  # 1.0 or -1.0: which winding faces the viewer
    window,  # int32 (4,): first row, end row, first column, end column that count
    out,  # float64 (3,): out; area in all, turned away, facing but behind something [m2]
):
    """Sum the surface whose middles fall into a window, by whether it is seen."""
    for k in range(faces.shape[0]):
        a, b, c = faces[k, 0], faces[k, 1], faces[k, 2]
        row = int(np.floor((points[a, 1] + points[b, 1] + points[c, 1]) / 3.0))
        column = int(np.floor((points[a, 0] + points[b, 0] + points[c, 0]) / 3.0))
        if row < window[0] or row >= window[1] or column < window[2] or column >= window[3]:
            continue
        eu = (np.float64(points[b, 0]) - points[a, 0]) * step
        ev = (np.float64(points[b, 1]) - points[a, 1]) * step
        eh = np.float64(points[b, 2]) - points[a, 2]
        fu = (np.float64(points[c, 0]) - points[a, 0]) * step
        fv = (np.float64(points[c, 1]) - points[a, 1]) * step
        fh = np.float64(points[c, 2]) - points[a, 2]
        nu, nv, nh = ev * fh - eh * fv, eh * fu - eu * fh, (eu * fv - ev * fu) * outward
        area = 0.5 * np.sqrt(nu * nu + nv * nv + nh * nh)
        out[0] += area
        if nh <= 0.0:
            out[1] += area
            continue
        middle = (np.float64(points[a, 2]) + points[b, 2] + points[c, 2]) / 3.0
        slope = np.sqrt(nu * nu + nv * nv) / nh
        # on a slope the height changes within the cell
        if middle < heights[row, column] - 1.5 * step * (1.0 + min(slope, 10.0)):
            out[2] += area


@loop
def largest_rectangle(
    inside,  # bool (rows, columns)
    out,  # int64 (4,): out; first row, end row, first column, end column
):
    """Find the largest rectangle of true cells; of equal ones the first that ends.

    The usual pass over rows with a stack of rising column heights: each cell is pushed and
    popped once.
    """
    rows, columns = inside.shape
    tall = np.zeros(columns + 1, np.int64)
    starts = np.empty(columns + 1, np.int64)
    sizes = np.empty(columns + 1, np.int64)
    best = 0
    for row in range(rows):
        top = 0
        for column in range(columns + 1):
            if column < columns:
                tall[column] = tall[column] + 1 if inside[row, column] else 0
            height = tall[column] if column < columns else 0
            start = column
            while top > 0 and sizes[top - 1] >= height:
                top -= 1
                start = starts[top]
                area = sizes[top] * (column - start)
                if area > best:
                    best = area
                    out[0], out[1] = row + 1 - sizes[top], row + 1
                    out[2], out[3] = start, column
            starts[top], sizes[top] = start, height
            top += 1


@loop
def relax(
    heights,  # float32 (rows, columns): in and out
    holes,  # bool (rows, columns): cells that may change
    sweeps,  # int
):
    """Pull each cell of a hole to the mean of its neighbours, in place, row by row."""
    rows, columns = heights.shape
    for _ in range(sweeps):
        for row in range(rows):
            for column in range(columns):
                if not holes[row, column]:
                    continue
                total, count = 0.0, 0
                if row > 0:
                    total, count = total + heights[row - 1, column], count + 1
                if row < rows - 1:
                    total, count = total + heights[row + 1, column], count + 1
                if column > 0:
                    total, count = total + heights[row, column - 1], count + 1
                if column < columns - 1:
                    total, count = total + heights[row, column + 1], count + 1
                if count > 0:
                    heights[row, column] = np.float32(total / count)
