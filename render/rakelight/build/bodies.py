"""What is drawn beside the surfaces: housings, openings, and a standing figure for scale."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from rakelight.build.runs import BuiltRun
from rakelight.scene.surfaces import Body
from rakelight.scene.tables import RoomTable

Floats = NDArray[np.float64]
Faces = NDArray[np.int64]

HOUSING_REFLECTANCE = 0.35
OPENING_REFLECTANCE = 0.8
FIGURE_REFLECTANCE = 0.12
FIGURE_M = 1.7
# Openings are drawn this far in front of their housing, so that the two never flicker. [m]
_PROUD_M = 0.0005
# A housing is this much longer than its opening at each end, gap permitting. [m]
_END_M = 0.010

# Right half of a person seen from the front, 1.7 m tall, as (sideways, up) in metres: head an
# eighth of the height and a bit, shoulders a quarter wide, arms hanging, feet slightly apart.
_HALF_FIGURE = np.array(
    [
        [0.034, 1.698], [0.060, 1.682], [0.075, 1.650], [0.078, 1.610], [0.072, 1.565],
        [0.058, 1.525], [0.044, 1.500], [0.044, 1.462], [0.075, 1.438], [0.140, 1.418],
        [0.186, 1.394], [0.213, 1.350], [0.226, 1.260], [0.236, 1.140], [0.246, 1.030],
        [0.252, 0.920], [0.258, 0.840], [0.252, 0.775], [0.236, 0.758], [0.224, 0.790],
        [0.220, 0.860], [0.212, 0.960], [0.200, 1.060], [0.186, 1.170], [0.172, 1.270],
        [0.158, 1.150], [0.152, 1.060], [0.162, 0.960], [0.174, 0.860], [0.170, 0.700],
        [0.152, 0.500], [0.150, 0.390], [0.132, 0.190], [0.116, 0.085], [0.140, 0.028],
        [0.138, 0.000], [0.048, 0.000], [0.050, 0.080], [0.046, 0.220], [0.040, 0.460],
        [0.022, 0.690],
    ]
)  # fmt: skip


def figure_outline() -> Floats:
    """Outline of the figure, counter-clockwise for a viewer, shape (k, 2), (sideways, up). [m]"""
    right = _HALF_FIGURE[::-1]  # from the crotch down, out and up to the head
    left = _HALF_FIGURE * [-1, 1]
    crotch = np.array([[0.0, 0.775]])
    return np.concatenate([crotch, right, left])


def triangulate(outline: Floats) -> Faces:
    """Cut a simple polygon, counter-clockwise, into triangles by clipping ears.

    Parameters
    ----------
    outline : ndarray of float64, shape (k, 2)
        Vertices in order. [m]

    Returns
    -------
    ndarray of int64, shape (k - 2, 3)
        Indices into `outline`, counter-clockwise.

    Raises
    ------
    ValueError
        If the polygon crosses itself or runs clockwise.
    """
    left = list(range(len(outline)))
    faces = []
    while len(left) > 3:
        for i in range(len(left)):
            a, b, c = left[i - 1], left[i], left[(i + 1) % len(left)]
            others = outline[[k for k in left if k not in (a, b, c)]]
            if _turn(outline[a], outline[b], outline[c]) > 0 and not np.any(
                _inside(others, outline[a], outline[b], outline[c])
            ):
                faces.append((a, b, c))
                left.pop(i)
                break
        else:
            raise ValueError("the polygon crosses itself or runs clockwise")
    return np.array([*faces, tuple(left)], np.int64)


def figure(room: RoomTable) -> Body:
    """Stand a flat 1.7 m figure in the room, to the right and a step from the main wall.

    Parameters
    ----------
    room : RoomTable
        The room's sizes.
    """
    outline = figure_outline()
    reach = float(outline[:, 0].max()) + 0.02
    # clear of the side wall, and in the middle of a room too narrow for that
    x = max(min(room.width_m * 0.8, room.width_m - reach), room.width_m / 2)
    y = room.depth_m - min(1.0, room.depth_m / 3)
    points = np.stack([x + outline[:, 0], np.full(len(outline), y), outline[:, 1]], axis=1)
    return Body("figure", "figure", points, triangulate(outline), _grey(FIGURE_REFLECTANCE))


def run_bodies(run: BuiltRun) -> Iterable[Body]:
    """Housings and openings of one run.

    Parameters
    ----------
    run : BuiltRun
        The run.

    Yields
    ------
    Body
        Housings first: one for each luminaire where there are gaps, else one.
    """
    line, body, plan = run.line, run.body, run.plan
    start = float(run.lengths.lit_m[0, 0])
    width, height = body.housing_width_m / 2, body.housing_height_m
    end = min(_END_M, plan.gap_m / 2) if plan.gap_m > 0 else 0.0
    spans = run.lengths.lit_m if plan.gap_m == 0 else run.lengths.bodies_m
    for number, (a, b) in enumerate(spans - start, 1):
        corners = [
            (u, side, back)
            for back in (0.0, height)
            for u, side in (
                (a - end, -width),
                (b + end, -width),
                (b + end, width),
                (a - end, width),
            )
        ]
        points = np.array([_at(run, u, side, back) for u, side, back in corners])
        yield Body(
            f"housing {plan.tag}.{number}",
            "housing",
            points,
            _BOX,
            _grey(HOUSING_REFLECTANCE),
            plan.line,
        )
    half = max(line.opening_width_m, 0.001) / 2
    for number, (a, b) in enumerate(line.lit_m, 1):
        points = np.array(
            [
                _at(run, u, side, -_PROUD_M)
                for u, side in ((a, -half), (b, -half), (b, half), (a, half))
            ]
        )
        yield Body(
            f"opening {plan.tag}.{number}",
            "opening",
            points,
            _QUAD,
            _grey(OPENING_REFLECTANCE),
            plan.line,
        )


# axis, across and back are right-handed, and an opening faces the other way than back
_QUAD = np.array([[0, 2, 1], [0, 3, 2]], np.int64)
_BOX = np.array(
    [
        [0, 2, 1], [0, 3, 2],  # opening side
        [4, 5, 6], [4, 6, 7],  # back
        [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5],
        [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ],
    np.int64,
)  # fmt: skip


def _at(run: BuiltRun, along: float, toward: float, back: float) -> Floats:
    line = run.line
    out: Floats = line.origin_m + along * line.axis + toward * line.across - back * line.nadir
    return out


def _grey(reflectance: float) -> Floats:
    return np.full(3, reflectance)


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _inside(points: Floats, a: Floats, b: Floats, c: Floats) -> NDArray[np.bool_]:
    def side(p: Floats, q: Floats) -> Floats:
        out: Floats = (q[0] - p[0]) * (points[:, 1] - p[1]) - (q[1] - p[1]) * (points[:, 0] - p[0])
        return out

    return (side(a, b) >= 0) & (side(b, c) >= 0) & (side(c, a) >= 0)
