"""Form factors against closed forms."""

import numpy as np
import pytest

from rakelight.light.exchange import exchange_factors, open_flow
from rakelight.light.form_factors import point_to_polygon, polygon_to_polygon
from rakelight.light.patches import cut_room
from reference.plain_rooms import NAMES, box_frames, box_room

UP = (0.0, 0.0, 1.0)


def level(x0, x1, y0, y1, z):
    """Rectangle that looks down."""
    return [[x0, y0, z], [x0, y1, z], [x1, y1, z], [x1, y0, z]]


def upright(x, y0, y1, z0, z1):
    """Rectangle that looks toward -x."""
    return [[x, y0, z0], [x, y0, z1], [x, y1, z1], [x, y1, z0]]


def tilted():
    """1 x 0.5 m about (0.8, 0, 1.2), long edge (cos 30, 0, -sin 30), facing the origin."""
    middle = np.array([0.8, 0, 1.2])
    long = np.array([np.cos(np.pi / 6), 0, -np.sin(np.pi / 6)]) / 2
    short = np.array([0, 0.25, 0])
    return [middle + a * long + b * short for a, b in ((-1, -1), (-1, 1), (1, 1), (1, -1))]


def leaning(degrees):
    return (np.sin(np.radians(degrees)), 0, np.cos(np.radians(degrees)))


# Lambert's polygon formula (Lambert 1760; Foote 1915, from memory), L = 1000 cd/m2; values
# computed apart from this project, by the formula and by quadrature
POLYGONS = [
    (UP, level(-0.3, 0.3, -0.3, 0.3, 2), 87.3823),
    (UP, level(0, 1.2, 0, 0.3, 1.5), 113.617),
    (UP, level(1, 2, 0.5, 1.5, 2), 77.2382),
    (UP, upright(1, -0.5, 0.5, 0, 1), 223.347),
    (UP, upright(1, -0.5, 0.5, -0.5, 1), 223.347),
    (leaning(60), level(-0.3, 0.3, -0.3, 0.3, 2), 43.6912),
    (leaning(85), level(-0.3, 0.3, -0.3, 0.3, 2), 8.1724),
    (UP, tilted(), 182.946),
]


@pytest.mark.parametrize(("normal", "polygon", "lx"), POLYGONS)
def test_a_bright_polygon_lights_a_point_as_lamberts_formula_says(normal, polygon, lx):
    found = np.pi * 1000 * point_to_polygon((0, 0, 0), normal, polygon)
    assert found == pytest.approx(lx, rel=2e-5)


def test_an_emitter_seen_from_behind_gives_nothing():
    assert point_to_polygon((0, 0, 0), UP, level(-1, 1, -1, 1, 2)[::-1]) == 0


# J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors; entry numbers from
# memory: C-11, C-14, B-4, B-5
@pytest.mark.parametrize(("side", "factor"), [(0.5, 0.0685896), (1, 0.199825), (2, 0.415253)])
def test_equal_opposed_squares(side, factor):
    floor = level(0, side, 0, side, 0)[::-1]
    assert polygon_to_polygon(floor, level(0, side, 0, side, 1)) == pytest.approx(factor, rel=1e-5)


@pytest.mark.parametrize(
    ("w", "h", "factor"),
    [
        (1, 1, 0.200044),
        (1, 0.5, 0.146187),
        (1, 2, 0.232853),
        (0.5, 1, 0.292373),
        (0.75, 0.5625, 0.194131),
    ],
)
def test_rectangles_with_a_common_edge(w, h, factor):
    floor = level(0, w, 0, 1, 0)[::-1]
    wall = upright(0, 0, 1, 0, h)[::-1]
    assert polygon_to_polygon(floor, wall) == pytest.approx(factor, rel=1e-5)


@pytest.mark.parametrize(
    ("first", "second", "factor"), [(1, 1, 0.381966), (0.5, 1, 0.468871), (2, 1, 0.190983)]
)
def test_coaxial_discs(first, second, factor):
    # C-41; polygons of 60 corners with the discs' areas
    turn = 2 * np.pi * np.arange(60) / 60
    ring = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    ring *= np.sqrt(np.pi / (30 * np.sin(2 * np.pi / 60)))
    above = np.add((ring * second)[::-1], (0, 0, 1))
    assert polygon_to_polygon(ring * first, above) == pytest.approx(factor, rel=2e-3)


@pytest.mark.parametrize(
    ("polygon", "factor"),
    [
        (level(0, 1, 0, 1, 1), 0.138532),
        (level(0, 2, 0, 0.5, 1), 0.106838),
        (upright(1, 0, 1, 0, 1), 0.0557342),
        (upright(0.5, 0, 2, 0, 2.7), 0.192767),
    ],
)
def test_a_small_plane_below_a_rectangles_corner(polygon, factor):
    assert point_to_polygon((0, 0, 0), UP, polygon) == pytest.approx(factor, rel=1e-5)


# The box 4.8 x 3.6 x 2.7 m by C-11 and C-14, rows 'from', in the order of NAMES
BOX = np.array(
    [
        [0, 0.193043, 0.144637, 0.144637, 0.258841, 0.258841],
        [0.193043, 0, 0.144637, 0.144637, 0.258841, 0.258841],
        [0.192849, 0.192849, 0, 0.105520, 0.254390, 0.254390],
        [0.192849, 0.192849, 0.105520, 0, 0.254390, 0.254390],
        [0.194131, 0.194131, 0.143095, 0.143095, 0, 0.325549],
        [0.194131, 0.194131, 0.143095, 0.143095, 0.325549, 0],
    ]
)


def box_matrix():
    sides = []
    for frame, w, h in box_frames(4.8, 3.6, 2.7).values():
        corners = np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], float)
        sides.append(frame.to_room(corners))
    return np.array([[polygon_to_polygon(a, b) if a is not b else 0 for b in sides] for a in sides])


def test_the_box_matrix_of_whole_sides():
    found = box_matrix()
    np.testing.assert_allclose(found, BOX, rtol=1e-5)
    np.testing.assert_allclose(found.sum(axis=1), 1, rtol=1e-6)


def test_a_points_factors_to_a_whole_box_sum_to_one():
    point = (0.7, 1.1, 0.0)
    total = 0.0
    for frame, w, h in box_frames(4.8, 3.6, 2.7).values():
        corners = np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], float)
        total += point_to_polygon(point, UP, frame.to_room(corners))
    assert total == pytest.approx(1, rel=1e-9)


def test_patches_give_the_box_matrix_and_keep_closure_and_reciprocity():
    room = box_room(4.8, 3.6, 2.7, 0.5)
    patches = cut_room(room, 0.1, 0.4)
    factors, scale = exchange_factors(open_flow(patches, patches), patches, 6)
    assert scale is not None
    np.testing.assert_allclose(factors.sum(axis=1), 1, rtol=1e-5)
    flow = factors * patches.areas_m2[:, None]
    np.testing.assert_allclose(flow, flow.T, atol=1e-7)
    by_side = np.add.reduceat(
        np.add.reduceat(flow, starts := np.searchsorted(patches.owner, np.arange(6)), axis=0),
        starts,
        axis=1,
    )
    areas = np.bincount(patches.owner, patches.areas_m2)
    np.testing.assert_allclose(by_side / areas[:, None], BOX, rtol=2e-3, atol=1e-6)
    assert len(NAMES) == len(areas)
