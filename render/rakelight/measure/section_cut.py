"""A room cut square through a run: every face that the cut meets, as lines in one plane.

up ^
   |  wall        ceiling
   |   |--------------------        a point of the cut is (out, up): distance from the wall
   |   |   +--+ run                  that the run lies beside, and height over the floor
   |   |   +--+
   o---+------------------> out      (an upright run is cut level: up counts along the wall)
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.lit_line import LitLine
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float64]

#: Names of the shell's surfaces begin with one of these.
SHELL = ("main", "opposite", "left", "right", "floor", "ceiling")
WALLS = SHELL[:4]
#: Points nearer to each other than this are one. [m]
SAME_M = 1e-6
# A cut exactly along an edge is ambiguous; this far beside it, nothing that can be built differs.
_ASIDE_M = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One face in the cut.

    Parameters
    ----------
    name : str
        The surface's.
    a_m, b_m : ndarray of float64, shape (2,)
        Its ends, (out, up). [m]
    normal : ndarray of float64, shape (2,)
        Off its front; shorter than 1 where the face is not square to the cut.
    shell : bool
        Whether it is a wall, the floor or a ceiling.
    blocks : bool
        Whether it stands in the room and shades.
    """

    name: str
    a_m: Floats
    b_m: Floats
    normal: Floats
    shell: bool
    blocks: bool

    @property
    def thing(self) -> str:
        """What it belongs to: ``cove C1``, ``fascia F1``, ``slot L1``, or the wall itself."""
        return self.name if self.shell else " ".join(self.name.split()[:2])


@dataclass(frozen=True, slots=True, eq=False)
class SectionCut:
    """A room in the plane square to a run.

    Parameters
    ----------
    tag : str
        The run's.
    along_m : float
        Where along the run, from its start. [m]
    station_m : ndarray of float64, shape (3,)
        The opening's centre there, in the room. [m]
    axis, out, up : ndarray of float64, shape (3,)
        Unit vectors in the room: along the run; away from the wall; up.
    source_m : ndarray of float64, shape (2,)
        The opening's centre. [m]
    ends_m : ndarray of float64, shape (2, 2)
        The opening's two edges: toward the lit surface, and away from it. [m]
    facing, nadir, across : ndarray of float64, shape (2,)
        Off the opening; the file's nadir; toward the lit surface.
    down, toward : ndarray of float64, shape (2,)
        The same two before the tilt: what a beam aim counts from, and the way it grows.
    segments : tuple of Segment
        Every face that the cut meets.
    depth_m : float
        From the wall to the one opposite it. [m]
    profile_m : ndarray of float64, shape (k, 2)
        Real heights of the relief on the wall, (out, up); empty without one. [m]
    backing_m : float
        Of that relief, from its mean plane; nan without one. [m]
    highest_m : float
        Of that relief along the whole wall, over its mean plane; 0 without one. [m]
    upright : bool
        Whether the cut is level, through an upright run.
    wall : str
        The wall that `out` counts from.
    """

    tag: str
    along_m: float
    station_m: Floats
    axis: Floats
    out: Floats
    up: Floats
    source_m: Floats
    ends_m: Floats
    facing: Floats
    nadir: Floats
    across: Floats
    down: Floats
    toward: Floats
    segments: tuple[Segment, ...]
    depth_m: float
    profile_m: Floats
    backing_m: float
    highest_m: float
    upright: bool
    wall: str

    def to_cut(self, points_m: Floats) -> Floats:
        """Room points, shape (..., 3), as (out, up), shape (..., 2). [m]"""
        away = points_m - self.station_m
        out: Floats = self.source_m + np.stack([away @ self.out, away @ self.up], axis=-1)
        return out

    def to_room(self, points_m: Floats) -> Floats:
        """Points of the cut, shape (..., 2), in the room, shape (..., 3). [m]"""
        away = points_m - self.source_m
        out: Floats = self.station_m + away[..., :1] * self.out + away[..., 1:] * self.up
        return out

    def over_floor_m(self, points_m: Floats) -> Floats:
        """Height of points of the cut over the floor: their `up`, unless the cut leans. [m]"""
        out: Floats = self.to_room(points_m)[..., 2]
        return out

    def direction(self, aim_rad: float) -> Floats:
        """Unit vector of a beam aim: from the run's straight down, toward the lit side positive."""
        out: Floats = np.cos(aim_rad) * self.down + np.sin(aim_rad) * self.toward
        return out

    def aim_rad(self, direction: Floats) -> float:
        """The beam aim that a direction is, `direction` undone. [rad]"""
        return float(np.arctan2(direction @ self.toward, direction @ self.down))


def cut_square(
    room: Room, plan: RunPlan, line: LitLine, from_start_m: float | None = None
) -> SectionCut:
    """Cut a room square through a run.

    Parameters
    ----------
    room : Room
        Its surfaces.
    plan, line : RunPlan, LitLine
        The run.
    from_start_m : float, optional
        Where along it, from its first lit end; not given: the lit place nearest to its middle.

    Raises
    ------
    ValueError
        If that lies beyond the run's ends.
    """
    length = float(line.lit_m[-1, 1])
    if from_start_m is None:
        along = _lit_middle(line)
    else:
        along = from_start_m
        if not 0 <= along <= length:
            raise ValueError(f"{along} m is not on run {line.tag}, which is {length} m long")
    station = line.origin_m + along * line.axis
    axis = line.axis
    upright = abs(float(axis[2])) > 0.9
    wall = _wall_of(room, plan, line, station)
    frame = room.surface(wall).frame
    out = frame.n - (frame.n @ axis) * axis
    out = out / np.linalg.norm(out)
    up = np.cross(axis, out)
    hint = frame.u if upright else np.array([0.0, 0.0, 1.0])
    up = up if up @ hint > 0 else -up
    local = frame.from_room(station)
    # along `out` to the wall, and along `up` to the floor or to the wall's left end
    from_wall = float(local[2] / (frame.n @ out))
    height = float(local[0]) if upright else float(station[2] / up[2])
    source = np.array([from_wall, height])
    cut_at = _off_edges(room, axis, station)

    def flat(points: Floats) -> Floats:
        away = points - station
        there: Floats = source + np.stack([away @ out, away @ up], axis=-1)
        return there

    segments = []
    for surface in room.surfaces:
        for a, b in face_cuts(surface, axis, cut_at):
            ends = flat(np.stack([a, b]))
            normal = np.array([surface.frame.n @ out, surface.frame.n @ up])
            segments.append(
                Segment(
                    surface.name, ends[0], ends[1], normal,
                    surface.name in SHELL or surface.name.startswith("ceiling"), surface.blocks,
                )
            )  # fmt: skip
    half = line.opening_width_m / 2 * np.stack([line.across, -line.across])
    profile, backing, highest = _relief_cut(room.surface(wall), axis, cut_at)
    shell_out = [float(p[0]) for s in segments if s.shell for p in (s.a_m, s.b_m)]

    cos, sin = np.cos(plan.tilt_rad), np.sin(plan.tilt_rad)

    def turned(vector: Floats) -> Floats:
        return np.array([vector @ out, vector @ up])

    return SectionCut(
        tag=line.tag,
        along_m=along,
        station_m=station,
        axis=axis,
        out=out,
        up=up,
        source_m=source,
        ends_m=flat(station + half),
        facing=turned(line.facing),
        nadir=turned(line.nadir),
        across=turned(line.across),
        down=turned(cos * line.nadir - sin * line.across),
        toward=turned(cos * line.across + sin * line.nadir),
        segments=tuple(segments),
        depth_m=max(shell_out, default=from_wall),
        profile_m=flat(profile),
        backing_m=backing,
        highest_m=highest,
        upright=upright,
        wall=wall,
    )


def _lit_middle(line: LitLine) -> float:
    middle = float(line.lit_m[-1, 1]) / 2
    inside = (line.lit_m[:, 0] < middle) & (middle < line.lit_m[:, 1])
    if inside.any():
        return middle
    centres = line.lit_m.mean(axis=1)
    return float(centres[np.argmin(np.abs(centres - middle))])


def _wall_of(room: Room, plan: RunPlan, line: LitLine, station: Floats) -> str:
    """The wall that distances count from: the run's own, or the nearest that it does not meet."""
    if plan.beside in WALLS:
        return plan.beside
    best: list[tuple[float, str]] = []
    for name in WALLS:
        try:
            frame = room.surface(name).frame
        except ValueError:
            continue
        if abs(float(frame.n @ line.axis)) < 0.8:
            best.append((float(frame.from_room(station)[2]), name))
    if not best:
        raise ValueError(f"no wall of the room lies beside run {line.tag}")
    return min(best)[1]


def _off_edges(room: Room, axis: Floats, station: Floats) -> float:
    """Offset of the cut along the axis that meets no corner exactly. [m]"""
    at = float(axis @ station)
    corners = np.concatenate(
        [
            surface.frame.to_room(np.column_stack([polygon, np.zeros(len(polygon))]))
            for surface in room.surfaces
            for polygon in (surface.corners_uv_m, *surface.holes_uv_m)
        ]
    )
    apart = corners @ axis - at
    return at if np.abs(apart).min() > _ASIDE_M / 2 else at + _ASIDE_M


def face_cuts(surface: Surface, axis: Floats, at_m: float) -> list[tuple[Floats, Floats]]:
    """Where the plane `axis . x = at` meets a surface: pairs of room points. [m]

    Parameters
    ----------
    surface : Surface
        With its holes left out.
    axis : ndarray of float64, shape (3,)
        The plane's unit normal.
    at_m : float
        The plane's distance from the origin. [m]
    """
    frame = surface.frame
    slope = np.array([axis @ frame.u, axis @ frame.v])
    size = float(np.hypot(*slope))
    if size < 1e-9:
        return []
    reach = (at_m - float(axis @ frame.origin_m)) / size
    slope /= size
    along = np.array([-slope[1], slope[0]])
    inside = _inside(surface.corners_uv_m, slope, along, reach)
    for hole in surface.holes_uv_m:
        inside = _less(inside, _inside(hole, slope, along, reach))
    found = []
    for start, end in inside:
        if end - start < SAME_M:
            continue
        uv = reach * slope + np.outer([start, end], along)
        ends = frame.to_room(np.column_stack([uv, np.zeros(2)]))
        found.append((ends[0], ends[1]))
    return found


Spans = list[tuple[float, float]]


def _inside(polygon: Floats, normal: Floats, along: Floats, reach: float) -> Spans:
    after = np.roll(polygon, -1, axis=0)
    here, there = polygon @ normal - reach, after @ normal - reach
    crosses = (here < 0) != (there < 0)
    share = here[crosses] / (here[crosses] - there[crosses])
    points = polygon[crosses] + share[:, None] * (after[crosses] - polygon[crosses])
    at = np.sort(points @ along)
    return [(float(a), float(b)) for a, b in zip(at[::2], at[1::2], strict=False)]


def _less(spans: Spans, holes: Spans) -> Spans:
    for low, high in holes:
        left = []
        for start, end in spans:
            if start < low:
                left.append((start, min(end, low)))
            if end > high:
                left.append((max(start, high), end))
        spans = left
    return spans


def _relief_cut(surface: Surface, axis: Floats, at_m: float) -> tuple[Floats, float, float]:
    """Real heights of a wall's relief along the cut, as room points; its backing, its highest."""
    relief = surface.relief
    if relief is None:
        return np.zeros((0, 3)), np.nan, 0.0
    frame, grid = surface.frame, relief.grid
    parts = []
    for a, b in face_cuts(surface, axis, at_m):
        start, end = frame.from_room(a), frame.from_room(b)
        step = min(grid.step_u_m, grid.step_v_m)
        count = max(2, int(np.ceil(np.hypot(*(end - start)[:2]) / step)) + 1)
        uv = start[:2] + np.linspace(0, 1, count)[:, None] * (end - start)[:2]
        x = np.clip(uv[:, 0] / grid.step_u_m, 0, grid.columns - 1)
        y = np.clip(uv[:, 1] / grid.step_v_m, 0, grid.rows - 1)
        i, j = np.minimum(y.astype(int), grid.rows - 2), np.minimum(x.astype(int), grid.columns - 2)
        f, g = y - i, x - j
        h = relief.heights_m.astype(np.float64)
        heights = (h[i, j] * (1 - g) + h[i, j + 1] * g) * (1 - f)
        heights += (h[i + 1, j] * (1 - g) + h[i + 1, j + 1] * g) * f
        parts.append(frame.to_room(np.column_stack([uv, heights])))
    profile = np.concatenate(parts) if parts else np.zeros((0, 3))
    return profile, relief.backing_m, max(0.0, relief.highest_m)
