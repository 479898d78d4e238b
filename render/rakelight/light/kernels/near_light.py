"""What a relief's vertices receive from the surface that they see around them.

All vertices look at the same offsets on the grid, so that each look is a sweep along a row. Far
looks take in several vertices at once: how high the highest is, and the exitance of what of them
faces whoever looks. The wall is taken tile by tile, so that all of this stays in the cache.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel

F0 = np.float32(0.0)
F1 = np.float32(1.0)
F2 = np.float32(2.0)
HALF = np.float32(0.5)
QUARTER_TURN = np.float32(0.5 * math.pi)
#: Tangent that stands for straight up and straight down.
STEEPEST = np.float32(1e4)
#: Height that stands for what lies past the wall's border: never seen. [m]
NOTHING = np.float32(-1e3)
#: Added to the height that each step faces, so that level ground has a mean too. [m]
LEVEL = np.float32(1e-7)
#: Where nothing at all is taken in. [m]
LEAST = np.float32(1e-12)
#: What is kept of the surface along one azimuth, and of the vertices that look.
LIGHT, TOPS, RISES, SHOWN = range(4)
GROUND, ALONG, FACING, MOST, SEEN, BEFORE, GAINED, STARTED = range(8)
#: Rows and columns of a tile; a wider one looks less often past its own border.
TILE_ROWS = 64
TILE_COLUMNS = 1024
# arcsin s + s sqrt(1 - s^2), odd powers of s from -1 to 1 (fitted; 5e-4)
A0, A1, A2, A3, A4 = (
    np.float32(x) for x in (1.9950379, -0.2568039, -0.3703343, 0.4855345, -0.2821250)
)


@quick
def below(tangent, along, n):
    """Integral of (a cos x + n sin x) cos x up to the elevation, less a constant; no branches."""
    sine = tangent / math.sqrt(F1 + tangent * tangent)
    q = sine * sine
    return HALF * (along * sine * (A0 + q * (A1 + q * (A2 + q * (A3 + q * A4)))) + n * q)


@quick
def fill(out, first, last, value):
    """One value in a part of a row."""
    for c in range(first, last):
        out[c] = value


@quick
def take(field, y, x, step, empty, out, size):
    """Copy a row from column x on, one way or the other; past the border it is empty."""
    rows, columns = field.shape
    if y < 0 or y >= rows:
        fill(out, 0, size, empty)
    elif step > 0:
        first, last = min(max(-x, 0), size), min(max(columns - x, 0), size)
        fill(out, 0, first, empty)
        for c in range(first, last):
            out[c] = field[y, x + c]
        fill(out, last, size, empty)
    else:
        first, last = min(max(x + 1 - columns, 0), size), min(max(x + 1, 0), size)
        fill(out, 0, first, empty)
        for c in range(first, last):
            out[c] = field[y, x - c]
        fill(out, last, size, empty)


@quick
def rise(near_tops, near_light, tops, light, rises, shown):
    """Height that each step shows to whoever looks, and that times its exitance."""
    for c in range(tops.size):
        up = max(tops[c] - near_tops[c], F0) + LEVEL
        up = up if tops[c] > HALF * NOTHING else F0
        rises[c] = up
        shown[c] = HALF * (near_light[c] + light[c]) * up


@quick
def widen(tops, rises, shown, tops_on, rises_on, shown_on):
    """Take in as many vertices again; what is read of a row is not yet written."""
    for c in range(tops_on.size):
        tops[c] = max(tops[c], tops_on[c])
    for c in range(tops_on.size):
        rises[c] += rises_on[c]
    for c in range(tops_on.size):
        shown[c] += shown_on[c]


@quick
def begin(sine, cosine, tops, state, i, columns):
    """Set out along one azimuth: each vertex's own plane is its first horizon.

    The normals' parts along u and v are where their part along the azimuth comes, and beside it.
    """
    ground, along, facing = state[GROUND, i], state[ALONG, i], state[FACING, i]
    most, seen, started = state[MOST, i], state[SEEN, i], state[STARTED, i]
    before, gained = state[BEFORE, i], state[GAINED, i]
    for c in range(columns):
        along[c] = along[c] * sine + most[c] * cosine
        most[c] = min(max(-along[c] / facing[c], -STEEPEST), STEEPEST)
        seen[c] = below(most[c], along[c], facing[c])
        started[c] = seen[c]
    for c in range(columns):
        before[c] = -STEEPEST
        ground[c] = tops[c]
        gained[c] = F0


@quick
def look_near(
    one, other, start_one, start_other, end_one, end_other, mix, mix_start, mix_end, at, ago,
    state, i, columns,
):  # fmt: skip
    """Look at one place, between two vertices, and at the facet that leads there from the last.

    What is seen of it begins where it comes over the horizon. Its middle, as seen, is nearer
    than its middle on the ground; all that is seen of the first step is at the vertex itself.
    """
    ground, along, facing = state[GROUND, i], state[ALONG, i], state[FACING, i]
    most, seen = state[MOST, i], state[SEEN, i]
    before, gained = state[BEFORE, i], state[GAINED, i]
    per_metre = F1 / at
    for c in range(columns):
        tangent = (one[c] + mix * (other[c] - one[c]) - ground[c]) * per_metre
        rise = max(tangent - before[c], np.float32(1e-9))
        middle = rise + min(max(most[c] - before[c], F0), rise)  # twice what is below it
        share = middle * ago / max(F2 * at * rise - middle * (at - ago), np.float32(1e-15))
        light = start_one[c] + mix_start * (start_other[c] - start_one[c])
        light += share * (end_one[c] + mix_end * (end_other[c] - end_one[c]) - light)
        top = max(tangent, most[c])
        up = below(top, along[c], facing[c])
        gained[c] += (up - seen[c]) * light
        seen[c] = up
        most[c] = top
        before[c] = tangent


@quick
def look_at_two(one, other, light_ago, light_one, light_other, at, then, state, i, columns):
    """Look at two vertices in turn: at the step to each, in the mean of its ends' light."""
    ground, along, facing = state[GROUND, i], state[ALONG, i], state[FACING, i]
    most, seen, gained = state[MOST, i], state[SEEN, i], state[GAINED, i]
    per_metre, per_metre_then = F1 / at, F1 / then
    for c in range(columns):
        middle = max((one[c] - ground[c]) * per_metre, most[c])
        top = max((other[c] - ground[c]) * per_metre_then, middle)
        up = below(top, along[c], facing[c])
        share = (middle - most[c]) / max(top - most[c], np.float32(1e-9))  # of the first step
        light = light_other[c] + share * (light_ago[c] - light_other[c])
        gained[c] += HALF * (up - seen[c]) * (light_one[c] + light)
        seen[c] = up
        most[c] = top


@quick
def look_far(tops, rises, shown, per_metre, state, i, columns):
    """Look at several vertices at once."""
    ground, along, facing = state[GROUND, i], state[ALONG, i], state[FACING, i]
    most, seen, gained = state[MOST, i], state[SEEN, i], state[GAINED, i]
    for c in range(columns):
        top = max((tops[c] - ground[c]) * per_metre, most[c])
        up = below(top, along[c], facing[c])
        gained[c] += (up - seen[c]) * (shown[c] / max(rises[c], LEAST))
        seen[c] = up
        most[c] = top


@quick
def end(gained, seen, started, weight, step, out, hidden):
    """Add what one azimuth brought, one way or the other along the row."""
    last = out.size - 1
    if step > 0:
        for c in range(out.size):
            out[c] += weight * gained[c]
            hidden[c] += weight * (seen[c] - started[c])
    else:
        for c in range(out.size):
            out[c] += weight * gained[last - c]
            hidden[c] += weight * (seen[last - c] - started[last - c])


@quick
def around(
    r0, c0, rows, columns, heights, normals, corners, means, sign, more, near, near_mix, cells,
    cell_mix, near_m, far, far_m, widths, angle, state, field, ends, out, hidden,
):  # fmt: skip
    """Add what a tile of vertices sees along one azimuth."""
    # rows and columns are counted the way that the azimuth goes
    y0, x0 = r0 if sign[0] > 0 else r0 + rows - 1, c0 if sign[1] > 0 else c0 + columns - 1
    y0_cell, x0_cell = y0 - (sign[0] < 0), x0 - (sign[1] < 0)
    rows_on, columns_on = rows + more[0], columns + more[1]
    light, tops, rises, shown = field[LIGHT], field[TOPS], field[RISES], field[SHOWN]
    v, u = widths[0]
    # corners are counted along the azimuth too
    turned = 2 * int(sign[0] < 0) + int(sign[1] < 0)
    for i in range(rows + near_m.size):
        y = y0_cell + i * sign[0]
        wide = columns + near_m.size
        for k in range(4):
            take(corners[k ^ turned], y, x0_cell, sign[1], F0, ends[k, i], wide)
    for i in range(rows_on):
        y = y0 + i * sign[0]
        take(means, y, x0, sign[1], F0, light[i], columns_on)
        take(heights, y, x0, sign[1], NOTHING, tops[i], columns_on)
        if i >= v:
            rise(
                tops[i - v, : columns_on - u], light[i - v, : columns_on - u],
                tops[i, u:columns_on], light[i, u:columns_on],
                rises[i, u:columns_on], shown[i, u:columns_on],
            )  # fmt: skip
    # the sides of a cell that an azimuth meets first and last
    aside, ahead = (1, 2) if near[0, 0] == near[0, 2] else (2, 1)
    for i in range(rows):
        y = y0 + i * sign[0]
        take(normals[0], y, x0, sign[1], F0, state[ALONG, i], columns)
        take(normals[1], y, x0, sign[1], F0, state[MOST, i], columns)
        take(normals[2], y, x0, sign[1], F1, state[FACING, i], columns)
        begin(angle[0], angle[1], tops[i], state, i, columns)
        ago = F0
        for k in range(near_m.size):
            y1, x1, y2, x2 = i + near[k, 0], near[k, 1], i + near[k, 2], near[k, 3]
            y, x = cells[k]
            look_near(
                tops[y1, x1:], tops[y2, x2:],
                ends[0, i + y, x:], ends[aside, i + y, x:],
                ends[ahead, i + y, x:], ends[3, i + y, x:],
                near_mix[k], cell_mix[k, 0], cell_mix[k, 1], near_m[k], ago, state, i, columns,
            )  # fmt: skip
            ago = near_m[k]
    power = 0
    for k in range(far_m.size):
        while power < far[k, 2]:
            y, x = widths[power]
            for i in range(rows_on - y):
                widen(
                    tops[i], rises[i], shown[i],
                    tops[i + y, x:columns_on], rises[i + y, x:columns_on],
                    shown[i + y, x:columns_on],
                )  # fmt: skip
            power += 1
        y, x = far[k, 0], far[k, 1]
        for i in range(rows):
            if power == 0:
                look_at_two(
                    tops[i + y, x:],
                    tops[i + y + v, x + u:],
                    light[i + y - v, x - u:],
                    light[i + y, x:],
                    light[i + y + v, x + u:],
                    far_m[k] - HALF * near_m[0], far_m[k] + HALF * near_m[0], state, i, columns,
                )  # fmt: skip
            else:
                look_far(
                    tops[i + y, x:],
                    rises[i + y, x:],
                    shown[i + y, x:],
                    F1 / far_m[k], state, i, columns,
                )  # fmt: skip
    for i in range(rows):
        y = r0 + i if sign[0] > 0 else r0 + rows - 1 - i
        end(
            state[GAINED, i], state[SEEN, i], state[STARTED, i],
            angle[2], sign[1], out[y, c0 : c0 + columns], hidden[y, c0 : c0 + columns],
        )  # fmt: skip


@quick_kernel
def near_light(
    heights, normals, corners, means, signs, more, near, near_mix, cells, cell_mix, near_m,
    far, far_m, widths, angles, out, hidden,
):  # fmt: skip
    """Light from the surface around each vertex, and the form factor to it.

    heights (R, C) float32 [m]; normals (3, R, C) float32; corners (4, R - 1, C - 1) float32:
    exitance of each cell at its lower left, lower right, upper left and upper right corner;
    means (R, C) float32: of the cells that meet at a vertex [lm/m2].

    Of each of A azimuths: signs (A, 2) int32: which way rows and columns go, 1 or -1; all steps
    are counted that way. more (A, 2) int32: how many are needed beyond a tile. near (A, K, 4)
    int32: rows and columns to the two vertices that each near look lies between; near_mix (A, K)
    float32: where between them; cells (A, K, 2) int32: row and column of the cell that leads
    there, cell_mix (A, K, 2) float32: where its sides are met; near_m (A, K) float32: how far
    [m]. far (A, L, 3) int32: rows and columns to the first vertex of each far look, and how many
    it takes in as a power of two (0: two of them, in turn); far_m (A, L) float32: how far its
    middle is [m]. widths (A, P, 2) int32: rows and columns from 1, 2, 4, ... vertices to as many
    again. angles (A, 3) float32: sine and cosine of the azimuth from +v toward +u, and its width
    over pi. Added to: out [lx], hidden (R, C), float32.
    """
    rows, columns = heights.shape
    most = 0
    for a in range(more.shape[0]):
        most = max(most, more[a, 0], more[a, 1])
    for strip in numba.prange((rows + TILE_ROWS - 1) // TILE_ROWS):
        r0 = strip * TILE_ROWS
        state = np.empty((STARTED + 1, TILE_ROWS, TILE_COLUMNS), np.float32)
        field = np.empty((SHOWN + 1, TILE_ROWS + most, TILE_COLUMNS + most), np.float32)
        wide = near_m.shape[1]
        ends = np.empty((4, TILE_ROWS + wide, TILE_COLUMNS + wide), np.float32)
        for c0 in range(0, columns, TILE_COLUMNS):
            for a in range(signs.shape[0]):
                around(
                    r0, c0, min(TILE_ROWS, rows - r0), min(TILE_COLUMNS, columns - c0),
                    heights, normals, corners, means, signs[a], more[a], near[a], near_mix[a],
                    cells[a], cell_mix[a], near_m[a], far[a], far_m[a], widths[a], angles[a],
                    state, field, ends, out, hidden,
                )  # fmt: skip
