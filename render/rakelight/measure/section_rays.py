"""Straight ways in a section: what a ray meets first, and whether two places see each other."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_cut import SAME_M, Segment

Floats = NDArray[np.float64]


def first_met(
    start_m: Floats, direction: Floats, segments: Sequence[Segment], beyond_m: float = SAME_M
) -> tuple[float, int]:
    """Distance and number of the first segment that a ray meets; (inf, -1) if it meets none.

    Parameters
    ----------
    start_m, direction : ndarray of float64, shape (2,)
        The ray; the direction is a unit vector.
    segments : sequence of Segment
        What it may meet.
    beyond_m : float
        Nearer than this does not count. [m]
    """
    best, which = np.inf, -1
    for number, segment in enumerate(segments):
        distance = _meets(start_m, direction, segment)
        if beyond_m < distance < best:
            best, which = distance, number
    return best, which


def _meets(start: Floats, direction: Floats, segment: Segment) -> float:
    step = segment.b_m - segment.a_m
    det = direction[0] * step[1] - direction[1] * step[0]
    if abs(det) < 1e-12:
        return np.inf
    away = segment.a_m - start
    distance = (away[0] * step[1] - away[1] * step[0]) / det
    share = (away[0] * direction[1] - away[1] * direction[0]) / det
    slack = SAME_M / max(float(np.hypot(*step)), SAME_M)
    return float(distance) if -slack <= share <= 1 + slack and distance > 0 else np.inf


def clear(a_m: Floats, b_m: Floats, segments: Sequence[Segment]) -> bool:
    """Whether nothing crosses the straight way between two points; touching an end is no cross."""
    step = b_m - a_m
    length = float(np.hypot(*step))
    if length < SAME_M:
        return True
    way = step / length
    for segment in segments:
        span = segment.b_m - segment.a_m
        det = way[0] * span[1] - way[1] * span[0]
        if abs(det) < 1e-12:
            continue
        away = segment.a_m - a_m
        distance = (away[0] * span[1] - away[1] * span[0]) / det
        share = (away[0] * way[1] - away[1] * way[0]) / det
        size = float(np.hypot(*span))
        at_end = min(share * size, (1 - share) * size)
        if SAME_M < distance < length - SAME_M and at_end > SAME_M:
            return False
    return True
