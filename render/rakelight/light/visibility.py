"""Reliefs that are not one's own, and meshes: where they stand in a run's light, by rays."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.faces import blocking_faces, run_axes
from rakelight.light.meshes import cast_triangles, part_boxes, vertices_behind
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float64]

#: Another wall's relief is ray-cast with its own vertices up to this many, else with fewer.
MESH_VERTICES = 2_000_000
#: The same beside a surface without relief: only a strip as wide as the relief is deep looks past
#: it, and twelve millimetres from point to point are enough for what shows on a floor there.
PLAIN_VERTICES = 100_000
#: Taken of another wall's relief beyond what light can pass under. [m]
REACH_SPARE_M = 0.03
#: Beside a plain surface the reach is one of a ladder of this ratio, so that most moves of a run
#: need no new mesh.
RUNG = 1.5
#: Rays along the run from a point close to another wall's relief.
BINS = 64
#: Rays start and end this far from what they join. [m]
LIFT_M = 2e-5
#: Points whose rays are cast at a time.
BATCH = 4096


@dataclass(frozen=True, slots=True, eq=False)
class Nearby:
    """Points close to another relief or behind a mesh: rays decide what they see of a run.

    Parameters
    ----------
    scene : EmbreeScene
        The ray tracer's scene of these reliefs and meshes.
    mask : ndarray of bool, shape (rows, columns)
        The points.
    """

    scene: EmbreeScene
    mask: NDArray[np.bool_]


#: Ray tracer's scenes of what stands beside each surface, by its name, and what they are of.
Beside = dict[str, tuple[tuple[object, ...], EmbreeScene]]


def height_over(surface: Surface, points_m: Floats) -> Floats:
    """Distance of room points in front of a surface's mean plane, shape (points,). [m]"""
    out: Floats = (points_m - surface.frame.origin_m) @ surface.frame.n
    return out


def lit_heights(surface: Surface, line: LitLine) -> Floats:
    """Least distance of the opening's edges from a mean plane, at both lit ends, shape (2,). [m]"""
    ends = line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis
    half = abs(float(line.across @ surface.frame.n)) * line.opening_width_m / 2
    out: Floats = height_over(surface, ends) - half
    return out


def in_front(surface: Surface, line: LitLine) -> LitLine | None:
    """The part of a run that can light a surface: what lies in front of its highest point.

    Parameters
    ----------
    surface : Surface
        What is lit.
    line : LitLine
        The run.

    Returns
    -------
    LitLine or None
        None if all of it lies behind the surface. A run that ends within the relief of a wall
        beside it is cut off where it dips below the highest point.

    Raises
    ------
    ValueError
        If the opening does not clear the relief of the wall that it lights or runs along: the
        horizons are exact only for sources in front of it. Or if it crosses the plane.
    """
    width = abs(float(line.across @ surface.frame.n)) * line.opening_width_m
    near = lit_heights(surface, line)
    if max(near) + width <= 0:
        return None
    if surface.relief is None or min(near) > surface.relief.highest_m:
        return line
    highest = surface.relief.highest_m
    slope = float(line.axis @ surface.frame.n)
    first, last = line.lit_m[0, 0], line.lit_m[-1, 1]
    ends_beside = abs(slope) > 1e-6 and line.lights != surface.name and min(near) > -1e-3
    if not ends_beside or max(near) <= highest:
        raise ValueError(
            f"run {line.tag!r}: inside the relief of {surface.name}, which stands out "
            f"{highest * 1000:.1f} mm; its opening's near edge is {min(near) * 1000:.1f} mm in "
            "front of the mean plane"
        )
    cut = first + (highest + LIFT_M - near[0]) / slope
    span = (cut, last) if slope > 0 else (first, cut)
    lit = np.clip(line.lit_m, *span)
    lit = lit[lit[:, 1] > lit[:, 0]]
    return replace(line, lit_m=lit) if len(lit) else None


def nearby(
    surface: Surface, room: Room, lines: Sequence[LitLine], known: Beside | None = None
) -> Nearby | None:
    """Vertices nearer to another relief's mean plane than its highest point, or behind a mesh.

    Parameters
    ----------
    surface : Surface
        What is lit.
    room : Room
        Its reliefs.
    lines : sequence of LitLine
        The runs: how steeply their light leaves the other wall says how much of it matters.
    known : Beside, optional
        Scenes that were made for the same reliefs; added to.
    """
    if not lines:
        return None
    grid = surface.grid
    mask = np.zeros((grid.rows, grid.columns), np.bool_)
    meant = []
    for other in room.surfaces:
        if other.relief is None or other is surface:
            continue
        corner = height_over(other, surface.frame.origin_m[None])[0]
        over = (
            corner
            + (surface.frame.u @ other.frame.n) * grid.u_m()
            + (surface.frame.v @ other.frame.n) * grid.v_m()[:, None]
        )
        lean = float(surface.frame.n @ other.frame.n)
        if surface.relief is not None and abs(lean) > 1e-9:
            over = over + lean * surface.relief.heights_m
        close = over < other.relief.highest_m
        if close.any():
            meant.append((other, _reach(surface, other, lines)))
            mask |= close
    triangles = cast_triangles(room)
    boxes = part_boxes(triangles)
    behind = np.zeros_like(mask)
    for line in lines:
        seen = in_front(surface, line) if len(boxes) else None
        if seen is not None:
            behind |= vertices_behind(surface, seen, boxes)
    if not meant and not behind.any():
        return None
    if behind.any():
        scene = relief_scene(surface, meant)
        TriangleMesh(scene, np.ascontiguousarray(triangles, np.float32))
    else:
        scene = _kept_scene(surface, meant, {} if known is None else known)
    return Nearby(scene, mask | behind)


def _kept_scene(
    surface: Surface, others: Sequence[tuple[Surface, float]], known: Beside
) -> EmbreeScene:
    """`relief_scene`, or the one that is known already."""
    frame = surface.frame
    key = (
        *(part.tobytes() for part in (frame.origin_m, frame.u, frame.v, frame.n)),
        surface.relief is None,
        *((other.name, reach) for other, reach in others),
    )
    found = known.get(surface.name)
    if found is None or found[0] != key:
        found = known[surface.name] = (key, relief_scene(surface, others))
    return found[1]


def _reach(surface: Surface, other: Surface, lines: Sequence[LitLine]) -> float:
    """How far from a surface's plane light to it may pass under another's highest point. [m]"""
    assert other.relief is not None
    reach = 0.0
    for line in lines:
        ends = line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis
        far = float(height_over(surface, ends).max()) + line.opening_width_m
        out = float(lit_heights(other, line).min())
        share = min(1.0, other.relief.highest_m / out) if out > 0 else 1.0
        reach = max(reach, share * far)
    reach += REACH_SPARE_M
    if surface.relief is not None:
        return reach
    return float(RUNG ** np.ceil(np.log(reach) / np.log(RUNG)))


def relief_scene(surface: Surface, others: Iterable[tuple[Surface, float]]) -> EmbreeScene:
    """A ray tracer's scene of reliefs beside a surface, each as far from its plane as stated.

    Their own vertices, as long as there are at most MESH_VERTICES of them: at twice the step one
    vertex in fifty right in the corner was wholly wrong.
    """
    scene = EmbreeScene()
    for other, reach in others:
        relief, grid = other.relief, other.grid
        assert relief is not None
        # the distance from the plane is a sum of one part by column and one by row
        by_u = (
            height_over(surface, other.frame.origin_m[None])[0]
            + (other.frame.u @ surface.frame.n) * grid.u_m()
        )
        by_v = (other.frame.v @ surface.frame.n) * grid.v_m()
        rows = np.flatnonzero(by_u.min() + by_v <= reach)
        columns = np.flatnonzero(by_u + by_v.min() <= reach)
        if rows.size < 2 or columns.size < 2:
            continue
        most = PLAIN_VERTICES if surface.relief is None else MESH_VERTICES
        every = max(1, int(np.ceil(np.sqrt(rows.size * columns.size / most))))
        rows = np.unique(np.append(rows[::every], rows[-1]))
        columns = np.unique(np.append(columns[::every], columns[-1]))
        used = np.ix_(rows, columns)
        uvn = np.empty((rows.size, columns.size, 3))
        uvn[..., 0] = grid.u_m()[columns]
        uvn[..., 1] = grid.v_m()[rows][:, None]
        uvn[..., 2] = np.where(relief.mask[used], relief.heights_m[used], relief.lowest_m)
        points = other.frame.to_room(uvn.reshape(-1, 3)).astype(np.float32)
        index = np.arange(len(points)).reshape(rows.size, columns.size)
        low, right = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
        up, far = index[1:, :-1].ravel(), index[1:, 1:].ravel()
        triangles = np.concatenate([np.stack([low, right, far], 1), np.stack([low, far, up], 1)])
        TriangleMesh(scene, points, triangles.astype(np.int32))
    return scene


def relief_clear(
    scene: EmbreeScene, points_m: Floats, normals: Floats, line: LitLine
) -> NDArray[np.float32]:
    """Whether points see each of BINS equal steps of angle along a run past reliefs and meshes.

    Parameters
    ----------
    scene : EmbreeScene
        Of what may stand in between.
    points_m, normals : ndarray of float64, shape (points, 3)
        In the room. [m]
    line : LitLine
        The run.

    Returns
    -------
    ndarray of float32, shape (points, BINS)
        1 or 0, from the first lit end to the last.
    """
    local = (points_m - line.origin_m) @ run_axes(line)
    rho = np.maximum(np.hypot(local[:, 1], local[:, 2]), 1e-6)
    low = np.arctan((line.lit_m[0, 0] - local[:, 0]) / rho)
    high = np.arctan((line.lit_m[-1, 1] - local[:, 0]) / rho)
    # each point looks from places of its own: what few rays miss becomes grain, never a band
    spread = 12.9898 * local[:, :1] + 78.233 * local[:, 1:2] + 37.719 * local[:, 2:]
    own = np.mod(np.sin(spread) * 43758.5453, 1.0)
    bins = np.arange(BINS)
    out = np.empty((len(points_m), BINS), np.float32)
    for first in range(0, len(points_m), BATCH):
        part = slice(first, first + BATCH)
        psi = low[part, None] + (high - low)[part, None] * (bins + own[part]) / BINS
        # across the opening by the golden ratio: neighbouring bins never look at the same place
        across = np.mod(bins * 0.618033988749895 + own[part] * 7.0, 1.0) - 0.5
        along = local[part, :1] + rho[part, None] * np.tan(psi)
        source = line.origin_m + along[..., None] * line.axis
        source = source + (across * line.opening_width_m)[..., None] * line.across
        start = points_m[part, None] + LIFT_M * normals[part, None]
        way = source - start
        length = np.linalg.norm(way, axis=2)
        way /= length[..., None]
        hit = scene.run(
            np.ascontiguousarray(
                np.broadcast_to(start, way.shape).reshape(-1, 3), dtype=np.float32
            ),
            np.ascontiguousarray(way.reshape(-1, 3), dtype=np.float32),
            dists=np.ascontiguousarray(length.ravel() - LIFT_M, dtype=np.float32),
            query="OCCLUDED",
        )
        out[part] = (np.asarray(hit) < 0).reshape(-1, BINS)
    return out


def shading_notes(room: Room, lines: Sequence[LitLine]) -> tuple[str, ...]:
    """What the light of these runs leaves out, and runs that nothing can be seen of.

    Parameters
    ----------
    room : Room
        Surfaces and bodies.
    lines : sequence of LitLine
        The runs.

    Returns
    -------
    tuple of str
        One sentence each, for the user.
    """
    notes = []
    for line in lines:
        for surface in room.surfaces:
            if surface.relief is None or surface.name == line.lights:
                continue
            near = lit_heights(surface, line)
            highest = surface.relief.highest_m
            if near.min() <= highest < near.max():
                deep = (highest - near.min()) * 1000
                notes.append(
                    f"run {line.tag}: its end lies {deep:.0f} mm within the relief of "
                    f"{surface.name}; what that stone hides of this piece is not counted"
                )
        if _is_enclosed(room, line):
            notes.append(
                f"run {line.tag}: everything around it is closed; none of its light comes out"
            )
    return tuple(notes)


def _is_enclosed(room: Room, line: LitLine) -> bool:
    """Whether rays from a run, wherever it sends light, all end on faces that block."""
    faces = blocking_faces(room).without("", line).corners_m
    triangles = np.concatenate([faces[:, [0, 1, 2]], faces[:, [0, 2, 3]], cast_triangles(room)])
    if not len(triangles):
        return False
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(triangles, np.float32))
    up = np.linspace(-1.0, 1.0, 91)
    turn = np.radians(np.arange(0.0, 360.0, 2.0))
    ring = np.sqrt(1 - up**2)[:, None]
    ways = np.stack([ring * np.cos(turn), ring * np.sin(turn), up[:, None] + 0 * turn], axis=-1)
    ways = ways.reshape(-1, 3)
    candela = line.candela_per_metre(ways)
    ways = ways[candela > 1e-4 * candela.max()]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        along = line.lit_m[0, 0] + share * (line.lit_m[-1, 1] - line.lit_m[0, 0])
        start = line.origin_m + along * line.axis + LIFT_M * ways
        hit = scene.run(
            np.ascontiguousarray(start, np.float32),
            np.ascontiguousarray(ways, np.float32),
            query="OCCLUDED",
        )
        if np.any(np.asarray(hit) < 0):
            return False
    return True
