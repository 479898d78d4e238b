"""A client's sentence says what the numbers say, in the reader's units, and nothing else."""

import re

import numpy as np
import pytest

from rakelight.measure import MeasureSettings, measure_surface
from rakelight.scene.number import Number
from rakelight.tell.sentences import Still, brightness_sentence, compare_sentence, sentence
from rakelight.tell.shown import Units
from rakelight.units import parse_length
from reference.made_plans import made_plan
from reference.made_surfaces import made_lit, made_surface
from reference.ridge_section import section

MM, FEET = Units("mm", "lx"), Units("ft", "fc")


def numbers(**changed):
    values = {
        "average_lx": (500.0, "lx"),
        "max_lx": (2000.0, "lx"),
        "max_to_min": (2.84, "1"),
        "max_to_min_low_m": (0.3, "m"),
        "max_to_min_high_m": (2.4, "m"),
        "bright_band_at_m": (2.5, "m"),
        "bright_band_lx": (1900.0, "lx"),
        "foot_lx": (30.0, "lx"),
        "top_lx": (1800.0, "lx"),
        "texture_over_mean": (0.6, "1"),
        "texture_cd_m2": (40.0, "cd/m2"),
        "drama_centre_m": (2.2, "m"),
        "drama_share": (0.3, "1"),
        "drama_zone_low_m": (1.8, "m"),
        "drama_zone_high_m": (2.65, "m"),
    }
    for key, value in changed.items():
        values[key] = (value, values[key][1] if key in values else "m")
    return tuple(Number(f"main.{k}", v, u, "made") for k, (v, u) in values.items())


def without(found, *keys):
    return tuple(n for n in found if n.key.removeprefix("main.") not in keys)


def ridged_still(label, setback_m, eye_m=None):
    """Ridges under an endless line 50 mm above the wall's top, by exact section."""
    below = np.arange(0.05, 2.7 + 0.0005, 0.001)
    found = section(below, setback_m, 0.003, 0.06)
    heights, relief, flat = (
        a[::-1][:, None] for a in (found.heights_m, found.relief_lx, found.flat_lx)
    )
    wall = made_surface(below.size, 3, 0.5, 2.65, heights, (np.inf, 0.06))
    measured = measure_surface(wall, made_lit(wall, relief, flat), MeasureSettings(eye_m=eye_m))
    return Still(label, measured, made_plan(setback_m=setback_m))


def test_sentence_of_a_wash():
    assert sentence(numbers(), made_plan(), MM) == (
        "With the light 152 mm off the wall, it is brightest 2500 mm up and from 300 mm to "
        "2400 mm its lightest part gets 2.8 times the light of its darkest; light and shade on "
        "its texture are strongest from 1800 mm to 2650 mm up, and the rest looks flatter."
    )


def test_sentence_in_feet_and_footcandles():
    said = sentence(numbers(max_to_min=21.0), made_plan(), FEET)
    assert said.startswith("With the light 6 in off the wall, it is brightest 8 ft 2 in up")
    assert "falls from 167 fc at the top to 2.8 fc at the foot" in said
    assert "mm" not in said
    assert "lx" not in said


@pytest.mark.parametrize(("ratio", "told"), [(19.9, True), (20.1, False), (np.inf, False)])
def test_above_twenty_to_one_the_fall_is_told_instead(ratio, told):
    said = sentence(numbers(max_to_min=ratio), None, MM)
    assert ("times the light" in said) is told
    assert ("1800 lx at the top" in said) is not told
    assert "inf" not in said


def test_a_dark_top_is_not_called_the_brightest():
    said = sentence(numbers(max_to_min=90.0, top_lx=100.0, bright_band_at_m=1.9), None, MM)
    assert "falls from 1900 lx there to 30 lx at the foot and 100 lx at the top" in said


def test_without_relief_nothing_is_said_of_texture():
    keys = [n.key.removeprefix("main.") for n in numbers() if "drama" in n.key or "tex" in n.key]
    said = sentence(without(numbers(), *keys), None, MM)
    assert "texture" not in said
    assert said.startswith("The wall is brightest")


def test_little_texture_hardly_shows():
    assert "its texture hardly shows" in sentence(numbers(texture_over_mean=0.01), None, MM)


def test_drama_nearly_all_over_has_no_flat_rest():
    said = sentence(numbers(drama_share=0.93), None, MM)
    assert "light and shade show on its texture over nearly its whole height" in said
    assert "flatter" not in said


def test_two_zones_are_both_told():
    two = numbers(drama_zone_2_low_m=0.4, drama_zone_2_high_m=0.9)
    assert "from 1800 mm to 2650 mm and from 400 mm to 900 mm up" in sentence(two, None, MM)


def test_a_run_against_the_wall_and_a_dark_wall():
    said = sentence(numbers(), made_plan(against=True, setback_m=0.054), FEET)
    assert said.startswith("With the light set against the wall (2 1/8 in), it is")
    assert sentence(numbers(average_lx=0.0), None, MM) == "No light reaches the wall."


def test_missing_numbers_are_a_fault():
    with pytest.raises(ValueError, match=r"no number main\.bright_band_at_m"):
        sentence(without(numbers(), "bright_band_at_m"), None, MM)
    with pytest.raises(ValueError, match="two numbers"):
        sentence((*numbers(), *numbers()), None, MM)


def test_comparison_follows_exact_light_from_graze_to_wash():
    graze, wash = ridged_still("graze", 0.05), ridged_still("wash", 0.3)
    said = compare_sentence(graze, wash, MM)
    assert said.startswith("Moving the light out from 50 mm to 300 mm off the wall ")
    first, second = re.search(
        r"the middle of the drama down from (\d+) mm to (\d+) mm", said
    ).groups()
    # exact section, by whole periods: 0.45 and 0.97 m below the line, here 2.70 m up
    assert int(first) == pytest.approx(2700 - 450, abs=25)
    assert int(second) == pytest.approx(2700 - 970, abs=25)
    back = compare_sentence(wash, graze, MM)
    assert "Moving the light in from 300 mm to 50 mm" in back
    assert "the drama up from" in back


def test_every_length_in_a_sentence_is_one_of_the_numbers():
    still = ridged_still("graze", 0.1)
    said = sentence(still.numbers, still.plan, MM)
    known = {round(n.value, 3) for n in still.numbers if n.unit == "m"} | {0.1}
    for text in re.findall(r"\d+ mm", said):
        assert any(abs(parse_length(text) - k) < 5.1e-3 for k in known), text


def test_what_does_not_change_is_said_to_stay():
    still = Still("one", numbers(), None)
    said = compare_sentence(still, Still("two", numbers(), None), MM)
    assert said.startswith("Going from one to two leaves the brightest band at 2500 mm up")
    assert "leaves its evenness at 2.8:1" in said
    assert "leaves its strength as it is" in said


def test_a_wash_that_looks_brighter_says_why():
    # a low eye sees the dark undersides of grazed ridges; more or less flux is told apart
    eye = (0.25, 0.2, 2.0)
    graze, wash = (ridged_still(n, s, eye) for n, s in (("graze", 0.05), ("wash", 0.3)))
    said = brightness_sentence(graze, wash)
    one, other = ({n.key: n.value for n in s.numbers} for s in (graze, wash))
    ratio = other["main.seen_cd_m2"] / one["main.seen_cd_m2"]
    product = (
        other["main.seen_flat_cd_m2"] / one["main.seen_flat_cd_m2"]
        * other["main.seen_square_on_share"] / one["main.seen_square_on_share"]
        * other["main.seen_view_share"] / one["main.seen_view_share"]
    )  # fmt: skip
    assert product == pytest.approx(ratio)
    assert f"{abs(100 * (ratio - 1)):.0f} %" in said or f"{ratio:.1f} times" in said
    assert brightness_sentence(ridged_still("a", 0.1), ridged_still("b", 0.2)) == ""
