"""A mock-up: where to hold the meter, what it should read, how far it may be off."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.light.bounce import bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.on_bodies import light_on_bodies
from rakelight.light.prepare import prepare
from rakelight.measure.grid import at_points
from rakelight.measure.uncertainty import (
    OBLIQUE_RAD,
    Site,
    expected,
    light_at,
    line_light,
    scatter,
)
from rakelight.measure.weights import inside_polygon
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit_line import LitLine
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Scene
from rakelight.scene.surfaces import Room, Surface
from rakelight.study.trials import moved_line
from rakelight.units import LengthUnit

Floats = NDArray[np.float64]

#: Nearest point to the foot of a wall or to the far end of a ceiling. [m]
FOOT_M = 0.1
#: Points are moved to whole steps that can be taped. [m]
_TAPED_M = {"m": 0.005, "mm": 0.005, "in": 0.00635, "ft": 0.00635}
#: Of a point whose light something stands in: below this share it is left out of the sheet.
CLEAR = 0.98
#: Side of the little square that a meter's head stands for where something shades. [m]
_HEAD_SIDE_M = 0.002


@dataclass(frozen=True, slots=True, eq=False)
class Meter:
    """Points on a surface, and the runs that light them.

    Parameters
    ----------
    scene : Scene
        The scene.
    plan, line : RunPlan, LitLine
        The run that is looked at.
    surface : Surface
        What the meter is held to.
    u_m, v_m : ndarray of float64, shape (points,)
        On the surface. [m]
    from_run_m : ndarray of float64, shape (points,)
        Along the surface, from right beside the run. [m]
    lift_m : float
        Head over the mean plane: its height off what it rests on, which on a relief is the
        highest point. [m]
    passes : ndarray of float64, shape (points,)
        Share of the light that what stands in the room lets through.
    bounced_lx : ndarray of float64, shape (points,)
        Light from other surfaces, where the scene follows it. [lx]
    """

    scene: Scene
    plan: RunPlan
    line: LitLine
    surface: Surface
    u_m: Floats
    v_m: Floats
    from_run_m: Floats
    lift_m: float
    passes: Floats
    bounced_lx: Floats

    def points_m(self, lift_m: float | None = None, along_m: float = 0.0) -> Floats:
        """Places of the head in the room, shape (points, 3), all moved along by a little. [m]"""
        lift = self.lift_m if lift_m is None else lift_m
        across = _along_surface(self.surface, self.line)
        uvn = np.stack([self.u_m, self.v_m, np.full(self.u_m.size, lift)], axis=1)
        out: Floats = self.surface.frame.to_room(uvn)
        if along_m:
            out = out + along_m * (across @ np.stack([self.surface.frame.u, self.surface.frame.v]))
        return out

    def direct_lx(
        self, away_m: float = 0.0, turn_rad: float = 0.0, *, along_m: float = 0.0,
        lift_m: float | None = None,
    ) -> Floats:  # fmt: skip
        """Initial direct light with the run off its place, shape (points,). [lx]

        Parameters
        ----------
        away_m : float
            Farther from the wall that its setback counts from. [m]
        turn_rad : float
            Tilted toward the lit side. [rad]
        along_m : float
            Points moved away from the run, along the surface. [m]
        lift_m : float, optional
            Another height of the head over the mean plane. [m]
        """
        points, normal = self.points_m(lift_m, along_m), self.surface.frame.n
        out = np.zeros(len(points))
        away = away_m * self.scene.room.surface(self.plan.beside or self.plan.lights).frame.n
        for group in self.scene.room.groups:
            for line in group.lines:
                moved = moved_line(line, away, turn_rad) if line is self.line else line
                out += group.dim * line_light(moved, points, normal)[0]
        return out

    def predicted_lx(self, away_m: float = 0.0, turn_rad: float = 0.0) -> Floats:
        """What the meter reads with the run off its place: direct past blockers, and bounced."""
        out: Floats = self.direct_lx(away_m, turn_rad) * self.passes + self.bounced_lx
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A mock-up sheet's points and figures.

    Parameters
    ----------
    meter : Meter
        Where.
    head_m : float
        The meter's head off what it rests on. [m]
    predicted_lx : ndarray of float64, shape (points,)
        Initial, as dimmed. [lx]
    scatter, expected : ndarray of float64, shape (points,)
        One standard deviation: of a single reading about a smooth fall; of a reading against
        its prediction. As shares.
    angle_rad : ndarray of float64, shape (points,)
        Of the light from the normal. [rad]
    without_head : ndarray of float64, shape (points,)
        Reading over what a head of no height would read.
    site : Site
        How exact the mock-up was taken to be.
    left_out : int
        Places that something shades, or that lie off the surface.
    """

    meter: Meter
    head_m: float
    predicted_lx: Floats
    scatter: Floats
    expected: Floats
    angle_rad: Floats
    without_head: Floats
    site: Site
    left_out: int

    @property
    def oblique(self) -> NDArray[np.bool_]:
        """Points whose light falls too flat for a hand meter, shape (points,)."""
        out: NDArray[np.bool_] = self.angle_rad > OBLIQUE_RAD
        return out


def meter_at(scene: Scene, index: int, u_m: Floats, v_m: Floats, head_m: float) -> Meter:
    """Place a meter at points of the surface that a run lights.

    Parameters
    ----------
    scene : Scene
        A scene.
    index : int
        The run, by its place in the scene.
    u_m, v_m : ndarray of float64, shape (points,)
        Points of the surface. [m]
    head_m : float
        Its head off what it rests on. [m]
    """
    plan = scene.runs[index]
    line = scene.room.lines()[plan.line]
    surface = scene.room.surface(plan.lights)
    lift = head_m + (max(0.0, surface.relief.highest_m) if surface.relief is not None else 0.0)
    none: Floats = np.zeros(u_m.size)
    bare = Meter(scene, plan, line, surface, u_m, v_m, none, lift, none + 1, none)
    across = _along_surface(surface, line)
    start = _beside(surface, line)
    from_run = np.abs(np.stack([u_m, v_m], axis=1) @ across - start @ across)
    passes = _passes(bare)
    return replace(bare, from_run_m=from_run, passes=passes, bounced_lx=_bounced(bare))


def sheet(
    scene: Scene,
    index: int,
    unit: LengthUnit,
    *,
    count: int = 12,
    head_m: float = 0.0,
    site: Site | None = None,
    progress: Callable[[str], None] = lambda step: None,
) -> Sheet:
    """Choose points where readings tell most, and predict them.

    Parameters
    ----------
    scene : Scene
        A scene.
    index : int
        The run, by its place in the scene.
    unit : {"m", "mm", "ft", "in"}
        Points lie at whole steps that can be taped in it.
    count : int
        How many points. 4 or more
    head_m : float
        The meter's head off what it rests on. [m]
    site : Site, optional
        How exact the mock-up is.
    progress : callable
        Told what is done next.

    Raises
    ------
    InputError
        If the run leaves no place for the points.

    Notes
    -----
    Square to the run, in the middle of a lit length, spaced by equal ratios from half the
    run's distance from the surface on: near the run the readings tell its setback, far from it
    its tilt and output.
    """
    if count < 4:
        raise InputError(f"--points {count}: 4 or more are needed to tell setback from output.")
    plan = scene.runs[index]
    line = scene.room.lines()[plan.line]
    surface = scene.room.surface(plan.lights)
    u, v = _places(surface, line, count, _TAPED_M[unit])
    progress("predicting the readings")
    whole = meter_at(scene, index, u, v, head_m)
    inside = inside_polygon(u, v, surface.corners_uv_m)
    for hole in surface.holes_uv_m:
        inside &= ~inside_polygon(u, v, hole)
    keep = inside & (whole.passes >= CLEAR) & (whole.predicted_lx() > 0)
    if keep.sum() < 4:
        raise InputError(
            f"{scene.name}: only {int(keep.sum())} points on {surface.name} see run {plan.tag} "
            "freely; a mock-up needs 4. Choose another run with --run."
        )
    meter = replace(
        whole, u_m=u[keep], v_m=v[keep], from_run_m=whole.from_run_m[keep],
        passes=whole.passes[keep], bounced_lx=whole.bounced_lx[keep],
    )  # fmt: skip
    return figures(meter, head_m, site or Site(), left_out=int((~keep).sum()))


def figures(meter: Meter, head_m: float, site: Site, left_out: int = 0) -> Sheet:
    """Predictions and uncertainties at a meter's points, by small changes of each cause."""
    here = meter.direct_lx()
    seen = light_at(meter.scene.room.groups, meter.points_m(), meter.surface.frame.n)
    step = 1e-3

    def slope(more: Floats, less: Floats, by: float) -> Floats:
        out: Floats = (more - less) / (2 * by * np.maximum(here, 1e-12))
        return out

    by_height = slope(meter.direct_lx(along_m=step), meter.direct_lx(along_m=-step), step)
    lift = meter.lift_m
    by_head = slope(meter.direct_lx(lift_m=lift + step), meter.direct_lx(lift_m=lift - step), step)
    by_setback = slope(meter.direct_lx(step), meter.direct_lx(-step), step)
    by_tilt = slope(meter.direct_lx(0, step), meter.direct_lx(0, -step), step)
    scattered = scatter(by_height, by_head, seen.angle_rad, site)
    no_head = meter.direct_lx(lift_m=lift - head_m)
    return Sheet(
        meter=meter,
        head_m=head_m,
        predicted_lx=meter.predicted_lx(),
        scatter=scattered,
        expected=expected(scattered, by_setback, by_tilt, site),
        angle_rad=seen.angle_rad,
        without_head=np.divide(here, no_head, out=np.ones_like(here), where=no_head > 0),
        site=site,
        left_out=left_out,
    )


def off_surface(scene: Scene, index: int, u_m: Floats, v_m: Floats) -> NDArray[np.bool_]:
    """Which points do not lie on the surface that a run lights, shape (points,)."""
    surface = scene.room.surface(scene.runs[index].lights)
    corners = surface.corners_uv_m
    inside = inside_polygon(u_m, v_m, corners)
    low, high = corners.min(axis=0) - 1e-6, corners.max(axis=0) + 1e-6
    # a point on the very border counts as on it
    edge = np.abs(np.stack([u_m - low[0], high[0] - u_m, v_m - low[1], high[1] - v_m])).min(axis=0)
    out: NDArray[np.bool_] = ~(inside | (edge < 1e-5))
    return out


def _along_surface(surface: Surface, line: LitLine) -> Floats:
    """Unit vector (u, v) square to the run along the surface, away from it."""
    axis = surface.frame.direction_from_room(line.axis)[:2]
    size = float(np.hypot(*axis))
    if size < 0.5:
        raise InputError(f"run {line.tag} does not lie along {surface.name}; there is no fall.")
    way = np.array([-axis[1], axis[0]]) / size
    start = _beside(surface, line)
    corners = surface.corners_uv_m @ way - start @ way
    return way if corners.max() >= -corners.min() else -way


def _beside(surface: Surface, line: LitLine) -> Floats:
    """(u, v) right beside the run, in the middle of the lit length nearest its own middle. [m]"""
    middle = line.lit_m.mean(axis=1)
    whole = float(line.lit_m[-1, 1]) / 2
    at = whole
    if not ((line.lit_m[:, 0] <= whole) & (line.lit_m[:, 1] >= whole)).any():
        at = float(middle[np.argmin(np.abs(middle - whole))])
    out: Floats = surface.frame.from_room(line.origin_m + at * line.axis)[:2]
    return out


def _places(surface: Surface, line: LitLine, count: int, step_m: float) -> tuple[Floats, Floats]:
    """Points by equal ratios away from the run, at whole steps from the foot and the left."""
    start, way = _beside(surface, line), _along_surface(surface, line)
    near = 0.5 * abs(float(surface.frame.from_room(line.origin_m)[2]))
    far = float((surface.corners_uv_m @ way - start @ way).max()) - FOOT_M
    low = max(near, float(-(start @ way) + (surface.corners_uv_m @ way).min()) + 0.01)
    if not 0 < low < far:
        raise InputError(f"run {line.tag}: {surface.name} leaves no place for points beside it.")
    away = low * (far / low) ** (np.arange(count) / (count - 1))
    uv = start + away[:, None] * way
    # a wall's heights and a ceiling's distances are taped from the surface's own edges
    for k in range(2):
        if abs(way[k]) > 0.9:
            uv[:, k] = np.round(uv[:, k] / step_m) * step_m
        else:
            uv[:, k] = np.round(uv[0, k] / step_m) * step_m
    _, first = np.unique(np.round(uv / 1e-6), axis=0, return_index=True)
    uv = uv[np.sort(first)]
    return uv[:, 0], uv[:, 1]


def _passes(meter: Meter) -> Floats:
    """Share of the light that is not stood in the way of, 1 where nothing is in the room."""
    room = meter.scene.room
    blockers = tuple(s for s in room.surfaces if s.blocks)
    if not blockers and not any(body.kind == "mesh" for body in room.bodies):
        return np.ones(meter.u_m.size)
    frame, half = meter.surface.frame, _HEAD_SIDE_M / 2
    heads = []
    for k, (u, v) in enumerate(zip(meter.u_m.tolist(), meter.v_m.tolist(), strict=True)):
        at = frame.to_room(np.array([u - half, v - half, meter.lift_m]))
        corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * _HEAD_SIDE_M
        heads.append(
            Surface(
                f"point {k + 1}", Frame(at, frame.u, frame.v, frame.n), corners,
                Grid(2, 2, _HEAD_SIDE_M, _HEAD_SIDE_M), meter.surface.reflectance_rgb,
            )
        )  # fmt: skip
    small = tuple(replace(s, grid=Grid(2, 2, s.grid.width_m, s.grid.height_m)) for s in blockers)
    groups = tuple(replace(group, maintenance=1.0) for group in room.groups)
    cut = replace(room, surfaces=(*heads, *small), groups=groups)

    def readings(room: Room) -> Floats:
        lit = direct(prepare(room, meter.scene.quality), edges=False)
        return np.array([float(lit.runs_lx(head.name).mean()) for head in heads])

    free = readings(replace(cut, surfaces=tuple(heads), bodies=()))
    shaded = readings(cut)
    out: Floats = np.divide(shaded, free, out=np.zeros_like(free), where=free > 0)
    return np.where(np.abs(out - 1) < 1e-4, 1.0, np.minimum(out, 1.0))


def _bounced(meter: Meter) -> Floats:
    """Initial bounced light at the points; zero unless the scene follows it."""
    scene = meter.scene
    if not scene.quality.bounce:
        return np.zeros(meter.u_m.size)
    groups = tuple(replace(group, maintenance=1.0) for group in scene.room.groups)
    prepared = prepare(replace(scene.room, groups=groups), scene.quality)
    around = prepare_bounce(prepared)
    lit, _ = bounce(around, direct(prepared), light_on_bodies(around))
    name = meter.surface.name
    field = lit.flat_bounced_lx.get(name)
    light = lit.indirect_lx(name) if field is None else field
    return at_points(light, meter.surface.grid, meter.u_m, meter.v_m)
