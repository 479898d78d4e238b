"""Bodies in a section: outlines of housings."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_cut import SectionCut
from rakelight.scene.surfaces import Body

Floats = NDArray[np.float64]


def body_outline(cut: SectionCut, bodies: Sequence[Body], line_index: int) -> Floats:
    """Outline of a run's housing in the cut, shape (k, 2), convex; empty where there is none. [m]

    Parameters
    ----------
    cut : SectionCut
        The cut.
    bodies : sequence of Body
        The room's.
    line_index : int
        The run's place in `Room.lines()`.
    """
    best: tuple[float, Floats] | None = None
    for body in bodies:
        if body.kind != "housing" or body.line != line_index:
            continue
        along = (body.points_m - cut.station_m) @ cut.axis
        apart = max(0.0, float(along.min()), -float(along.max()))
        if best is None or apart < best[0]:
            best = (apart, body.points_m)
    if best is None or best[0] > 0.05:
        return np.zeros((0, 2))
    return convex_hull(cut.to_cut(best[1]))


def convex_hull(points: Floats) -> Floats:
    """Corners of the convex hull, counter-clockwise (A. M. Andrew 1979, from memory)."""
    ordered = np.unique(np.round(points, 9), axis=0)

    def half(points: Floats) -> list[Floats]:
        hull: list[Floats] = []
        for p in points:
            while len(hull) >= 2:
                one, two = hull[-1] - hull[-2], p - hull[-2]
                if one[0] * two[1] - one[1] * two[0] > 1e-12:
                    break
                hull.pop()
            hull.append(p)
        return hull

    lower, upper = half(ordered), half(ordered[::-1])
    return np.array(lower[:-1] + upper[:-1])
