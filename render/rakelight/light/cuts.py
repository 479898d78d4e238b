"""Lines along which a surface is cut: close at its edges, on its holes, at near bodies.

A hole is where something else begins: a recess, or the foot of a board or a column. Light may
jump there, so that nothing is averaged or interpolated across its lines: they are breaks.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Body, Surface

Floats = NDArray[np.float64]

#: A body nearer to a surface than this cuts its patches at the body's outline. [m]
NEAR_BODY_M = 0.3
#: Lines of holes closer than this are one. [m]
SAME_M = 5e-4
#: Each step from an edge is this much longer than the one before.
GROWTH = 1.7
#: Beside a hole in the middle of a surface, patches start this much wider than at its edges.
INNER = 3.0


def graded(
    length_m: float,
    edge_m: float,
    most_m: float,
    last_m: float | None = None,
    growth: float = GROWTH,
) -> Floats:
    """Cuts of a length, `edge_m` apart at both ends and growing to `most_m` in the middle. [m]

    With `last_m`, that far apart at the far end.
    """
    low = _steps(length_m, edge_m, most_m, growth)
    high = low if last_m is None else _steps(length_m, last_m, most_m, growth)
    inner = length_m - low[-1] - high[-1]
    count = max(1, int(np.ceil(inner / most_m - 1e-9)))
    middle = low[-1] + inner * np.arange(1, count) / count
    out: Floats = np.concatenate([low, middle, length_m - np.array(high[::-1])])
    return out


def _steps(length_m: float, edge_m: float, most_m: float, growth: float) -> list[float]:
    """Cuts from one end to where they are `most_m` apart, or to the middle. [m]"""
    steps = [0.0]
    size = min(edge_m, length_m / 4)
    while steps[-1] + 1.25 * size < length_m / 2 and size < most_m:
        steps.append(steps[-1] + size)
        size *= growth
    return steps


def graded_pieces(
    length_m: float,
    breaks_m: Sequence[float],
    edge_m: float,
    most_m: float,
    growth: float = GROWTH,
    inner: float = INNER,
) -> list[Floats]:
    """`graded` for each piece of a length between breaks, from the start of the whole. [m]

    Beside a break they begin `inner` times as far apart as at the ends.
    """
    ends = [0.0, *breaks_m, length_m]
    out = []
    for start, stop in pairwise(ends):
        size = stop - start
        first = edge_m if start == 0.0 else inner * edge_m
        last = edge_m if stop == length_m else inner * edge_m
        lines = np.array([0.0, size])
        if size > 1.5 * edge_m:
            lines = graded(size, first, most_m, last, growth)
        out.append(start + lines)
        out[-1][-1] = stop
    return out


def with_cuts(lines: Floats, cuts: Sequence[float], least_m: float) -> Floats:
    """Put cuts among lines; lines nearer to a cut than `least_m` make way, the ends never do."""
    end = float(lines[-1])
    kept: list[float] = []
    for cut in sorted(cuts):
        if least_m < cut < end - least_m and (not kept or cut - kept[-1] > least_m):
            kept.append(cut)
    if not kept:
        return lines
    away = np.abs(lines[:, None] - np.array(kept)).min(axis=1) > least_m
    away[[0, -1]] = True
    out: Floats = np.sort(np.concatenate([lines[away], kept]))
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Where a surface is cut.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (columns + 1,), (rows + 1,)
        The lines. [m]
    breaks_u_m, breaks_v_m : tuple of float
        Those of them on holes. [m]
    """

    u_m: Floats
    v_m: Floats
    breaks_u_m: tuple[float, ...]
    breaks_v_m: tuple[float, ...]


def breaks_of(surface: Surface) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Lines of u and of v on which the corners of a surface's holes lie. [m]"""
    found: list[tuple[float, ...]] = []
    for axis, length in ((0, surface.grid.width_m), (1, surface.grid.height_m)):
        kept: list[float] = []
        for value in sorted(float(x) for hole in surface.holes_uv_m for x in hole[:, axis]):
            if SAME_M < value < length - SAME_M and (not kept or value - kept[-1] > SAME_M):
                kept.append(value)
        found.append(tuple(kept))
    return found[0], found[1]


def surface_pieces(
    surface: Surface,
    edge_m: float,
    most_m: float,
    bodies: Sequence[Body] = (),
    growth: float = GROWTH,
    aside_m: float = 0.0,
    across: tuple[float, float] | None = None,
    inner: float = INNER,
) -> tuple[list[Floats], list[Floats]]:
    """Lines of u and of v, piece by piece between breaks; both ends of each are included. [m]

    They fall on the outlines of near bodies too, or `aside_m` outside of them. `across` holds
    edge_m and growth for the shorter side, where they are others; `inner` as in `graded_pieces`.
    """
    cuts: tuple[list[float], list[float]] = ([], [])
    for body in bodies:
        local = surface.frame.from_room(body.points_m)
        if -1e-3 <= local[:, 2].min() <= NEAR_BODY_M:
            for axis in (0, 1):
                low, high = float(local[:, axis].min()), float(local[:, axis].max())
                cuts[axis].extend((low - aside_m, high + aside_m))
    breaks = breaks_of(surface)
    found = []
    for axis, length in ((0, surface.grid.width_m), (1, surface.grid.height_m)):
        first_m, more = edge_m, growth
        if across is not None and length == min(surface.grid.width_m, surface.grid.height_m):
            first_m, more = across
        pieces = graded_pieces(length, breaks[axis], first_m, most_m, more, inner)
        least = first_m / 4
        own = [x for x in cuts[axis] if all(abs(x - at) > least for at in breaks[axis])]
        found.append([_cut_piece(piece, own, least) for piece in pieces])
    return found[0], found[1]


def surface_lines(
    surface: Surface, edge_m: float, most_m: float, bodies: Sequence[Body] = ()
) -> Lines:
    """Lines between a surface's patches: on its holes, and on the outlines of near bodies."""
    u, v = (
        np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])
        for pieces in surface_pieces(surface, edge_m, most_m, bodies)
    )
    return Lines(u, v, *breaks_of(surface))


def _cut_piece(piece: Floats, cuts: Sequence[float], least_m: float) -> Floats:
    out: Floats = piece[0] + with_cuts(piece - piece[0], [x - piece[0] for x in cuts], least_m)
    return out


def in_holes(surface: Surface, places: Floats) -> NDArray[np.bool_]:
    """Whether places (u, v), shape (n, 2), lie in one of a surface's holes."""
    out = np.zeros(len(places), np.bool_)
    for hole in surface.holes_uv_m:
        out |= _inside(hole, places)
    return out


def _inside(outline: Floats, places: Floats) -> NDArray[np.bool_]:
    """Whether places, shape (n, 2), lie in a polygon (even-odd rule)."""
    crossed = np.zeros(len(places), np.int64)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        between = (places[:, 1] >= min(y0, y1)) & (places[:, 1] < max(y0, y1))
        crossed += between & (places[:, 0] < x0 + (places[:, 1] - y0) * (x1 - x0) / (y1 - y0))
    out: NDArray[np.bool_] = crossed % 2 == 1
    return out


def whole_relief(surface: Surface) -> Relief:
    """A surface's relief with all that is built of the surface in its mask.

    The plain parts of a wall that has areas of relief stand in the light as the areas do, and send
    it back; holes and what lies beyond the surface's outline do not.

    Raises
    ------
    ValueError
        If the surface has no relief.
    """
    relief = surface.relief
    if relief is None:
        raise ValueError(f"{surface.name} has no relief")
    if relief.mask.all():
        return relief
    # half-open rules would leave some of the border out
    u, v = (np.clip(x, x[0] + 1e-9, x[-1] - 1e-9) for x in (relief.grid.u_m(), relief.grid.v_m()))
    places = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
    there = _inside(surface.corners_uv_m, places) & ~in_holes(surface, places)
    return replace(relief, mask=relief.mask | there.reshape(relief.mask.shape))


def on_holes(surface: Surface) -> NDArray[np.bool_]:
    """Vertices of a surface's grid in a hole or on its outline, shape (rows, columns)."""
    grid = surface.grid
    out = np.zeros((grid.rows, grid.columns), np.bool_)
    if not surface.holes_uv_m:
        return out
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    for near_u in (-SAME_M, SAME_M):
        for near_v in (-SAME_M, SAME_M):
            places = np.stack([u + near_u, v + near_v], axis=-1).reshape(-1, 2)
            out |= in_holes(surface, places).reshape(out.shape)
    return out
