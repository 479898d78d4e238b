"""What is drawn beside the surfaces: housings, openings, and a standing figure for scale."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from rakelight.build.faces import Finish, flat_face
from rakelight.build.runs import BuiltRun
from rakelight.scene.surfaces import Body, Surface
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

# A person in a knee-length coat, hands in the pockets, one foot a little out; as (sideways, up)
# in shares of the height, counter-clockwise from between the legs. Rounded before it is used.
_FIGURE = np.array(
    [
        [0.004, 0.375], [0.012, 0.200], [0.020, 0.060], [0.018, 0.012], [0.030, 0.000],
        [0.078, 0.000], [0.094, 0.006], [0.090, 0.022], [0.072, 0.045], [0.076, 0.150],
        [0.094, 0.290], [0.098, 0.352], [0.122, 0.356], [0.124, 0.420], [0.120, 0.500],
        [0.124, 0.545], [0.143, 0.600], [0.147, 0.650], [0.139, 0.730], [0.127, 0.790],
        [0.112, 0.822], [0.070, 0.845], [0.036, 0.860], [0.030, 0.876], [0.038, 0.892],
        [0.046, 0.925], [0.045, 0.962], [0.034, 0.986], [0.014, 0.999], [-0.010, 1.000],
        [-0.032, 0.988], [-0.043, 0.964], [-0.044, 0.928], [-0.036, 0.892], [-0.028, 0.876],
        [-0.035, 0.858], [-0.070, 0.842], [-0.114, 0.815], [-0.129, 0.785], [-0.141, 0.725],
        [-0.150, 0.645], [-0.147, 0.600], [-0.130, 0.545], [-0.124, 0.500], [-0.126, 0.420],
        [-0.130, 0.354], [-0.104, 0.350], [-0.104, 0.280], [-0.096, 0.150], [-0.098, 0.045],
        [-0.124, 0.020], [-0.128, 0.004], [-0.112, 0.000], [-0.056, 0.000], [-0.046, 0.014],
        [-0.048, 0.060], [-0.034, 0.200], [-0.010, 0.375],
    ]
)  # fmt: skip


def figure_outline() -> Floats:
    """Outline of the figure, counter-clockwise for a viewer, shape (k, 2), (sideways, up). [m]

    Every corner of the drawing is cut twice at a quarter of its sides (Chaikin 1974, from
    memory), which leaves no edge to be seen from across a room.
    """
    outline = _FIGURE
    for _ in range(2):
        after = np.roll(outline, -1, axis=0)
        cut = np.stack([0.75 * outline + 0.25 * after, 0.25 * outline + 0.75 * after], axis=1)
        outline = cut.reshape(-1, 2)
    low, high = outline[:, 1].min(), outline[:, 1].max()
    tall = FIGURE_M / (high - low)
    out: Floats = (outline - [0.0, low]) * [0.93 * tall, tall]
    return out


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
    off, front = -body.opening_m, -body.recess_m
    end = min(_END_M, plan.gap_m / 2) if plan.gap_m > 0 else 0.0
    spans = run.lengths.lit_m if plan.gap_m == 0 else run.lengths.bodies_m
    for number, (a, b) in enumerate(spans - start, 1):
        corners = [
            (u, side, back)
            for back in (front, height)
            for u, side in (
                (a - end, off - width),
                (b + end, off - width),
                (b + end, off + width),
                (a - end, off + width),
            )
        ]
        points = np.array([_at(run, u, side, back) for u, side, back in corners])
        yield Body(
            f"housing {plan.tag}.{number}",
            "housing",
            points,
            _outward(_BOX if front == 0 else _OPEN_BOX, line.rises),
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
            _outward(_QUAD, line.rises),
            _grey(OPENING_REFLECTANCE),
            plan.line,
        )


# axis, across and back are right-handed, and an opening faces the other way than back
_QUAD = np.array([[0, 2, 1], [0, 3, 2]], np.int64)
# a recessed opening is seen through the housing's own mouth
_OPEN_BOX = np.array(
    [
        [4, 5, 6], [4, 6, 7],  # back
        [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5],
        [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ],
    np.int64,
)  # fmt: skip
_BOX = np.array(
    [
        [0, 2, 1], [0, 3, 2],  # opening side
        [4, 5, 6], [4, 6, 7],  # back
        [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5],
        [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ],
    np.int64,
)  # fmt: skip


def housing_cheeks(run: BuiltRun, finish: Finish) -> Iterable[Surface]:
    """Sides of a recessed opening, which cut its light off; nothing where it is flush.

    Parameters
    ----------
    run : BuiltRun
        The run.
    finish : Finish
        What they are like.

    Yields
    ------
    Surface
        Fronts toward the opening.
    """
    body = run.body
    if not body.recess_m > 0:
        return
    start = float(run.lengths.lit_m[0, 0])
    half, off = body.housing_width_m / 2, -body.opening_m
    spans = run.lengths.lit_m if run.plan.gap_m == 0 else run.lengths.bodies_m
    for number, (a, b) in enumerate(spans - start, 1):
        for word, side, toward in (("wall side", half, -1.0), ("room side", -half, 1.0)):
            edge = off + side
            corners = np.array(
                [
                    _at(run, u, edge, back)
                    for u, back in ((a, -body.recess_m), (b, -body.recess_m), (b, 0.0), (a, 0.0))
                ]
            )
            name = f"housing {run.plan.tag}.{number} {word}"
            yield flat_face(name, corners, toward * run.line.across, finish, up=run.line.axis)


def _at(run: BuiltRun, along: float, toward: float, back: float) -> Floats:
    line = run.line
    out: Floats = line.origin_m + along * line.axis + toward * line.across - back * line.facing
    return out


def _outward(faces: Faces, mirrored: bool) -> Faces:
    return faces[:, ::-1].copy() if mirrored else faces


def _grey(reflectance: float) -> Floats:
    return np.full(3, reflectance)


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _inside(points: Floats, a: Floats, b: Floats, c: Floats) -> NDArray[np.bool_]:
    def side(p: Floats, q: Floats) -> Floats:
        out: Floats = (q[0] - p[0]) * (points[:, 1] - p[1]) - (q[1] - p[1]) * (points[:, 0] - p[0])
        return out

    return (side(a, b) >= 0) & (side(b, c) >= 0) & (side(c, a) >= 0)
