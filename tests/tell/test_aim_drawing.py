"""The section of one file beside a wall: words and drawing agree with the computation."""

import math
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from rakelight.build.aim import aim
from rakelight.cli.photometry import photometry
from rakelight.read.photometry import read_photometry
from rakelight.tell.aim import aim_in_words, aim_lines
from rakelight.tell.aim_drawing import draw_aim
from rakelight.tell.candela_chart import chart_bytes

SHIPPED = Path(__file__).parents[2] / "shared" / "photometry"


def placed(name="wash-flat", **place):
    file = read_photometry(SHIPPED / f"{name}.ies")
    return aim(file, **{"setback_m": 0.6, "ceiling_m": 2.7, **place})


def test_directions_in_words():
    for degrees, words in (
        (0, "straight down"), (10, "10 deg from straight down, toward the wall"),
        (-12.5, "12.5 deg from straight down, away from the wall"),
        (105, "15 deg above horizontal, toward the wall"), (180, "straight up"),
    ):  # fmt: skip
        assert aim_in_words(math.radians(degrees)) == words


def test_lines_in_the_units_asked_for():
    lines = dict(aim_lines(placed(tilt_rad=math.radians(10)), "mm"))
    at = 2700 - 600 / math.tan(math.radians(25))
    assert lines["peak lands"] == f"on the wall, {at:.0f} mm above the floor"
    assert lines["wall's foot"].startswith("12.5 deg from straight down")
    assert "tilt -2.5 deg brings the peak there" in lines["wall's foot"]
    assert "ft" in dict(aim_lines(placed(), "ft"))["peak lands"]


def test_the_curve_points_where_the_beam_line_goes():
    found = placed(tilt_rad=math.radians(10))
    axes = draw_aim(found, "a.ies", "mm").axes[0]
    outline = axes.patches[-1].get_xy()
    opening = np.array([0.6, 2.7])
    far = outline[np.argmax(np.hypot(*(outline - opening).T))] - opening
    assert math.degrees(math.atan2(-far[0], -far[1])) == pytest.approx(25, abs=0.3)
    ends = [tuple(line.get_xydata()[-1]) for line in axes.lines]
    assert (0.0, found.peak.at_m) in ends
    assert (0.0, 0.0) in ends  # to the wall's foot


@pytest.mark.parametrize("tilt", [-170, -95, -60, 0, 40, 90, 150])
def test_every_tilt_can_be_drawn_the_same_twice(tilt):
    found = placed(tilt_rad=math.radians(tilt), drop_m=0.2)
    first, again = (chart_bytes(draw_aim(found, "a.ies", "ft"), "svg") for _ in range(2))
    assert first == again


def run(*args):
    return CliRunner().invoke(photometry, [str(a) for a in args])


def test_command_places_a_file(tmp_path):
    file = SHIPPED / "graze-narrow.ies"
    place = ("--tilt", "10", "--setback", "6 in", "--height", "9 ft", "--drop", "2 in")
    result = run(file, *place, "--draw", tmp_path / "a.png")
    assert result.exit_code == 0, result.output
    assert "14 deg from straight down, toward the wall" in result.output
    assert "6 in from the wall, opening 8 ft 10 in above the floor" in result.output
    assert (tmp_path / "a.png").stat().st_size > 10_000
    json = run(file, *place, "--json").output
    assert '"peak_on": "wall"' in json
    plain = run(file, "--setback", "150 mm", "--height", "2.7")
    assert "150 mm from the wall, opening 2700 mm" in plain.output


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--tilt", "10"), "give both --setback and --height"),
        (("--setback", "6 in", "--height", "tall"), "--height"),
        (("--setback", "6 in", "--height", "9 ft", "--tilt", "x"), "--tilt"),
        (("--setback", "6 in", "--height", "9 ft", "--drop", "10 ft"), "above the floor"),
        (("--setback", "-6 in", "--height", "9 ft"), "must be above 0"),
    ],
)
def test_places_that_cannot_be(args, words):
    result = run(SHIPPED / "graze-narrow.ies", *args)
    assert result.exit_code == 2
    assert words in result.output
    two = run(
        SHIPPED / "graze-narrow.ies", SHIPPED / "wash-flat.ies", "--setback", 1, "--height", 3
    )
    assert "places one FILE" in two.output
