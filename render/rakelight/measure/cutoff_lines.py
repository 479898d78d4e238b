"""Cut-off lines of a built room, traced in its section: which edge ends the light, and where."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.cutoff import edge_height_for_m
from rakelight.measure.section_cut import SAME_M, SectionCut, Segment
from rakelight.measure.section_rays import clear, first_met

Floats = NDArray[np.float64]

#: What is built to hide or to cut off; the shadows of tables and columns are not cut-off lines.
SCREENS = ("fascia", "cove", "panel", "soffit", "slot", "housing")
# Beyond an edge, a ray must go this far before it lands: less is the edge's own face. [m]
_PAST_M = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class CutOffLine:
    """Where one edge ends a run's light.

    Parameters
    ----------
    thing : str
        What the edge belongs to: ``fascia F1``.
    edge_m : ndarray of float64, shape (2,)
        The edge, (out, up). [m]
    on : str
        The surface that the line lands on.
    lands_m, full_light_m, full_shadow_m : ndarray of float64, shape (2,)
        Where the lines from the opening's middle, and from its two sides, meet that surface:
        up to `full_light_m` all of the opening is seen, from `full_shadow_m` on none. [m]
    dark_side : ndarray of float64, shape (2,)
        Unit vector along the surface, from light to shadow.
    corner_m : ndarray of float64, shape (2,)
        The corner that the line is meant for: under the ceiling, at the wall that the light goes
        toward; nan where the light goes down to the floor. [m]
    edge_for_corner_m, source_for_corner_m, distance_for_corner_m : float
        The edge's `up`, the opening's `up`, or the opening's `out` that would put the middle's
        line exactly into the corner; nan where there is none. [m]
    """

    thing: str
    edge_m: Floats
    on: str
    lands_m: Floats
    full_light_m: Floats
    full_shadow_m: Floats
    dark_side: Floats
    corner_m: Floats
    edge_for_corner_m: float
    source_for_corner_m: float
    distance_for_corner_m: float

    @property
    def softness_m(self) -> float:
        """Length of the penumbra along the surface. [m]"""
        return float(np.hypot(*(self.full_shadow_m - self.full_light_m)))

    @property
    def from_corner_m(self) -> float:
        """Distance along the section from the corner to where the middle's line lands. [m]"""
        return float(np.hypot(*(self.lands_m - self.corner_m)))


def cut_off_lines(cut: SectionCut) -> tuple[CutOffLine, ...]:
    """Every line at which something built ends the run's light, from the lit side on.

    Parameters
    ----------
    cut : SectionCut
        The room, cut square through the run.

    Returns
    -------
    tuple of CutOffLine
        In the order of the edges' names, then of their places.

    Notes
    -----
    An edge counts if the opening's middle sees it, if all that meets there lies on one side of
    the line of sight, and if the line goes on to a surface beyond. Similar triangles then give
    where it lands; nothing is sampled.
    """
    found: dict[tuple[str, str, bool], CutOffLine] = {}
    for edge, thing in _edges(cut.segments):
        ray = _past(cut.source_m, edge, cut)
        if ray is None:
            continue
        lands, on, side = ray
        made = _line(cut, thing, edge, lands, on, side)
        key = (thing, on.name, side > 0)
        # of several edges of one thing on one side, the one that is last to let light past
        if key not in found or _darker(made, found[key]):
            found[key] = made
    return tuple(found[key] for key in sorted(found))


def turned_cut(cut: SectionCut, by_rad: float) -> SectionCut:
    """The cut with the luminaire turned about its opening's centre, toward the lit side. [rad]"""
    cos, sin = math.cos(by_rad), math.sin(by_rad)

    def turn(vector: Floats) -> Floats:
        x, y = vector @ cut.down, vector @ cut.toward
        out: Floats = (x * cos - y * sin) * cut.down + (x * sin + y * cos) * cut.toward
        return out

    own = f"housing {cut.tag}."
    segments = tuple(
        replace(
            s,
            a_m=cut.source_m + turn(s.a_m - cut.source_m),
            b_m=cut.source_m + turn(s.b_m - cut.source_m),
            normal=turn(s.normal),
        )
        if s.name.startswith(own)
        else s
        for s in cut.segments
    )
    ends = np.stack([cut.source_m + turn(end - cut.source_m) for end in cut.ends_m])
    return replace(
        cut, ends_m=ends, segments=segments, facing=turn(cut.facing), nadir=turn(cut.nadir),
        across=turn(cut.across),
    )  # fmt: skip


def _edges(segments: Sequence[Segment]) -> list[tuple[Floats, str]]:
    """Ends of what is built to cut off, each once."""
    seen: dict[tuple[int, int], tuple[Floats, str]] = {}
    for s in segments:
        if s.blocks and s.name.startswith(SCREENS):
            for end in (s.a_m, s.b_m):
                key = (round(end[0] / SAME_M), round(end[1] / SAME_M))
                seen.setdefault(key, (end, s.thing))
    return list(seen.values())


def _past(start: Floats, edge: Floats, cut: SectionCut) -> tuple[Floats, Segment, float] | None:
    """Where the line from a point over an edge lands, on what, and the blocker's side of it."""
    step = edge - start
    length = float(np.hypot(*step))
    if length < SAME_M:
        return None
    way = step / length
    if way @ cut.facing < 1e-9 or not clear(start, edge, cut.segments):
        return None
    side = 0.0
    for s in cut.segments:
        for here, there in ((s.a_m, s.b_m), (s.b_m, s.a_m)):
            if np.hypot(*(here - edge)) < 2 * SAME_M:
                leg = there - edge
                turn = float(way[0] * leg[1] - way[1] * leg[0]) / float(np.hypot(*leg))
                if abs(turn) < 1e-9:
                    continue
                if side * turn < 0:
                    return None
                side = math.copysign(1.0, turn)
    if side == 0.0:
        return None
    distance, which = first_met(edge, way, cut.segments, _PAST_M)
    if which < 0:
        return None
    met = cut.segments[which]
    if way @ met.normal > -1e-9:
        return None  # seen from behind: the line runs into what it came over
    return edge + distance * way, met, side


def _line(
    cut: SectionCut, thing: str, edge: Floats, lands: Floats, on: Segment, side: float
) -> CutOffLine:
    along = (on.b_m - on.a_m) / np.hypot(*(on.b_m - on.a_m))
    way = (edge - cut.source_m) / np.hypot(*(edge - cut.source_m))
    dark = along if (way[0] * along[1] - way[1] * along[0]) * side > 0 else -along
    limits = sorted(
        (_on_line(end, _edge_from(end, edge, thing, side, cut), on, lands) for end in cut.ends_m),
        key=lambda point: float((point - lands) @ dark),
    )
    corner = _corner(cut, way)
    wanted = (math.nan, math.nan, math.nan)
    if not math.isnan(corner[0]):
        wanted = _for_corner(cut.source_m, edge, corner)
    return CutOffLine(thing, edge, on.name, lands, limits[0], limits[1], dark, corner, *wanted)


def _edge_from(end: Floats, edge: Floats, thing: str, side: float, cut: SectionCut) -> Floats:
    """The edge of the same thing that ends the light of one side of the opening."""
    best, best_turn = edge, 0.0
    way = (edge - end) / np.hypot(*(edge - end))
    for other, owner in _edges(cut.segments):
        if owner != thing:
            continue
        leg = other - end
        size = float(np.hypot(*leg))
        # only edges next to this one: the far corner of the same board, not another board
        if size < SAME_M or np.hypot(*(other - edge)) > 0.1:
            continue
        turn = -side * float(way[0] * leg[1] - way[1] * leg[0]) / size
        if turn > best_turn + 1e-9 and leg @ cut.facing > 0:
            best, best_turn = other, turn
    return best


def _on_line(start: Floats, edge: Floats, on: Segment, fallback: Floats) -> Floats:
    """Where the line over an edge meets a surface's plane, beyond its ends too."""
    way, span = edge - start, on.b_m - on.a_m
    det = float(way[0] * span[1] - way[1] * span[0])
    if abs(det) < 1e-15:
        return fallback
    away = on.a_m - start
    out: Floats = start + (away[0] * span[1] - away[1] * span[0]) / det * way
    return out


def _corner(cut: SectionCut, way: Floats) -> Floats:
    """The corner under the ceiling, at the wall that the light goes toward."""
    nowhere = np.array([math.nan, math.nan])
    goes_in = way[0] < 0
    if abs(way[0]) < 1e-9 or (not goes_in and way[1] <= 0) or cut.upright:
        return nowhere
    tops = [
        point
        for s in cut.segments
        if s.shell and s.name.startswith("ceiling")
        for point in (s.a_m, s.b_m)
    ]
    if not tops:
        return nowhere
    top = (min if goes_in else max)(tops, key=lambda p: float(p[0]))
    wall = 0.0 if goes_in else cut.depth_m
    if abs(float(top[0]) - wall) > 1e-4:
        # a slot along the wall: the ceiling's plane goes on to the corner
        return np.array([wall, float(top[1])])
    return np.array([wall, float(top[1])])


def _for_corner(source: Floats, edge: Floats, corner: Floats) -> tuple[float, float, float]:
    (ya, za), (yb, zb), (yc, zc) = source, edge, corner
    height = math.nan if ya == yc else edge_height_for_m(source, float(yb), corner)
    raised = math.nan if yb == yc else float(zb + (zb - zc) * (ya - yb) / (yb - yc))
    moved = math.nan if zb == zc else float(yb + (yb - yc) * (za - zb) / (zb - zc))
    # a source on the far side of the edge would send no light over it to that corner
    if not ((moved - yb) * (ya - yb) > 0 and moved > 0):
        moved = math.nan
    return height, raised, moved


def _darker(one: CutOffLine, other: CutOffLine) -> bool:
    return float((one.lands_m - other.lands_m) @ other.dark_side) < -SAME_M
