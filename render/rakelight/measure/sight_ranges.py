"""From where in a section an eye sees a run's opening, and what lip or fascia would hide it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_cut import SAME_M, WALLS, SectionCut, Segment
from rakelight.measure.section_rays import clear
from rakelight.measure.sight import EYES_M, NEAREST_EYE_M, fascia_height_m, lip_height_m
from rakelight.scene.lit_line import LitLine

Floats = NDArray[np.float64]

#: A beam reaches to half of its peak intensity on either side, as beam angles are stated.
HALF = 0.5


@dataclass(frozen=True, slots=True)
class SightRange:
    """Where an eye of some height sees an opening, in the section.

    Parameters
    ----------
    eye_m : float
        Height over the floor. [m]
    from_m, to_m : float
        Where eyes may be, from the wall. [m]
    seen_m : tuple of (float, float)
        Distances from the wall between which some of the opening is seen, increasing. [m]
    """

    eye_m: float
    from_m: float
    to_m: float
    seen_m: tuple[tuple[float, float], ...]

    @property
    def hidden_m(self) -> tuple[tuple[float, float], ...]:
        """Distances between which it is hidden. [m]"""
        out, at = [], self.from_m
        for low, high in self.seen_m:
            if low - at > SAME_M:
                out.append((at, low))
            at = high
        if self.to_m - at > SAME_M:
            out.append((at, self.to_m))
        return tuple(out)


@dataclass(frozen=True, slots=True, eq=False)
class SightLine:
    """A line of sight that just misses the opening, or just sees it.

    Parameters
    ----------
    eye_m : ndarray of float64, shape (2,)
        (out, up). [m]
    opening_m : ndarray of float64, shape (2,)
        The side of the opening that is seen first or last. [m]
    """

    eye_m: Floats
    opening_m: Floats


def sees(cut: SectionCut, eye_m: Floats) -> bool:
    """Whether an eye in the section sees any of the opening.

    Parameters
    ----------
    cut : SectionCut
        The section.
    eye_m : ndarray of float64, shape (2,)
        (out, up). [m]

    Notes
    -----
    What an eye sees changes along the opening only where the line to an edge of something
    passes; one look between every two such places decides.
    """
    a, b = cut.ends_m
    if (eye_m - cut.source_m) @ cut.facing < 1e-9:
        return False
    span = b - a
    shares = [0.0, 1.0]
    for s in cut.segments:
        for corner in (s.a_m, s.b_m):
            way = corner - eye_m
            det = float(way[0] * span[1] - way[1] * span[0])
            if abs(det) > 1e-15:
                away = a - eye_m
                share = float(away[1] * way[0] - away[0] * way[1]) / -det
                if 0 < share < 1:
                    shares.append(share)
    at = np.unique(shares)
    middles = (at[1:] + at[:-1]) / 2
    # a hair before the opening, so that its own housing is not in the way
    return any(
        clear(eye_m, a + t * span + 1e-5 * cut.facing, cut.segments)
        for t, wide in zip(middles, np.diff(at), strict=True)
        if wide > 1e-6
    )


def sight_range(cut: SectionCut, eye_m: float, nearest_m: float = NEAREST_EYE_M) -> SightRange:
    """Distances from the wall at which an eye of some height sees the opening.

    Parameters
    ----------
    cut : SectionCut
        The section, of a run that lies level or slopes.
    eye_m : float
        Height over the floor. [m]
    nearest_m : float
        No eye comes nearer to the wall. [m]

    Notes
    -----
    Seen and hidden change only where the eye's level is crossed by a line through two corners,
    or through a corner and a side of the opening; between two such places one look decides.
    """
    level = eye_m / float(cut.up[2])
    low, high = nearest_m, cut.depth_m
    if not low < high:
        return SightRange(eye_m, low, max(low, high), ())
    corners = [*cut.ends_m] + [p for s in cut.segments for p in (s.a_m, s.b_m)]
    points = np.unique(np.round(np.array(corners), 9), axis=0)
    at = {low, high}
    for i, p in enumerate(points):
        for q in points[i + 1 :]:
            rise = float(q[1] - p[1])
            if abs(rise) > SAME_M:
                x = float(p[0] + (level - p[1]) / rise * (q[0] - p[0]))
                if low < x < high:
                    at.add(x)
    # the plane of the opening itself
    if abs(float(cut.facing[0])) > 1e-9:
        x = float(cut.source_m[0] - (level - cut.source_m[1]) * cut.facing[1] / cut.facing[0])
        if low < x < high:
            at.add(x)
    marks = sorted(at)
    seen: list[list[float]] = []
    for near, far in itertools.pairwise(marks):
        if far - near < SAME_M:
            continue
        if sees(cut, np.array([(near + far) / 2, level])):
            if seen and near - seen[-1][1] < 2 * SAME_M:
                seen[-1][1] = far
            else:
                seen.append([near, far])
    return SightRange(eye_m, low, high, tuple((a, b) for a, b in seen))


def sight_lines(cut: SectionCut, found: SightRange) -> tuple[SightLine, ...]:
    """The lines of sight at which seen turns to hidden, none at the walls."""
    level = found.eye_m / float(cut.up[2])
    out = []
    for interval in found.seen_m:
        for place, other in (interval, interval[::-1]):
            if place - found.from_m < SAME_M or found.to_m - place < SAME_M:
                continue
            eye = np.array([place + 1e-5 * np.sign(other - place), level])
            first = [end for end in cut.ends_m if clear(eye, end + 1e-5 * cut.facing, cut.segments)]
            end = first[0] if len(first) == 1 else min(
                cut.ends_m, key=lambda p: float(np.hypot(*(p - eye)))
            )  # fmt: skip
            out.append(SightLine(np.array([place, level]), end))
    return tuple(out)


@dataclass(frozen=True, slots=True, eq=False)
class Screen:
    """What stands or hangs before an opening, on the side of the room.

    Parameters
    ----------
    thing : str
        ``cove C1``, ``fascia F1``.
    edges_m : ndarray of float64, shape (k, 2)
        Its outermost edge's corners, (out, up): the upper edge of a lip, the lower of a fascia.
    over : bool
        Whether the light goes over it (a lip) or under it (a fascia).
    """

    thing: str
    edges_m: Floats
    over: bool

    @property
    def height_m(self) -> float:
        """Of the edge: the corner that is last to let light past. [m]"""
        ups = self.edges_m[:, 1]
        return float(ups.max() if self.over else ups.min())


def screen_of(cut: SectionCut) -> Screen | None:
    """Find what hides the opening from the room: a lip it shines over, a board it shines under."""
    over = bool(cut.facing[1] > 0)
    kinds = ("cove", "panel", "fascia") if over else ("fascia", "panel", "slot")
    best: tuple[float, str] | None = None
    by_thing: dict[str, list[Segment]] = {}
    for s in cut.segments:
        if s.blocks and s.name.startswith(kinds) and "driver" not in s.name:
            by_thing.setdefault(s.thing, []).append(s)
    limit = float(cut.ends_m[:, 0].max())
    for thing, parts in by_thing.items():
        points = np.array([p for s in parts for p in (s.a_m, s.b_m)])
        beyond = points[points[:, 0] > limit + SAME_M]
        if not len(beyond):
            continue
        nearest = float(beyond[:, 0].min())
        if nearest - limit > 1.0 and not thing.startswith("panel"):
            continue
        if best is None or nearest < best[0]:
            best = (nearest, thing)
    if best is None:
        return None
    points = np.array([p for s in by_thing[best[1]] for p in (s.a_m, s.b_m)])
    beyond = points[points[:, 0] > limit + SAME_M]
    edge = beyond[:, 1].max() if over else beyond[:, 1].min()
    corners = beyond[np.abs(beyond[:, 1] - edge) < SAME_M]
    return Screen(best[1], np.unique(np.round(corners, 9), axis=0), over)


@dataclass(frozen=True, slots=True)
class EdgeRange:
    """Heights of a lip's or a fascia's edge that hide the opening and let the throw out.

    Parameters
    ----------
    hides_m : float
        Least height of a lip that hides it from every eye; greatest of a fascia. [m]
    clears_m : float
        Greatest height of a lip that lets the throw's lower half-peak direction out, least of a
        fascia; infinite where the throw does not go that way at all. [m]
    over : bool
        A lip, or a fascia.
    """

    hides_m: float
    clears_m: float
    over: bool

    @property
    def possible(self) -> bool:
        """Whether one height does both."""
        return self.hides_m <= self.clears_m if self.over else self.clears_m <= self.hides_m

    def holds(self, height_m: float) -> tuple[bool, bool]:
        """Whether an edge at that height hides, and whether it clears."""
        slack = SAME_M
        if self.over:
            return height_m >= self.hides_m - slack, height_m <= self.clears_m + slack
        return height_m <= self.hides_m + slack, height_m >= self.clears_m - slack


def edge_range(
    cut: SectionCut,
    screen: Screen,
    half_peak_rad: float,
    eyes_m: Sequence[float] = EYES_M,
    nearest_m: float = NEAREST_EYE_M,
) -> EdgeRange:
    """Heights of a screen's edge, where it stands, that hide the opening and clear its throw.

    Parameters
    ----------
    cut : SectionCut
        The section.
    screen : Screen
        What stands before the opening.
    half_peak_rad : float
        Beam aim of the throw's half-peak direction on the screen's side; nan if it has none.
    eyes_m : sequence of float
        Heights of eyes over the floor. [m]
    nearest_m : float
        No eye comes nearer to the wall. [m]

    Notes
    -----
    Every eye from the nearest place to the far wall is spared, and every side of the opening;
    of the edge's corners the one that hides more counts for hiding, the one that cuts more for
    clearing.
    """
    needed = lip_height_m if screen.over else fascia_height_m
    worst, gentle = (max, min) if screen.over else (min, max)
    hides = []
    lean = float(cut.up[2])
    for corner in screen.edges_m:
        y = float(corner[0])
        near = max(nearest_m, y + SAME_M)
        hides.append(
            worst(
                needed(end, y, (place, eye / lean))
                for end in cut.ends_m
                for eye in eyes_m
                for place in (near, cut.depth_m)
            )
        )
    clears = []
    way = cut.direction(half_peak_rad) if not math.isnan(half_peak_rad) else np.zeros(2)
    for corner in screen.edges_m:
        for end in cut.ends_m:
            if way[0] > 1e-9:
                clears.append(float(end[1] + (corner[0] - end[0]) * way[1] / way[0]))
    none = math.inf if screen.over else -math.inf
    return EdgeRange(gentle(hides), gentle(clears, default=none), screen.over)


def half_peak_rad(cut: SectionCut, line: LitLine, *, outward: bool = True) -> float:
    """Beam aim at which the intensity has fallen to half of the peak, on the room's side.

    Parameters
    ----------
    cut : SectionCut
        The section.
    line : LitLine
        The run.
    outward : bool
        On the side that leads away from the wall and down from there; else the other.

    Returns
    -------
    float
        nan if the peak itself does not lie on the lit side of the opening. [rad]
    """
    aims, candela = candela_in_section(cut, line)
    peak = int(np.argmax(candela))
    # the screen stands on the side of `out`: over a lip that is down from the peak, under a
    # fascia it is up from it
    toward_out = float(cut.toward[0]) > 0
    step = 1 if toward_out else -1
    if cut.facing[1] > 0:
        step = -step
    if not outward:
        step = -step
    count = aims.size
    level = HALF * float(candela[peak])
    for k in range(1, count):
        here, before = (peak + step * k) % count, (peak + step * (k - 1)) % count
        if candela[here] < level:
            share = (candela[before] - level) / (candela[before] - candela[here])
            return float(aims[before] + step * share * (aims[1] - aims[0]))
    return math.nan


def candela_in_section(cut: SectionCut, line: LitLine, count: int = 3600) -> tuple[Floats, Floats]:
    """Intensity in the plane of the section at the run's tilt, around a full turn.

    Parameters
    ----------
    cut : SectionCut
        The section.
    line : LitLine
        The run.
    count : int
        Directions.

    Returns
    -------
    aim_rad, candela_per_metre : ndarray of float64, shape (count,)
        Beam aims from -pi on; intensity of each metre of lit length. [rad], [cd/m]
    """
    aims = -np.pi + 2 * np.pi * np.arange(count) / count
    flat = np.stack([cut.direction(float(aim)) for aim in aims])
    ways = flat[:, :1] * cut.out + flat[:, 1:] * cut.up
    return aims, line.candela_per_metre(ways)


def nearest_to_lit_wall_m(cut: SectionCut, lights: str, nearest_m: float = NEAREST_EYE_M) -> float:
    """Nearest distance of an eye from the wall that `out` counts from. [m]

    No eye comes nearer than stated to a lit wall; where the ceiling is lit, none comes nearer to
    the wall that the run lies along.
    """
    return nearest_m if lights in WALLS or lights.startswith("ceiling") else 0.0
