"""Outlines in a section: the room's air, and what stands or hangs in it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_cut import Segment

Floats = NDArray[np.float64]

#: Names of what is drawn solid begin with these.
SOLID = ("cove ", "fascia ", "soffit ", "panel ", "column ", "bench ")
# Corners nearer than this are joined. [m]
_JOIN_M = 1e-5


def chains(segments: Sequence[Segment]) -> list[tuple[Floats, bool, bool]]:
    """Join segments end to end.

    Parameters
    ----------
    segments : sequence of Segment
        Faces of a cut.

    Returns
    -------
    list of (points, closed, shell)
        Corners in order, shape (k, 2) [m]; whether the last joins the first; whether any of the
        segments is a wall, the floor or a ceiling.
    """
    ends: dict[tuple[int, int], list[int]] = {}
    for number, s in enumerate(segments):
        for point in (s.a_m, s.b_m):
            ends.setdefault(_key(point), []).append(number)
    used: set[int] = set()
    found = []
    # begin at loose ends, so that an open chain is walked whole
    order = sorted(
        range(len(segments)),
        key=lambda n: min(len(ends[_key(p)]) for p in (segments[n].a_m, segments[n].b_m)),
    )
    for first in order:
        if first in used:
            continue
        s = segments[first]
        a_loose = len(ends[_key(s.a_m)]) < len(ends[_key(s.b_m)])
        points = [s.a_m, s.b_m] if a_loose else [s.b_m, s.a_m]
        used.add(first)
        shell = s.shell
        while True:
            here = _key(points[-1])
            following = [n for n in ends[here] if n not in used]
            if not following:
                break
            s = segments[following[0]]
            used.add(following[0])
            shell = shell or s.shell
            points.append(s.b_m if _key(s.a_m) == here else s.a_m)
        closed = len(points) > 3 and _key(points[0]) == _key(points[-1])
        found.append((np.array(points[:-1] if closed else points), closed, shell))
    return found


def air(segments: Sequence[Segment]) -> list[Floats]:
    """Outlines of the room's air, and of slots and niches that are part of it.

    Without a closed one (a face is missing) the shell's convex hull stands in.
    """
    real = [s for s in segments if not s.name.startswith("housing ")]
    loops = [points for points, closed, shell in chains(real) if closed and shell]
    if loops:
        return loops
    from rakelight.measure.section_bodies import convex_hull

    return [convex_hull(np.array([p for s in segments if s.shell for p in (s.a_m, s.b_m)]))]


def solids(segments: Sequence[Segment]) -> list[tuple[str, Floats]]:
    """Outlines of what stands or hangs in the room, by name; an open side lies on the shell."""
    by_thing: dict[str, list[Segment]] = {}
    for s in segments:
        if s.name.startswith(SOLID):
            by_thing.setdefault(s.thing, []).append(s)
    return [
        (thing, points)
        for thing, parts in by_thing.items()
        for points, _, _ in chains(parts)
        if len(points) > 2
    ]


def _key(point: Floats) -> tuple[int, int]:
    return round(float(point[0]) / _JOIN_M), round(float(point[1]) / _JOIN_M)
