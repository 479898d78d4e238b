"""Housings, openings and the figure: closed, outward, where the run is, as tall as people."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rakelight.build.bodies import FIGURE_M, figure, figure_outline, run_bodies, triangulate
from rakelight.build.cross_section import Body2
from rakelight.build.room import box_frames, build_room
from rakelight.build.runs import build_runs
from rakelight.read.toml import read_scene
from rakelight.scene.quality import Quality
from rakelight.scene.tables import RoomTable

COARSE = Quality(mesh_step_m=0.1, plane_step_m=1.0)


@pytest.fixture
def runs(tmp_path):
    def _runs(text):
        path = tmp_path / "hall.toml"
        path.write_text(f'[[run]]\nphotometry = "graze-narrow"\nsetback = 0.5\n{text}')
        scene_file = read_scene(path)
        return build_runs(scene_file, build_room(scene_file, COARSE))

    return _runs


def normals_and_area(points, faces):
    a, b, c = (points[faces[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a) / 2
    return cross, np.linalg.norm(cross, axis=1)


@pytest.mark.parametrize("wall", ["main", "opposite", "left", "right"])
@pytest.mark.parametrize("tilt", [0, 25, -25])
def test_a_housing_is_a_closed_box_with_outward_faces(runs, wall, tilt):
    keys = f'lights = "{wall}"\ntilt = {tilt}\nhousing = {{width = 0.05, height = 0.08}}\n'
    [run] = runs(keys)
    housing, opening = run_bodies(run)
    cross, area = normals_and_area(housing.points_m, housing.faces)
    np.testing.assert_allclose(cross.sum(axis=0), 0, atol=1e-12)
    length = run.line.lit_length_m
    assert area.sum() == pytest.approx(2 * (length * 0.05 + length * 0.08 + 0.05 * 0.08))
    # the divergence theorem: outward faces give the volume with a plus
    middles = housing.points_m[housing.faces].mean(axis=1)
    assert (middles * cross).sum() / 3 == pytest.approx(length * 0.05 * 0.08)
    # the opening faces along the nadir, just in front of the housing's face
    cross, area = normals_and_area(opening.points_m, opening.faces)
    np.testing.assert_allclose(cross.sum(axis=0) / area.sum(), run.line.nadir, atol=1e-9)
    assert area.sum() == pytest.approx(length * run.line.opening_width_m)
    ahead = (opening.points_m - run.line.origin_m) @ run.line.nadir
    assert np.all((ahead > 0) & (ahead < 0.001))


def test_gaps_part_the_housings_but_never_let_them_overlap(runs):
    [run] = runs("length = 1\ngap = 0.01\n")
    bodies = list(run_bodies(run))
    housings = [b for b in bodies if b.kind == "housing"]
    assert len(housings) == len([b for b in bodies if b.kind == "opening"]) == 4
    ends = [((b.points_m - run.line.origin_m) @ run.line.axis) for b in housings]
    for left, right in pairwise(ends):
        assert left.max() <= right.min() + 1e-12


def test_housings_and_clearance_speak_of_the_same_body(runs):
    [run] = runs("tilt = -20\nhousing = {width = 0.05, height = 0.08}\n")
    housing = next(iter(run_bodies(run)))
    frame = box_frames(RoomTable())["main"][0]
    off_wall = frame.from_room(housing.points_m)[:, 2].min()
    assert off_wall == pytest.approx(run.plan.clear_gap_m, abs=1e-12)
    assert housing.points_m[:, 2].min() == pytest.approx(run.plan.lowest_edge_m, abs=1e-12)


def test_the_figure_is_a_person_of_one_metre_seventy():
    outline = figure_outline()
    assert outline[:, 1].max() == pytest.approx(FIGURE_M, abs=0.005)
    assert outline[:, 1].min() == 0
    width = np.ptp(outline[:, 0])
    assert 0.25 * FIGURE_M < width < 0.33 * FIGURE_M
    head = outline[outline[:, 1] > 1.49]
    assert np.ptp(head[:, 1]) == pytest.approx(FIGURE_M / 8, rel=0.1)
    body = figure(RoomTable())
    cross, area = normals_and_area(body.points_m, body.faces)
    # flat, seen from the room, and as large as the outline by the shoelace formula
    x, z = outline.T
    shoelace = 0.5 * np.sum(x * np.roll(z, -1) - z * np.roll(x, -1))
    assert area.sum() == pytest.approx(shoelace, rel=1e-9)
    np.testing.assert_allclose(cross / area[:, None], [[0, -1, 0]] * len(area), atol=1e-6)


@pytest.mark.parametrize("size", [(0.6, 0.6, 2.0), (4.8, 3.6, 2.7), (40, 30, 8)])
def test_the_figure_stands_in_the_room(size):
    w, d, h = size
    points = figure(RoomTable(width=w, depth=d, height=h)).points_m
    assert points[:, 0].min() >= 0
    assert points[:, 0].max() <= w
    assert np.all((points[:, 1] > 0) & (points[:, 1] < d))


@given(st.lists(st.floats(0.3, 2), min_size=5, max_size=30))
@settings(max_examples=40)
def test_any_star_is_cut_into_triangles_of_its_own_area(radii):
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    outline = np.array(radii)[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    faces = triangulate(outline)
    a, b, c = (outline[faces[:, i]] for i in range(3))
    areas = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    x, y = outline.T
    assert areas.min() > 0
    assert areas.sum() == pytest.approx(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def test_a_clockwise_polygon_is_refused():
    with pytest.raises(ValueError, match="clockwise"):
        triangulate(np.array([[0, 0], [0, 1], [1, 1], [1, 0]], float))


def test_a_body_reaches_as_far_as_its_wider_part():
    assert Body2(0.06, 0.03, 0.04).reach_m(0) == 0.03
    assert Body2(0.02, 0.03, 0.04).reach_m(0) == 0.015
