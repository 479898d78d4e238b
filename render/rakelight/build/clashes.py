"""Bodies that would have to be in one place: housings, and what stands in the room."""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rakelight.build.faces import Prism, overlap
from rakelight.build.standing import Standing
from rakelight.scene.surfaces import Body

Floats = NDArray[np.float64]


def housings_overlap(one: Sequence[Body], other: Sequence[Body]) -> bool:
    """Whether housings of two runs would have to be in one place."""
    axes, others = _axes_of_box(one[0].points_m), _axes_of_box(other[0].points_m)
    both = np.concatenate([axes, others, _crosses(axes, others)])
    return any(overlap(a.points_m, b.points_m, both) for a in one for b in other)


def housing_hits(housings: Sequence[Body], thing: Standing) -> bool:
    """Whether a housing would have to be inside something that stands in the room."""
    axes = _axes_of_box(housings[0].points_m)
    for prism in thing.prisms:
        others = _axes_of_prism(prism)
        both = np.concatenate([axes, others, _crosses(axes, others)])
        points = prism.points_m()
        if any(overlap(body.points_m, points, both) for body in housings):
            return True
    return False


def clashing(standing: Sequence[Standing]) -> list[tuple[Standing, Standing]]:
    """Pairs of free-standing things that would have to be in one place.

    What hangs from or is fixed to the shell may run into each other: coves meet at corners.
    """
    loose = [one for one in standing if one.kind in ("column", "bench", "panel")]
    out = []
    for one, other in combinations(loose, 2):
        a, b = one.prisms[0], other.prisms[0]
        axes, others = _axes_of_prism(a), _axes_of_prism(b)
        both = np.concatenate([axes, others, _crosses(axes, others)])
        if overlap(a.points_m(), b.points_m(), both):
            out.append((one, other))
    return out


def _axes_of_box(corners_m: Floats) -> Floats:
    """Edge directions of a housing: corners 0-1, 1-2, 0-4 of its eight."""
    out: Floats = np.stack(
        [
            corners_m[1] - corners_m[0],
            corners_m[2] - corners_m[1],
            corners_m[4] - corners_m[0],
        ]
    )
    return out


def _axes_of_prism(prism: Prism) -> Floats:
    """Face normals and edge directions, more than enough to separate a convex prism."""
    here, there = prism.ends_m()
    edges = np.roll(here, -1, axis=0) - here
    along = there - here
    normals = np.cross(edges, along)
    out: Floats = np.concatenate([normals, edges, along, prism.frame.u[None]])
    return out


def _crosses(one: Floats, other: Floats) -> Floats:
    out: Floats = np.cross(one[:, None], other[None]).reshape(-1, 3)
    return out
