"""One file beside a wall: where it aims is what a run of a scene would do."""

import math
from pathlib import Path

import numpy as np
import pytest

from rakelight.build.aim import aim, aim_numbers
from rakelight.build.scene import build_scene
from rakelight.read.photometry import read_photometry

SHIPPED = Path(__file__).parents[2] / "shared" / "photometry"
INCH = 0.0254


def read(name):
    return read_photometry(SHIPPED / f"{name}.ies")


@pytest.mark.parametrize(
    ("setback_in", "height_in", "degrees"),
    [
        (30, 108, 15.5241), (36, 108, 18.4349), (24, 108, 12.5288), (6, 108, 3.1798),
        (3, 108, 1.5911), (12, 120, 5.7106), (36, 144, 14.0362),
    ],
)  # fmt: skip
def test_direction_of_the_walls_foot(setback_in, height_in, degrees):
    # atan(setback / height), four decimals
    found = aim(read("wash-flat"), setback_m=setback_in * INCH, ceiling_m=height_in * INCH)
    assert math.degrees(found.foot_rad) == pytest.approx(degrees, abs=1e-4)


def test_the_tilt_to_the_foot_brings_the_peak_there():
    file = read("wash-flat")
    first = aim(file, setback_m=0.75, ceiling_m=2.7, drop_m=0.2)
    again = aim(file, setback_m=0.75, ceiling_m=2.7, drop_m=0.2, tilt_rad=first.tilt_to_foot_rad)
    assert again.beam_aim_rad == pytest.approx(math.atan(0.75 / 2.5))
    assert again.peak.at_m == pytest.approx(0, abs=1e-9)


def test_tilt_turns_the_curve_with_the_peak():
    file = read("graze-narrow")
    for tilt in (-20, 0, 10):
        found = aim(file, setback_m=0.15, ceiling_m=3, tilt_rad=math.radians(tilt))
        top = math.degrees(found.angle_rad[found.candela.argmax()])
        assert top == pytest.approx(4 + tilt, abs=0.01)
        assert math.degrees(found.beam_aim_rad) == pytest.approx(4 + tilt)
        assert found.candela.max() == pytest.approx(file.candela.max())


def test_landings_by_trigonometry():
    file = read("graze-narrow")  # peak 4 deg toward the wall

    def at(tilt, **place):
        place = {"setback_m": 0.2, "ceiling_m": 3.0, "drop_m": 0.4, **place}
        return aim(file, tilt_rad=math.radians(tilt), **place).peak

    wall, floor, ceiling, away = at(6), at(-14), at(-124), at(-94)
    assert (wall.where, floor.where, ceiling.where) == ("wall", "floor", "ceiling")
    assert wall.at_m == pytest.approx(2.6 - 0.2 / math.tan(math.radians(10)))
    assert floor.at_m == pytest.approx(0.2 + 2.6 * math.tan(math.radians(10)))
    assert ceiling.at_m == pytest.approx(0.2 + 0.4 * math.tan(math.radians(60)))
    assert away.where == "away"
    assert math.isnan(away.at_m)


def test_half_the_peak_lands_where_the_candela_says():
    file = read("wash-flat")
    found = aim(file, setback_m=0.75, ceiling_m=2.7, tilt_rad=0.2)
    for place in found.half:
        assert place is not None
        assert place.where == "wall"
        angle = math.atan2(0.75, 2.7 - place.at_m)
        there = float(np.interp(angle, found.angle_rad, found.candela))
        assert there == pytest.approx(found.candela.max() / 2, rel=0.01)


def test_a_run_of_a_scene_agrees(tmp_path):
    scene = tmp_path / "a.toml"
    scene.write_text(
        '[room]\nwidth = "4 m"\ndepth = "5 m"\nheight = "2.7 m"\n'
        f'[[run]]\nphotometry = "{SHIPPED / "wash-flat.ies"}"\n'
        'setback = "600 mm"\ndrop = "150 mm"\ntilt = "7 deg"\n'
    )
    plan = build_scene(str(scene)).runs[0]
    found = aim(
        read("wash-flat"), setback_m=0.6, ceiling_m=2.7, drop_m=0.15, tilt_rad=math.radians(7)
    )
    assert found.beam_aim_rad == pytest.approx(plan.beam_aim_rad)
    assert found.peak.at_m == pytest.approx(plan.peak_at_m)


def test_a_turn_in_plan_throws_into_the_room():
    found = aim(read("cove-throw"), setback_m=0.15, ceiling_m=3, drop_m=0.3, turn_rad=math.pi)
    toward = aim(read("cove-throw"), setback_m=0.15, ceiling_m=3, drop_m=0.3)
    assert found.beam_aim_rad == pytest.approx(-toward.beam_aim_rad)
    assert found.peak.where == "ceiling"
    assert found.peak.at_m == pytest.approx(0.15 + 0.3 / math.tan(math.radians(15)))
    assert found.wall_share < 0.1 < 0.8 < toward.wall_share


def test_share_to_the_wall_of_an_even_light():
    # an even curve: the wall's share is its angle's
    file = read("graze-narrow")
    found = aim(file, setback_m=1.0, ceiling_m=2.0, drop_m=1.0)
    on_wall = (found.angle_rad >= math.pi / 4) & (found.angle_rad <= 3 * math.pi / 4)
    assert (found.foot_rad, found.top_rad) == (
        pytest.approx(math.pi / 4), pytest.approx(3 * math.pi / 4),
    )  # fmt: skip
    expected = found.candela[on_wall].sum() / found.candela[:-1].sum()
    assert found.wall_share == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ({"setback_m": 0.0, "ceiling_m": 3.0}, "setback"),
        ({"setback_m": math.nan, "ceiling_m": 3.0}, "setback"),
        ({"setback_m": 1.0, "ceiling_m": 3.0, "drop_m": 3.0}, "above the floor"),
        ({"setback_m": 1.0, "ceiling_m": 3.0, "drop_m": -0.1}, "not above the ceiling"),
        ({"setback_m": 1.0, "ceiling_m": math.inf}, "ceiling"),
    ],
)
def test_what_is_no_place_is_refused(place, words):
    with pytest.raises(ValueError, match=words):
        aim(read("wash-flat"), **place)


def test_numbers_carry_what_the_words_say():
    numbers = {
        n.key: n.value for n in aim_numbers(aim(read("wash-flat"), setback_m=1, ceiling_m=3))
    }
    assert numbers["aim.beam_aim"] == pytest.approx(15)
    assert numbers["aim.foot"] == pytest.approx(math.degrees(math.atan(1 / 3)))
