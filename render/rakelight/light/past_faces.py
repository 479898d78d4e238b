"""Light of a run on single points: past faces, in any direction, through a relief's horizons."""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.faces import Shades, run_axes
from rakelight.light.kernels.blocked_line import blocked_line
from rakelight.light.kernels.relief_any import relief_any
from rakelight.light.table import MARGIN, axial_table
from rakelight.light.turned import TurnedRelief
from rakelight.light.visibility import Nearby, relief_clear
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Field = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: Distances over opening width within which 3 and 7 lines are seen (see `strips.STRIPS`).
NEAR_WIDTHS = (6.0, 2.5)
#: Neighbours of a vertex, and the share of the greater light by which a shadow's edge differs.
BESIDE = ((0, 1), (2, 1), (1, 0), (1, 2))
EDGE_STEP = 0.1
#: Points served by one call of the kernel.
BATCH = 1 << 18
#: Lit lengths under this are summed one by one. [m]
SHORT_M = 0.2


def is_round(line: LitLine) -> bool:
    """Whether the lit lengths are diameters of round openings, one for each luminaire."""
    if not line.intensity.round_opening:
        return False
    lengths = line.lit_m[:, 1] - line.lit_m[:, 0]
    return bool(np.all(lengths < 1.5 * line.opening_width_m))


def is_short(line: LitLine) -> bool:
    """Whether equal steps of angle over the whole run would jump over its lit lengths.

    Single luminaires and rows of them: their steps are set from each lit length instead.
    """
    lengths = line.lit_m[:, 1] - line.lit_m[:, 0]
    return bool(np.max(lengths) < SHORT_M) or is_round(line)


def light_points(
    line: LitLine,
    points_m: Floats,
    normals: Floats,
    shade: Shades,
    tiles: NDArray[np.int32],
    steps: int,
    *,
    turned: TurnedRelief | None = None,
    cells: NDArray[np.int32] | None = None,
    near: Nearby | None = None,
    close: Mask | None = None,
) -> Field:
    """Illuminance of one run at full output on points.

    Parameters
    ----------
    line : LitLine
        The run.
    points_m, normals : ndarray of float64, shape (points, 3)
        In the room. [m]
    shade : Shades
        Faces that may stand in between, by tile.
    tiles : ndarray of int32, shape (points,)
        Each point's tile.
    steps : int
        Quadrature steps over 180 degrees seen from a point.
    turned : TurnedRelief, optional
        The relief that the points are vertices of; only light from larger v counts.
    cells : ndarray of int32, shape (points,), optional
        Their places in the turned relief's planes.
    near : Nearby, optional
        Another relief that is close to some of them.
    close : ndarray of bool, shape (points,), optional
        Which.

    Returns
    -------
    ndarray of float32, shape (points,)
        [lx]
    """
    turn = run_axes(line)
    out = np.zeros(len(points_m), np.float32)
    table = axial_table(line, line.axis)
    if turned is None:
        horizons = np.zeros((0, 0), np.float32)
        spin = np.eye(3)
        cells = np.zeros(len(points_m), np.int32)
    else:
        assert cells is not None
        horizons = turned.horizons.reshape(turned.horizons.shape[0], -1)
        frame = turned.frame
        spin = np.ascontiguousarray(turn.T @ np.stack([frame.u, frame.v, frame.n], axis=1))
    clear = np.zeros((0, 1), np.float32)
    clear_rows = np.full(len(points_m), -1, np.int32)
    if near is not None and close is not None and close.any():
        clear = relief_clear(near.scene, points_m[close], normals[close], line)
        clear_rows[close] = np.arange(len(clear))
    for first in range(0, len(points_m), BATCH):
        part = slice(first, first + BATCH)
        blocked_line(
            (points_m[part] - line.origin_m) @ turn,
            normals[part] @ turn,
            cells[part],
            horizons,
            spin,
            turned is not None,
            0.0 if turned is None else turned.tie_m,
            np.ascontiguousarray(line.lit_m, np.float64),
            float(line.opening_width_m),
            is_round(line),
            table,
            MARGIN,
            shade.corners_m,
            shade.parallel,
            shade.starts,
            shade.listed,
            tiles[part],
            clear,
            clear_rows[part],
            np.array(NEAR_WIDTHS),
            steps,
            out[part],
        )
    return out


def light_plane_points(
    surface: Surface,
    line: LitLine,
    shade: Shades,
    near: Nearby | None,
    where: Mask,
    steps: int,
    offset_m: tuple[float, float] = (0.0, 0.0),
) -> Field:
    """Illuminance of the vertices `where` of a surface's mean plane, shape (points,). [lx].

    With an offset the places that lie so far along u and v from them; those beyond the grid are
    folded back into it.
    """
    grid = surface.grid
    rows, columns = np.nonzero(where)
    u = _folded(grid.u_m()[columns] + offset_m[0], grid.width_m)
    v = _folded(grid.v_m()[rows] + offset_m[1], grid.height_m)
    points = surface.frame.to_room(np.column_stack([u, v, np.zeros(rows.size)]))
    normals = np.broadcast_to(surface.frame.n, points.shape)
    close = None if near is None else near.mask[where]
    return light_points(
        line, points, normals, shade, shade.tiles[where], steps, near=near, close=close
    )


def _folded(places_m: Floats, size_m: float) -> Floats:
    out: Floats = size_m - np.abs(size_m - np.abs(places_m))
    return out


def soften_edges(
    surface: Surface,
    line: LitLine,
    shade: Shades,
    near: Nearby | None,
    lit: Field,
    shaded: Mask,
    steps: int,
) -> None:
    """Give vertices at a shadow's edge the mean of the cell around them, in place.

    An edge that runs at a slant to the grid is otherwise a flight of stairs: between vertices
    light is interpolated, and a vertex alone says only on which side of the edge it lies.

    Parameters
    ----------
    lit : ndarray of float32, shape (rows, columns)
        By `light_plane_points`. [lx]
    shaded : ndarray of bool, shape (rows, columns)
        Vertices that something may shade.
    """
    padded = np.pad(lit, 1, mode="edge")
    rows, columns = lit.shape
    beside = np.stack([padded[i : i + rows, k : k + columns] for i, k in BESIDE])
    most = np.maximum(beside.max(axis=0), lit)
    sharp = shaded & (most - np.minimum(beside.min(axis=0), lit) > EDGE_STEP * most)
    if near is not None:
        sharp &= ~near.mask  # there rays have decided, and stones end in no straight edge
    if not sharp.any():
        return
    grid = surface.grid
    thirds = [
        (i * grid.step_u_m / 3, k * grid.step_v_m / 3) for i in (-1, 0, 1) for k in (-1, 0, 1)
    ]
    total = lit[sharp].astype(np.float64)  # the middle one is there already
    for at in thirds:
        if at != (0.0, 0.0):
            total += light_plane_points(surface, line, shade, near, sharp, steps, at)
    lit[sharp] = (total / len(thirds)).astype(np.float32)


def light_vertices(
    turned: TurnedRelief,
    line: LitLine,
    shade: Shades,
    tiles: NDArray[np.int32],
    near: Nearby | None,
    close: Mask | None,
    where: Mask,
    steps: int,
) -> Field:
    """Illuminance of the vertices `where` of a turned relief, shape (points,). [lx].

    `tiles`, `close` and `where` are turned like the relief.
    """
    out = np.empty(int(where.sum()), np.float32)
    done = 0
    columns = where.shape[1]
    frame = turned.frame
    at_once = max(1, BATCH // columns)
    for first in range(0, where.shape[0], at_once):
        block = slice(first, first + at_once)
        rows, across = np.nonzero(where[block])
        if rows.size == 0:
            continue
        rows += first
        uvn = np.column_stack(
            [across * turned.step_u_m, rows * turned.step_v_m, turned.heights_m[rows, across]]
        )
        normals = turned.normals[:, rows, across].T.astype(np.float64)
        out[done : done + rows.size] = light_points(
            line,
            frame.to_room(uvn.astype(np.float64)),
            normals @ np.stack([frame.u, frame.v, frame.n]),
            shade,
            tiles[rows, across],
            steps,
            turned=turned,
            cells=(rows * columns + across).astype(np.int32),
            near=near,
            close=None if close is None else close[rows, across],
        )
        done += rows.size
    return out


def add_light_any(turned: TurnedRelief, line: LitLine, steps: int, out: Field) -> None:
    """Add the self-shadowed illuminance of a run at any angle, at full output.

    Parameters
    ----------
    turned : TurnedRelief
        The relief; only what lies at larger v than a vertex lights it.
    line : LitLine
        The run, in front of the highest point.
    steps : int
        Quadrature steps over 180 degrees along the run.
    out : ndarray of float32, shape (rows, columns)
        Turned like the relief; added to. [lx]
    """
    frame = turned.frame
    rows = turned.heights_m.shape[0]
    relief_any(
        turned.heights_m,
        turned.normals,
        np.linspace(0.0, (rows - 1) * turned.step_v_m, rows).astype(np.float32),
        np.float32(turned.step_u_m),
        turned.horizons,
        frame.from_room(line.origin_m) + np.array([0.0, turned.tie_m, 0.0]),
        np.ascontiguousarray(run_axes(line).T @ np.stack([frame.u, frame.v, frame.n], axis=1)),
        np.ascontiguousarray(line.lit_m, np.float64),
        float(line.opening_width_m),
        is_round(line),
        axial_table(line, line.axis),
        MARGIN,
        np.array(NEAR_WIDTHS),
        steps,
        out,
    )
