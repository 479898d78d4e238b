"""Direct light of the runs on every surface of a prepared room."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rakelight.light.beside_run import even_beside_run
from rakelight.light.faces import Shades, blocking_faces, shades
from rakelight.light.kernels.point_line import point_line
from rakelight.light.kernels.relief_line import relief_line
from rakelight.light.past_faces import (
    add_light_any,
    is_short,
    light_plane_points,
    light_vertices,
    soften_edges,
)
from rakelight.light.prepare import PARALLEL, Prepared, sides_of
from rakelight.light.rows import RowPoints, rows_of
from rakelight.light.shadow_edges import EdgePoints, edge_points, turned_rows
from rakelight.light.strips import strips_by_row
from rakelight.light.table import MARGIN, axial_table
from rakelight.light.turned import Side, TurnedRelief, lists_back, turn_field, turned_back
from rakelight.light.visibility import Nearby, in_front, nearby
from rakelight.scene.lit import EdgeLight, Lit
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.surfaces import Surface

Field = NDArray[np.float32]

#: Columns between two evaluations of the mean plane's own light, which has no texture.
FLAT_STRIDE = 16


class Pass(NamedTuple):
    """A run of a group whose light on a turned relief was found row by row."""

    group: int
    side: Side
    turned: TurnedRelief
    line: LitLine


def direct(
    prepared: Prepared,
    groups: tuple[LightGroup, ...] | None = None,
    *,
    edges: bool = True,
    bounced: bool = True,
) -> Lit:
    """Illuminance of every surface by the runs alone, and by the stated other light.

    Parameters
    ----------
    prepared : Prepared
        The room and what depends on it alone.
    groups : tuple of LightGroup, optional
        The runs; the room's own unless given.
    edges : bool
        Whether to find the light between vertices where shadows' edges run: pictures and bounced
        light need it, numbers of the runs' light alone do not.
    bounced : bool
        Whether bounced light may come after: then reliefs without an image, of which pictures
        draw the vertices alone, need the light between them as well.

    Returns
    -------
    Lit
        Per group at full output; nothing bounced.

    Raises
    ------
    ValueError
        If a run stands inside a relief, crosses its plane, or lies on a side of it that
        `prepare` was not told of.
    """
    room, steps = prepared.room, prepared.quality.steps
    groups = room.groups if groups is None else groups
    lines = [line for group in groups for line in group.lines]
    faces = blocking_faces(room)
    direct_lx: dict[str, Field] = {}
    flat_lx: dict[str, Field] = {}
    other_lx: dict[str, Field] = {}
    toward_lx: dict[str, Field] = {}
    on_edges: dict[str, EdgeLight] = {}
    for surface in room.surfaces:
        shape = (len(groups), surface.grid.rows, surface.grid.columns)
        light = np.zeros(shape, np.float32)
        relief = prepared.reliefs.get(surface.name)
        near = nearby(surface, room, lines, prepared.beside)
        flat = None if relief is None else np.zeros(shape, np.float32)
        rough = surface.relief
        if rough is not None and (rough.detail is not None or (edges and bounced)):
            toward_lx[surface.name] = np.zeros((shape[0], 3, *shape[1:]), np.float32)
        passes: list[Pass] = []
        hidden, others = np.zeros(shape[1:], np.bool_), None
        for g, group in enumerate(groups):
            for whole in group.lines:
                line = in_front(surface, whole)
                if line is None:
                    continue
                shade = shades(surface, line, faces.without(surface.name, line))
                if relief is None or flat is None:
                    light[g] += shaded_plane_light(surface, line, shade, near, steps)
                    continue
                for side in sides_of(surface, line):
                    if side not in relief.sides:
                        raise ValueError(
                            f"run {line.tag!r} lies on a side of {surface.name} that `prepare` "
                            "was not told of"
                        )
                    turned = relief.sides[side]
                    toward = None
                    if surface.name in toward_lx:
                        toward = np.zeros(turned.normals.shape, np.float32)
                    part = relief_light(surface, turned, side, line, shade, near, steps, toward)
                    turn_field(light[g], side)[...] += part
                    if toward is None:
                        continue
                    toward_lx[surface.name][g] += turned_back(toward, side)
                    if serves_rows(turned, line) and not is_short(line):
                        passes.append(Pass(g, side, turned, line))
                        hidden |= shade.shaded if near is None else shade.shaded | near.mask
                    else:
                        others = np.zeros(shape, np.float32) if others is None else others
                        turn_field(others[g], side)[...] += part
                flat[g] += shaded_plane_light(surface, line, shade, near, steps, FLAT_STRIDE)
        if relief is None or flat is None:
            other_lx[surface.name] = np.full(shape[1:], surface.other_light_lx, np.float32)
        else:
            flat_lx[surface.name] = flat
            other_lx[surface.name] = relief.openness * np.float32(surface.other_light_lx)
        direct_lx[surface.name] = light
        if passes and edges and surface.relief is not None:
            points = edge_points(toward_lx[surface.name], hidden)
            if points is not None:
                on_edges[surface.name] = edge_light(
                    points, surface.relief.highest_m, passes, len(groups), others, steps
                )
    return Lit(
        direct_lx=direct_lx,
        flat_lx=flat_lx,
        bounced_lx={},
        other_lx=other_lx,
        output=np.array([group.output for group in groups], np.float64),
        white_rgb=np.array([group.white_rgb for group in groups], np.float64).reshape(-1, 3),
        toward_lx=toward_lx,
        edges=on_edges,
    )


def edge_light(
    points: EdgePoints,
    highest_m: float,
    passes: Sequence[Pass],
    groups: int,
    others: Field | None,
    steps: int,
) -> EdgeLight:
    """Light the points on shadows' edges; `others`, by group, is all but the passes' light."""
    direct_lx = np.zeros((groups, points.rows.size), np.float32)
    if others is not None:
        direct_lx = points.halfway(others)
    toward_lx = np.zeros((groups, 3, points.rows.size), np.float32)
    for group, side, turned, line in passes:
        for number, rows in turned_rows(points, turned, side):
            out = np.zeros(rows.heights_m.size, np.float32)
            toward = np.zeros((3, out.size), np.float32)
            add_row_light(rows, highest_m, line, steps, out, toward)
            direct_lx[group, number] += out
            toward_lx[group][:, number] += lists_back(toward, side)
    return points.lit(direct_lx, toward_lx)


def serves_rows(turned: TurnedRelief, line: LitLine) -> bool:
    """Whether a run is parallel to the rows and one lit length over most of them.

    All vertices of a row then share the offsets along the run. Beyond the ends of a short run,
    steps that are only partly lit would be 2 % off.
    """
    axis = turned.frame.direction_from_room(line.axis)
    wide = (turned.heights_m.shape[1] - 1) * turned.step_u_m
    length = line.lit_m[0, 1] - line.lit_m[0, 0]
    return bool(abs(axis[0]) > 1 - PARALLEL and len(line.lit_m) == 1 and length > 0.8 * wide)


def shaded_plane_light(
    surface: Surface,
    line: LitLine,
    shade: Shades,
    near: Nearby | None,
    steps: int,
    stride: int = 1,
) -> Field:
    """`plane_light`, past all that stands in between."""
    where = shade.shaded
    if near is not None:
        where = where | near.mask
    if is_short(line) and stride == 1:
        where = np.ones(where.shape, np.bool_)
    if where.all():
        out = np.zeros(where.shape, np.float32)
    else:
        out = plane_light(surface, line, steps, stride)
    if where.any():
        out[where] = light_plane_points(surface, line, shade, near, where, steps)
        if stride == 1:
            soften_edges(surface, line, shade, near, out, shade.shaded, steps)
    if stride == 1:
        even_beside_run(surface, line, shade, near, out, steps)
    return out


def relief_light(
    surface: Surface,
    turned: TurnedRelief,
    side: Side,
    line: LitLine,
    shade: Shades,
    near: Nearby | None,
    steps: int,
    toward: Field | None = None,
) -> Field:
    """Illuminance of a turned relief by one run that lies at larger v, at full output. [lx].

    Rows under a parallel run share their offsets; other runs are summed vertex by vertex; what
    faces or other reliefs may shade is looked at point by point. `toward`, shape (3, rows,
    columns), takes where it comes from (`Lit.toward_lx`), as far as rows share their offsets.
    """
    highest = surface.relief.highest_m if surface.relief else 0.0
    out = np.zeros(turned.heights_m.shape, np.float32)
    where = turn_field(shade.shaded, side)
    close = None
    if near is not None:
        close = turn_field(near.mask, side)
        where = where | close
    if not where.all():
        if serves_rows(turned, line) and not is_short(line):
            add_relief_light(turned, highest, line, steps, out, toward)
        else:
            add_light_any(turned, line, steps, out)
    if where.any():
        tiles = turn_field(shade.tiles, side)
        open_lx = out[where]
        out[where] = light_vertices(turned, line, shade, tiles, near, close, where, steps)
        if toward is not None:
            # what a face hides is missing from all directions alike
            toward[:, where] *= np.clip(out[where] / np.maximum(open_lx, 1e-9), 0.0, 1.0)
    return out


def point_light(
    points_m: NDArray[np.float64], normals: NDArray[np.float64], line: LitLine, steps: int
) -> Field:
    """Illuminance of one run at full output on free points, nothing in between.

    Parameters
    ----------
    points_m : ndarray of float64, shape (points, 3)
        In the room. [m]
    normals : ndarray of float64, shape (points, 3) or (3,)
        Unit normals of the receiving planes.
    line : LitLine
        The run.
    steps : int
        Quadrature steps over 180 degrees seen from the point.

    Returns
    -------
    ndarray of float32, shape (points,)
        Illuminance. [lx]
    """
    turn = np.stack([line.axis, line.nadir, line.across], axis=1)
    local = (points_m - line.origin_m) @ turn
    facing = np.broadcast_to(normals @ turn, local.shape)
    out = np.zeros(len(local), np.float32)
    point_line(
        np.ascontiguousarray(local, np.float32),
        np.ascontiguousarray(facing, np.float32),
        line.lit_m.astype(np.float32),
        np.float32(line.opening_width_m),
        axial_table(line, line.axis),
        np.int32(MARGIN),
        np.int32(steps),
        out,
    )
    return out


def plane_light(surface: Surface, line: LitLine, steps: int, stride: int = 1) -> Field:
    """Illuminance of a surface's mean plane by one run at full output, shape (rows, columns). [lx].

    With a stride only every so many columns are evaluated and the rest is interpolated along
    u: meant for the mean plane behind a relief, whose mesh is much finer than its light.
    """
    grid = surface.grid
    columns = np.unique(np.append(np.arange(0, grid.columns, stride), grid.columns - 1))
    u, v = grid.u_m()[columns], grid.v_m()
    uvn = np.zeros((v.size, u.size, 3))
    uvn[..., 0], uvn[..., 1] = u, v[:, None]
    points = surface.frame.to_room(uvn.reshape(-1, 3))
    coarse = point_light(points, surface.frame.n, line, steps).reshape(v.size, u.size)
    if stride == 1:
        return coarse
    at = np.searchsorted(columns, np.arange(grid.columns), "right") - 1
    at = np.minimum(at, columns.size - 2)
    mix = ((np.arange(grid.columns) - columns[at]) / (columns[at + 1] - columns[at])).astype(
        np.float32
    )
    out: Field = coarse[:, at] * (1 - mix) + coarse[:, at + 1] * mix
    return out


def add_relief_light(
    turned: TurnedRelief,
    highest_m: float,
    line: LitLine,
    steps: int,
    out: Field,
    toward: Field | None = None,
) -> None:
    """Add one run's self-shadowed illuminance, at full output, to what lies below it.

    Parameters
    ----------
    turned : TurnedRelief
        The relief with the run's side up.
    highest_m : float
        Highest point of the relief. [m]
    line : LitLine
        The run, parallel to the turned rows.
    steps : int
        Quadrature steps over 180 degrees along the run.
    out : ndarray of float32, shape (rows, columns)
        Turned like the relief; added to. [lx]
    toward : ndarray of float32, shape (3, rows, columns), optional
        Turned likewise, its vectors too; added to (`Lit.toward_lx`). [lx]

    Raises
    ------
    ValueError
        If the near edge of the opening does not clear the highest point: the horizons are
        exact only for sources in front of it.
    """
    flat, flat_toward = out.view(), np.zeros((3, 0), np.float32)
    flat.shape = (-1,)  # never a copy
    if toward is not None:
        flat_toward = toward.view()
        flat_toward.shape = (3, -1)
    add_row_light(rows_of(turned), highest_m, line, steps, flat, flat_toward)


def add_row_light(
    points: RowPoints, highest_m: float, line: LitLine, steps: int, out: Field, toward: Field
) -> None:
    """`add_relief_light` on points in rows; out (points,), toward (3, points) or (3, 0)."""
    frame = points.frame
    origin = frame.from_room(line.origin_m) + np.array([0.0, points.tie_m, 0.0])
    across = frame.direction_from_room(line.across)[1:]
    nadir = frame.direction_from_room(line.nadir)[1:]
    near_edge = origin[2] - abs(across[1]) * line.opening_width_m / 2
    if near_edge <= highest_m:
        raise ValueError(
            f"run {line.tag!r}: its opening's near edge is {near_edge * 1000:.1f} mm in front of "
            f"the mean plane, and the relief stands out {highest_m * 1000:.1f} mm"
        )
    sign = 1.0 if frame.direction_from_room(line.axis)[0] > 0 else -1.0
    lit = np.sort(origin[0] + sign * line.lit_m, axis=1)[:: int(sign)]
    table = axial_table(line, line.axis * sign)
    for served, strips in strips_by_row(
        origin[1:], across, line.opening_width_m, points.rows_v, highest_m
    ):
        relief_line(
            points.heights_m,
            points.normals,
            points.places_u,
            points.horizons,
            points.begins,
            points.rows_v.astype(np.float32),
            np.float32(points.width_m),
            np.int32(served.start),
            np.int32(served.stop),
            strips,
            np.ascontiguousarray(lit, np.float32),
            table,
            np.int32(MARGIN),
            np.array([nadir, across], np.float32),
            np.int32(steps),
            toward,
            out,
        )
