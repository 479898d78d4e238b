"""Runs mounted every way: where they are, how they face, and what hardware can be set to."""

import math

import numpy as np
import pytest

from rakelight.build.setting import settings_near
from reference.refusals import refused

Z = np.array([0.0, 0.0, 1.0])


RUN = '[[run]]\nphotometry = "graze-narrow"\n'
BODY = 'housing = { width = "30 mm", height = "40 mm" }\n'


def right_handed(line):
    axes = np.stack([line.axis, line.across, -line.nadir])
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1)


def ends(line):
    """Both lit ends in the room."""
    return line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis


@pytest.mark.parametrize("wall", ["main", "opposite", "left", "right"])
@pytest.mark.parametrize(("from_left", "throws"), [(0.2, "right"), (3.0, "left")])
def test_an_upright_run_faces_along_the_wall_to_its_farther_end(built, wall, from_left, throws):
    scene = built(
        f'{RUN}vertical = true\nlights = "{wall}"\nfrom_left = {from_left}\nsetback = 0.15\n'
        "start = 0.3\nend = 2.1\n"
    )
    [line], [plan] = scene.room.lines(), scene.runs
    right_handed(line)
    frame = scene.room.surface(wall).frame
    u, v, n = frame.from_room(ends(line)).T
    assert u == pytest.approx([from_left] * 2)
    assert sorted(v) == pytest.approx([0.3, 2.1])
    assert n == pytest.approx([0.15] * 2)
    away = frame.u if throws == "right" else -frame.u
    np.testing.assert_allclose(line.nadir, away, atol=1e-12)
    np.testing.assert_allclose(line.across, -frame.n, atol=1e-12)
    assert plan.throw_toward_wall > 0
    assert (plan.start_m, plan.end_m, plan.lowest_edge_m) == pytest.approx((0.3, 2.1, 0.3))


def test_tilting_an_upright_run_turns_it_to_the_wall_and_base_is_the_far_end(built):
    text = f"{RUN}vertical = true\nfrom_left = 0.3\nsetback = 0.3\n"
    [line] = built(text + "tilt = 20\n").room.lines()
    assert line.nadir == pytest.approx([math.cos(math.radians(20)), math.sin(math.radians(20)), 0])
    plan = built(text + 'aim = "base"\n').runs[0]
    assert math.tan(plan.beam_aim_rad) == pytest.approx(0.3 / (4.8 - 0.3))


def test_a_run_on_the_floor_faces_up_and_still_throws_to_the_wall(built):
    scene = built(f'{RUN}{BODY}along = "floor"\nsetback = 0.1\n')
    [line], [plan] = scene.room.lines(), scene.runs
    right_handed(line)
    np.testing.assert_allclose(line.nadir, Z, atol=1e-12)
    assert plan.height_m == pytest.approx(0.0405)
    assert plan.lowest_edge_m == pytest.approx(0.0005)
    # a beam 4 deg toward the wall from straight up
    aim = math.radians(176)
    toward = math.sin(aim) * np.array([0, 1, 0]) - math.cos(aim) * Z
    away = toward * [1, -1, 1]
    to_wall, from_wall = line.candela_per_metre(np.stack([toward, away]))
    assert to_wall > 1.2 * from_wall
    assert plan.peak_on == "main"


def test_a_pendant_lights_above_itself(built):
    scene = built(f'{RUN}{BODY}lights = "ceiling"\nbeside = "left"\nsetback = 1\nheight = 2\n')
    [line], [plan] = scene.room.lines(), scene.runs
    np.testing.assert_allclose(line.nadir, Z, atol=1e-12)
    assert ends(line)[:, 0] == pytest.approx([1, 1])
    assert (plan.height_m, plan.drop_m, plan.peak_on) == pytest.approx((2, 0.7, "ceiling"))


def test_a_file_measured_going_up_is_mounted_as_it_was_measured(built):
    text = RUN.replace("graze-narrow", "cove-throw") + BODY
    scene = built(text + 'lights = "ceiling"\nbeside = "main"\nsetback = 0.2\nheight = 2.4\n')
    [line] = scene.room.lines()
    np.testing.assert_allclose(line.nadir, -Z, atol=1e-12)
    np.testing.assert_allclose(line.facing, Z, atol=1e-12)
    # the housing lies below its opening, its faces outward
    housing = next(b for b in scene.room.bodies if b.kind == "housing")
    assert housing.points_m[:, 2].min() == pytest.approx(2.36)
    assert housing.points_m[:, 2].max() == pytest.approx(2.4)
    a, b, c = (housing.points_m[housing.faces[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a) / 2
    assert (housing.points_m[housing.faces].mean(axis=1) * cross).sum() / 3 > 0
    # it throws into the room, away from the wall
    out = np.array([0.0, -math.sin(math.radians(105)), -math.cos(math.radians(105))])
    there, back = line.candela_per_metre(np.stack([out, out * [1, -1, 1]]))
    assert there > 2 * back


def test_a_run_on_a_cove_lies_on_its_ledge_in_the_middle(built):
    text = '[[cove]]\nledge = "200 mm"\nlip = "60 mm"\nsetback = "300 mm"\n'
    scene = built(f'{text}{RUN}{BODY}on = "C1"\n')
    [plan] = scene.runs
    assert plan.lights == "ceiling"
    assert plan.setback_m == pytest.approx(0.1)
    assert plan.lowest_edge_m == pytest.approx(2.4 + 0.0005)
    assert plan.along == "cove C1"


def test_a_run_on_a_panel_counts_from_its_edge(built):
    text = (
        "[[panel]]\nfrom_left = 1\nfrom_main = 0.8\nwidth = 2\ndepth = 1.5\nbelow_ceiling = 0.3\n"
    )
    for beside, far in (("main", 0.8), ("opposite", 3.6 - 2.3)):
        run = f'{RUN}{BODY}on = "P1"\nbeside = "{beside}"\nsetback = 0.1\nstart = 2\nend = 2.7\n'
        [plan] = built(text + run).runs
        assert plan.setback_m == pytest.approx(far + 0.1)
        assert plan.lowest_edge_m == pytest.approx(2.4 + 0.0005)
    [line] = refused(built, text + run.replace("0.1", "2"))
    assert '"setback" = 2: beyond the panel' in line


@pytest.mark.parametrize("sides", ["main", "opposite"])
def test_a_run_from_point_to_point_lies_there_and_faces_what_it_lights(built, sides):
    y = 3.4 if sides == "main" else 0.2
    scene = built(f'{RUN}{BODY}lights = "{sides}"\nfrom = [0.5, {y}, 0.9]\nto = [4.1, {y}, 2.4]\n')
    [line], [plan] = scene.room.lines(), scene.runs
    right_handed(line)
    points = ends(line)
    low, high = points[np.argsort(points[:, 2])]
    assert low == pytest.approx([0.5, y, 0.9])
    assert high == pytest.approx([4.1, y, 2.4])
    assert line.nadir[2] < -0.9
    assert line.across @ scene.room.surface(sides).frame.n == pytest.approx(-1)
    assert plan.setback_m == pytest.approx(0.2)


def test_single_luminaires_stand_in_a_row_by_their_middles(built):
    text = f"{RUN}setback = 0.3\ncount = 3\nlength = 0.2\nspacing = 1.5\ncentred = true\n"
    [line] = built(text).room.lines()
    start = line.origin_m[0]
    assert (line.lit_m + start).mean(axis=1) == pytest.approx([0.9, 2.4, 3.9])
    [fault] = refused(built, text.replace("1.5", "0.1"))
    assert '"spacing" = 0.1: less than the luminaires\' own 0.20 m' in fault


@pytest.mark.parametrize(
    ("said", "deg"),
    [("15 deg above horizontal", 105), ("straight down", 0), ("toward", 90), ("straight up", 180)],
)
def test_directions_are_said_as_people_say_them(built, said, deg):
    plan = built(f'{RUN}setback = 0.5\naim = "{said}"\n').runs[0]
    assert math.degrees(plan.beam_aim_rad) == pytest.approx(deg)


# ---- hardware -------------------------------------------------------------------------------

CLICKS = 'adjust = { range = ["-30 deg", "30 deg"], click = "10 deg" }\n'


def test_a_tilt_between_clicks_names_the_two_nearest(built):
    built(f"{RUN}setback = 0.5\ntilt = 20\n{CLICKS}")
    [line] = refused(built, f"{RUN}setback = 0.5\ntilt = 17\n{CLICKS}")
    assert line == (
        'hall.toml: [[run]] 1, "tilt" = 17: the hardware goes from -30 deg to 30 deg in clicks '
        "of 10 deg; the nearest are 10 deg and 20 deg."
    )
    [line] = refused(built, f"{RUN}setback = 0.5\ntilt = 45\n{CLICKS}")
    assert "the nearest are 20 deg and 30 deg" in line
    [line] = refused(built, f"{RUN}setback = 0.5\ntilt = 5\nfixed = true\n")
    assert "fixed at 0 deg and cannot be tilted by 5 deg" in line


@pytest.mark.parametrize(
    ("wish", "near"), [(17, (10, 20)), (-4, (-10, 0)), (99, (20, 30)), (-31, (-30, -20))]
)
def test_nearest_settings(wish, near):
    found = settings_near(*(math.radians(x) for x in (wish, -30, 30, 10)))
    assert np.degrees(found) == pytest.approx(near)


def test_flush_puts_the_lowest_edge_into_the_ceiling(built):
    plan = built(f"{RUN}{BODY}setback = 0.5\ntilt = 20\nflush = true\n").runs[0]
    assert plan.lowest_edge_m == pytest.approx(2.7)
    [line] = refused(built, f"{RUN}{BODY}setback = 0.5\nflush = true\ndrop = '60 mm'\n")
    assert '"drop" = "60 mm": its lowest edge is 0.06 m below the ceiling' in line
    fascia = "[[fascia]]\nfrom_wall = 0.2\nheight = 0.25\n"
    run = f'{RUN}{BODY}on = "F1"\nsetback = 0.3\nflush = true\n'
    assert built(fascia + run).runs[0].lowest_edge_m == pytest.approx(2.45)


def test_an_opening_off_the_middle_and_recessed_moves_the_housing(built):
    body = 'housing = {width = "60 mm", height = "40 mm", opening = "10 mm", recess = "15 mm"}\n'
    scene = built(f"{RUN}{body}setback = 0.5\ndrop = 0.2\n")
    [plan] = scene.runs
    # the body's middle is 10 mm farther from the wall than the opening
    assert plan.clear_gap_m == pytest.approx(0.5 - 0.02)
    assert plan.lowest_edge_m == pytest.approx(2.5 - 0.015)
    cheeks = [s for s in scene.room.surfaces if s.name.startswith("housing L1.1")]
    assert len(cheeks) == 2
    assert all(s.blocks for s in cheeks)
    for cheek in cheeks:  # they face the opening, between them
        assert (scene.room.lines()[0].origin_m - cheek.frame.origin_m) @ cheek.frame.n > 0


# ---- refusals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("setback = 0.5\nheight = 3\n", '"height" = 3: above the roof: the ceiling is 2.70 m up'),
        ("setback = 0.5\ndrop = -1\n", '"drop" = -1: above the roof'),
        ("setback = 0.5\nheight = 2\ndrop = 0.1\n", '"height" and "drop" are both stated'),
        ("setback = 0.5\nvertical = true\n", '"from_left": missing.'),
        ("setback = 0.5\nvertical = true\nfrom_left = 9\n", 'beyond the "main" wall'),
        ('setback = 0.5\nlights = "left"\nbeside = "main"\n', "square to the"),
        ('setback = 0.5\non = "C7"\n', "nothing of that tag to lie on; the scene has no"),
        ("from = [1, 1, 1]\n", '"from" and "to" belong together'),
        ("from = [1, 1, 1]\nto = [1, 9, 1]\n", '"to" = [1, 9, 1]: outside the room'),
        ("from = [1, 1, 1]\nto = [1, 1, 3]\n", '"to" = [1, 1, 3]: above the roof'),
        ('setback = 0.5\nalong = "left"\nlights = "ceiling"\n', "how high on the left wall"),
        (
            "setback = 0.5\nslot = {width = 4, height = 0.2}\n",
            "[slot]: wider than the room",
        ),
        ("setback = 0.5\nslot = {width = 0.02, height = 0.2}\n", "Move or widen it"),
        ("setback = 0.5\nslot = {width = 0.2, height = 0.03}\n", "the luminaire is 0.04 m"),
        ("setback = 0.5\nslot = {width = 0.2, height = 0.2}\ndrop = 0.05\n", "proud of its slot"),
    ],
)
def test_what_cannot_be_mounted_is_refused_in_one_line(built, keys, says):
    [line] = refused(built, RUN + BODY + keys)
    assert line.startswith("hall.toml: [[run]] 1")
    assert says in line, line


def test_runs_that_cross_each_other_or_a_blocker_are_refused(built):
    other = f'{RUN}{BODY}lights = "left"\nsetback = 0.4\n'
    [line] = refused(built, f"{RUN}{BODY}setback = 0.5\n{other}")
    assert line == "hall.toml: [[run]] 2: crosses run L1: their housings would be in one place."
    built(f"{RUN}{BODY}setback = 0.5\n{other}drop = 0.3\n")
    text = f"[[column]]\nat = [2, 3.2]\nwidth = 0.3\ndepth = 0.3\nturn = 45\n{RUN}{BODY}"
    [line] = refused(built, f"{text}setback = 0.5\n")
    assert "runs into column K1" in line
    built(f"{text}setback = 0.7\n")


def test_a_run_that_its_fascia_encloses_is_refused(built):
    soffit = "[[soffit]]\ndepth = 0.4\nheight = 0.4\n"
    [line] = refused(built, f"{soffit}{RUN}{BODY}setback = 0.2\ndrop = 0.1\n")
    assert "runs into soffit S1" in line
    shelf = (
        "[[fascia]]\nfrom_wall = 0.3\nheight = 0.3\n"
        "[[bench]]\nat = [2.4, 3.45]\nwidth = 4.8\ndepth = 0.3\nheight = 0.05\nabove_floor = 2.35\n"
    )
    [line] = refused(built, f"{shelf}{RUN}{BODY}setback = 0.15\n", "room.depth=3.6")
    assert "hardly any of its light gets out to the main" in line
    built(f"{shelf.split('[[bench]]')[0]}{RUN}{BODY}setback = 0.15\n")
