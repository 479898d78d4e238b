"""Runs in the room: orientation, placing, lengths, refusals, groups, and what is written down."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import rakelight.build.runs as runs_module
from rakelight.build.orient import orient
from rakelight.build.room import build_bare_room
from rakelight.build.scene import build_read_scene
from rakelight.read.toml import read_scene
from rakelight.scene.grid import Grid
from rakelight.scene.intensity import Intensity
from rakelight.scene.quality import Quality
from rakelight.scene.relief import Relief
from reference.refusals import refused

COARSE = Quality(mesh_step_m=0.1, plane_step_m=0.5)


def file_of(lean_c_deg=90.0, length_m=1.2, width_m=0.02, watts=20.0):
    """Build a file that leans 12 deg off nadir toward `lean_c_deg`."""
    c = np.radians(np.arange(0, 361, 15.0))
    gamma = np.radians(np.arange(0, 181, 2.5))
    lean = np.radians(lean_c_deg)
    aim = np.array(
        [math.sin(0.21) * math.cos(lean), math.sin(0.21) * math.sin(lean), -math.cos(0.21)]
    )
    direction = np.stack(
        [
            np.sin(gamma) * np.cos(c[:, None]),
            np.sin(gamma) * np.sin(c[:, None]),
            -np.cos(gamma) + 0 * c[:, None],
        ],
        axis=-1,
    )
    candela = 1000 * np.maximum(direction @ aim, 0) ** 20
    candela[:, 0], candela[:, -1] = candela[0, 0], candela[0, -1]
    candela[-1] = candela[0]
    return Intensity(c, gamma, candela, watts, length_m, width_m, 0.0, "made.ies")


@pytest.fixture
def built(tmp_path, monkeypatch):
    """Build a scene from text with a made-up file, and with bumps on the main wall."""

    def _built(text, *overrides, file=None, highest_m=None):
        path = tmp_path / "hall.toml"
        path.write_text(text)
        monkeypatch.setattr(runs_module, "photometry_of", lambda *_: file or file_of())
        scene_file = read_scene(path, overrides)
        bare = build_bare_room(scene_file, COARSE)
        if highest_m is not None:
            surfaces = tuple(
                replace(s, relief=_relief(s.grid.width_m, s.grid.height_m, highest_m))
                if s.name == "main"
                else s
                for s in bare.room.surfaces
            )
            bare = replace(bare, room=replace(bare.room, surfaces=surfaces))
        return build_read_scene(scene_file, quality=COARSE, bare_room=bare)

    return _built


def _relief(width_m, height_m, highest_m):
    grid = Grid.with_step(width_m, height_m, 0.1)
    heights = np.zeros((grid.rows, grid.columns), np.float32)
    heights[3, 3], heights[5, 5] = highest_m, -highest_m
    mask = np.ones(heights.shape, bool)
    return Relief(heights, grid, mask, -2 * highest_m, (0.1, 0.1), "bumps")


RUN = '[[run]]\nphotometry = "made.ies"\nsetback = "6 in"\n'


# ---- orientation ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lean", "length", "width", "turn"),
    [
        (90, 1.2, 0.02, 0),  # LM-63: length along C0, throw along C90
        (270, 1.2, 0.02, 180),  # the same, mounted the other way round
        (0, 0.02, 1.2, 0),  # EULUMDAT: length along C90, throw along C0
        (180, 0.02, 1.2, 180),
        (90, 0.1, 0.1, 0),  # square: as LM-63
    ],
)
def test_length_lies_along_the_run_and_the_throw_points_to_the_wall(
    built, lean, length, width, turn
):
    scene = built(RUN, file=file_of(lean, length, width))
    [line], [plan] = scene.room.lines(), scene.runs
    assert math.degrees(plan.turn_rad) == pytest.approx(turn)
    assert plan.throw_toward_wall == pytest.approx(1, abs=1e-6)
    # the long side's direction, C0 or C90, is parallel to the axis
    c90 = np.cross(-line.nadir, line.c0)
    long_side = line.c0 if length >= width else c90
    assert abs(long_side @ line.axis) == pytest.approx(1)
    # most light goes to the wall: brighter at 12 deg toward it than at 12 deg away
    toward = math.sin(0.21) * line.across + math.cos(0.21) * line.nadir
    away = -math.sin(0.21) * line.across + math.cos(0.21) * line.nadir
    bright, dim = line.candela_per_metre(np.stack([toward, away]))
    assert bright > 5 * dim
    assert bright == pytest.approx(1000 / max(length, width), rel=0.01)
    assert line.opening_width_m == min(length, width)


def test_a_stated_turn_is_obeyed_and_said_to_throw_away(built):
    scene = built(RUN + "turn = 180\n")
    assert scene.runs[0].throw_toward_wall == pytest.approx(-1, abs=1e-6)
    assert any(w.key == "throws_away" for w in scene.warnings)
    assert any("180 deg as stated" in n and "away from the wall" in n for n in scene.notes)


def test_a_quarter_turn_lays_the_short_side_along_the_run():
    found = orient(file_of(90, 1.2, 0.3), math.radians(90))
    assert (found.length_m, found.width_m) == (0.3, 1.2)
    assert found.toward_wall == pytest.approx(0, abs=1e-6)


def test_a_file_that_leans_to_no_side_says_so(built):
    c = np.radians([0, 90, 180, 270, 360])
    gamma = np.radians(np.arange(0, 181, 5.0))
    file = Intensity(c, gamma, np.ones((5, 37)), 1.0, 1.0, 0.1, 0.0, "even.ies")
    scene = built(RUN, file=file)
    assert scene.runs[0].throw_toward_wall == 0
    assert any("leans to no side" in note for note in scene.notes)


@pytest.mark.parametrize("wall", ["main", "opposite", "left", "right"])
def test_runs_lie_alike_beside_any_wall(built, wall):
    scene = built(f'{RUN}lights = "{wall}"\ntilt = 10\nstart = 0.5\nend = 3\n')
    [line] = scene.room.lines()
    frame = scene.room.surface(wall).frame
    # seen from its own wall, every run is the same
    np.testing.assert_allclose(frame.from_room(line.origin_m), [0.5, 2.64, 0.1524], atol=1e-12)
    for vector, expected in (
        (line.axis, [1, 0, 0]),
        (line.nadir, [0, -math.cos(math.radians(10)), -math.sin(math.radians(10))]),
        (line.across, [0, math.sin(math.radians(10)), -math.cos(math.radians(10))]),
        (line.c0, [1, 0, 0]),
    ):
        np.testing.assert_allclose(frame.direction_from_room(vector), expected, atol=1e-12)
    np.testing.assert_allclose(line.lit_m, [[0, 2.5]])


@given(tilt=st.floats(-170, 170), turn=st.floats(-360, 360))
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=30
)
def test_the_runs_vectors_stay_orthonormal_and_right_handed(built, tilt, turn):
    scene = built(f"{RUN}tilt = {tilt!r}\nturn = {turn!r}\n".replace("6 in", "1 m"))
    [line] = scene.room.lines()
    axes = np.stack([line.axis, line.across, -line.nadir])
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1)
    assert line.c0 @ line.nadir == pytest.approx(0, abs=1e-12)
    assert np.linalg.norm(line.c0) == pytest.approx(1)


# ---- output --------------------------------------------------------------------------------


def test_a_run_carries_the_files_flux_per_lit_metre(built):
    file = file_of()
    scene = built(RUN, file=file)
    [line], [plan] = scene.room.lines(), scene.runs
    assert line.per_metre == pytest.approx(1 / 1.2)
    assert plan.lumens == pytest.approx(file.lumens * 4.8 / 1.2, rel=1e-12)
    assert plan.watts == pytest.approx(20 * 4)
    assert plan.count == pytest.approx(4)


def test_lumens_per_metre_scale_output_and_watts_and_are_noted(built):
    file = file_of()
    scene = built(RUN + "lm_per_m = 1000\n", file=file)
    [plan] = scene.runs
    assert plan.lumens == pytest.approx(4800, rel=1e-12)
    assert plan.watts == pytest.approx(80 * 1000 / (file.lumens / 1.2), rel=1e-12)
    assert any("scaled by" in note and "1000 lm/m" in note for note in scene.notes)


def test_stated_sizes_replace_the_files_and_are_noted(built):
    scene = built(RUN + "lit_length = 0.6\nlit_width = '30 mm'\n")
    [line] = scene.room.lines()
    assert (line.per_metre, line.opening_width_m) == (pytest.approx(1 / 0.6), 0.03)
    assert sum("as stated" in note for note in scene.notes) == 2


def test_a_file_without_an_opening_needs_a_lit_length(built):
    file = file_of(length_m=0.0, width_m=0.0)
    [line] = refused(built, RUN, file=file)
    assert line.startswith('hall.toml: [[run]] 1, "photometry" = "made.ies": made.ies states no')
    assert 'Give "lit_length"' in line
    scene = built(RUN + "lit_length = 1\n", file=file)
    assert scene.room.lines()[0].per_metre == 1


# ---- lengths -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "lit", "count"),
    [
        ("", [[0, 4.8]], 4),
        ("start = 0.3\nend = 4.5\n", [[0.3, 4.5]], 3.5),
        ("count = 2\n", [[0, 2.4]], 2),
        ("length = 1\n", [[0, 4.0]], 4),
        ("length = 1\ngap = 0.2\n", [[0, 1], [1.2, 2.2], [2.4, 3.4], [3.6, 4.6]], 4),
        ("count = 2\nlength = 2\ngap = '75 mm'\nstart = 0.5\n", [[0.5, 2.5], [2.575, 4.575]], 2),
        ("gap = '200 mm'\n", [[0, 1.2], [1.4, 2.6], [2.8, 4.0]], 3),
        ("count = 4\n", [[0, 4.8]], 4),
        # four fit to the millimetre: there is no gap after the last
        ("length = 1.05\ngap = 0.2\n", [[0, 1.05], [1.25, 2.3], [2.5, 3.55], [3.75, 4.8]], 4),
    ],
)
def test_luminaires_stand_end_to_end(built, keys, lit, count):
    scene = built(RUN + keys)
    [line], [plan] = scene.room.lines(), scene.runs
    start = scene.room.surface("main").frame.from_room(line.origin_m)[0]
    np.testing.assert_allclose(line.lit_m + start, lit, atol=1e-12)
    assert plan.count == pytest.approx(count)
    assert (plan.start_m, plan.end_m) == pytest.approx((lit[0][0], lit[-1][1]))
    assert plan.lit_m == pytest.approx(sum(b - a for a, b in lit))


def test_what_stays_dark_at_the_end_is_said(built):
    assert any("1.05 m at the end stays dark" in n for n in built(RUN + "gap = 0.075\n").notes)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("count = 5\n", '"count" = 5: longer than the 4.80 m there are: luminaires of 1.20 m on '
         'the "main" wall, which is 4.80 m wide. Use 4 or fewer.'),
        ("length = 5\n", '"length" = 5: longer than'),
        ("count = 4\ngap = 0.1\n", "Use 3 or fewer."),
        ("end = 5\n", '"end" = 5: beyond the "main" wall, which is 4.80 m wide.'),
        ("start = 4.8\n", '"start" = 4.8: beyond'),
    ],
)  # fmt: skip
def test_a_run_longer_than_its_wall_is_refused(built, keys, says):
    [line] = refused(built, RUN + keys)
    assert line.startswith("hall.toml: [[run]] 1, ")
    assert says in line


# ---- placing -------------------------------------------------------------------------------


def test_a_run_inside_the_relief_is_refused_with_the_least_setback(built):
    text = (
        '[units]\nlength = "in"\n'
        + RUN.replace("6 in", "1 in")
        + "housing = {width='30 mm', height=2}\n"
    )
    [line] = refused(built, text, highest_m=0.032)
    # 32 mm + 15 mm + 2 mm = 49 mm = 1.929 in, rounded up to an eighth
    assert line == (
        'hall.toml: [[run]] 1, "setback" = "1 in": inside the relief, which stands out 1 1/4 in. '
        'Use "against" (2 in) or more.'
    )
    [line] = refused(built, text.replace('"1 in"', '"45 mm"'), highest_m=0.032)
    assert "the luminaire would touch the relief, which stands out 1 1/4 in." in line


def test_against_clears_the_relief_and_the_named_least_setback_is_accepted(built):
    text = RUN.replace('"6 in"', '"against"') + "housing = {width='30 mm', height='40 mm'}\n"
    plan = built(text, highest_m=0.032).runs[0]
    assert plan.setback_m == pytest.approx(0.049, abs=1e-6)
    assert plan.clear_gap_m == pytest.approx(0.002, abs=1e-6)
    assert plan.backing_m == pytest.approx(0.049 + 0.064, abs=1e-6)
    assert plan.against
    built(text, 'run.1.setback="2 in"', highest_m=0.032)  # what the refusal above names


def test_the_clear_gap_counts_the_tilted_housing(built):
    text = RUN + "housing = {width='30 mm', height='40 mm'}\ntilt = -30\n"
    plan = built(text, highest_m=0.02).runs[0]
    reach = 0.015 * math.cos(math.radians(30)) + 0.04 * math.sin(math.radians(30))
    assert plan.clear_gap_m == pytest.approx(0.1524 - 0.02 - reach, abs=1e-6)


def test_the_lowest_edge_is_the_housings_tilted_corner(built):
    plan = built(RUN + "housing = {width='30 mm', height='40 mm'}\ntilt = 20\ndrop = 0.1\n").runs[0]
    assert plan.lowest_edge_m == pytest.approx(2.6 - 0.015 * math.sin(math.radians(20)))


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ('setback = "4 m"\n', '"setback" = "4 m": larger than the room, which is 3.60 m'),
        ('setback = "10 mm"\n', "the luminaire would touch the wall"),
        (
            'setback = "6 in"\ndrop = 2.7\n',
            '"drop" = 2.7: at or below the floor; the room is 2.70 m',
        ),
    ],
)
def test_a_run_outside_the_room_is_refused(built, keys, says):
    [line] = refused(built, '[[run]]\nphotometry = "made.ies"\n' + keys)
    assert says in line


def test_every_run_is_judged_at_once(built):
    lines = refused(built, RUN.replace("6 in", "9 m") + RUN + RUN.replace("6 in", "1 mm"))
    assert [line.split(",")[0] for line in lines] == [
        "hall.toml: [[run]] 1",
        "hall.toml: [[run]] 3",
    ]


def test_the_peak_is_aimed_at_the_base_and_said_to_land_there(built):
    plan = built(RUN + 'beam_aim = "base"\n').runs[0]
    assert math.tan(plan.beam_aim_rad) == pytest.approx(0.1524 / 2.64)
    assert plan.tilt_rad == pytest.approx(plan.beam_aim_rad - math.radians(12.5), abs=1e-9)
    assert (plan.peak_on, plan.peak_at_m) == ("main", pytest.approx(0, abs=1e-9))


def test_the_place_where_the_peak_lands_is_on_the_line_of_the_aim(built):
    plan = built(RUN + "beam_aim = 30\n").runs[0]
    assert plan.peak_on == "main"
    assert plan.peak_at_m == pytest.approx(2.64 - 0.1524 / math.tan(math.radians(30)))
    plan = built(RUN + "beam_aim = 100\n").runs[0]
    assert (plan.peak_on, plan.peak_at_m > 2.64) == ("main", True)
    assert built(RUN + "beam_aim = -60\n").runs[0].peak_on == "opposite"


# ---- groups, units, bodies -----------------------------------------------------------------


def test_runs_with_one_dim_maintenance_and_colour_form_one_group(built):
    def run(wall, more):
        place = f'setback = 1\nlights = "{wall}"\nstart = 1.2\nend = 2.4\n'
        return f'[[run]]\nphotometry = "made.ies"\n{place}{more}'

    scene = built(
        run("main", "dim = 0.5\n") + run("left", "") + run("right", "dim = 0.5\n")
        + run("opposite", "cct = 4000\n")
    )  # fmt: skip
    assert [[line.lights for line in group.lines] for group in scene.room.groups] == [
        ["main", "right"], ["left"], ["opposite"],
    ]  # fmt: skip
    assert [group.output for group in scene.room.groups] == [0.5, 1, 1]
    lines = scene.room.lines()
    for plan in scene.runs:
        assert lines[plan.line].tag == plan.tag
        assert lines[plan.line].lights == plan.lights
    assert [plan.tag for plan in scene.runs] == ["L1", "L2", "L3", "L4"]


@pytest.mark.parametrize("unit", ["mm", "ft", "in"])
def test_one_scene_in_any_unit_gives_one_geometry(built, unit):
    per_m = {"mm": 1000, "ft": 1 / 0.3048, "in": 1 / 0.0254}[unit]

    def scene(name, factor):
        return built(
            f'[units]\nlength = "{name}"\n[room]\nwidth = {5 * factor!r}\n'
            f'[[run]]\nphotometry = "made.ies"\nsetback = {0.4 * factor!r}\n'
            f"start = {0.2 * factor!r}\ngap = {0.1 * factor!r}\nbeam_aim = 'base'\n"
        )

    here, there = scene("m", 1.0), scene(unit, per_m)
    [a], [b] = here.room.lines(), there.room.lines()
    for field in ("origin_m", "axis", "nadir", "across", "c0", "lit_m"):
        np.testing.assert_allclose(getattr(b, field), getattr(a, field), rtol=1e-9, atol=1e-12)
    for one, other in zip(here.room.bodies, there.room.bodies, strict=True):
        np.testing.assert_allclose(one.points_m, other.points_m, rtol=1e-9, atol=1e-12)
