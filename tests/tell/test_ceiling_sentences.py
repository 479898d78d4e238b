"""What is said of ceilings: distances from the wall and from the run, no heights."""

import dataclasses

import pytest

from rakelight.measure import MeasureSettings, measure_surface
from rakelight.measure.lie_words import lie_words
from rakelight.scene.number import Number
from rakelight.tell.sentences import Still, compare_sentence, sentence
from rakelight.tell.shown import Units
from reference.made_plans import made_plan
from reference.made_surfaces import made_lit
from reference.plain_rooms import box_room

MM = Units("mm", "lx")
PLAN = dataclasses.replace(
    made_plan(setback_m=0.09), tag="C1", lights="ceiling", beside="left", kind="out"
)


def numbers(average=210.0, at=1.74, ratio=8.2, half=2.5):
    surface = {
        "average_lx": average, "max_lx": 430.0, "max_to_min": 9.0, "bright_band_at_m": 1.0,
        "bright_band_lx": 400.0, "foot_lx": 50.0,
    }  # fmt: skip
    across = {
        "peak_lx": 429.0, "peak_from_wall_m": at, "max_to_min": ratio, "half_m": half,
        "tenth_m": 5.0, "far_lx": 60.0,
    }  # fmt: skip
    out = [Number(f"ceiling.{k}", v, "lx", "made") for k, v in surface.items()]
    return (*out, *(Number(f"run.C1.ceiling.{k}", v, "m", "made") for k, v in across.items()))


def test_a_ceiling_is_said_from_its_wall_and_its_run():
    assert sentence(numbers(), PLAN, MM, "ceiling") == (
        "With the light 90 mm off the wall, the ceiling gets 210 lx on average, is brightest "
        "1740 mm from the left wall with 429 lx, where it gets 8.2 times the light of its darkest "
        "part across; the run's own light has fallen to half 2500 mm from it."
    )
    never = sentence(numbers(half=float("nan")), PLAN, MM, "ceiling")
    assert never.endswith("the run's own light is nowhere down to half of its peak.")


def test_a_second_maximum_across_is_said():
    more = (("half_first_m", 0.09), ("second_m", 4.3), ("second_over_peak", 0.59))
    two = tuple(Number(f"run.C1.ceiling.{key}", value, "m", "made") for key, value in more)
    assert sentence((*numbers(half=4.84), *two), PLAN, MM, "ceiling").endswith(
        "the run's own light has fallen to half 4840 mm from it for good: a narrow bright line "
        "ends 90 mm out, beyond which it rises to 59 % of its peak again 4300 mm out."
    )


def test_without_a_section_it_says_only_what_it_knows():
    plain = [n for n in numbers() if not n.key.startswith("run.")]
    assert sentence(plain, PLAN, MM, "ceiling") == (
        "With the light 90 mm off the wall, the ceiling gets 210 lx on average and 430 lx at most."
    )


def test_two_ceilings_are_compared_without_heights():
    one = Still("near", numbers(), PLAN)
    far = dataclasses.replace(PLAN, setback_m=0.2)
    other = Still("far", numbers(average=180.0, at=2.2, ratio=5.0), far)
    said = compare_sentence(one, other, MM, "ceiling")
    assert said == (
        "Moving the light out from 90 mm to 200 mm off the wall lowers the ceiling's average "
        "from 210 lx to 180 lx, moves its brightest place from 1740 mm to 2200 mm from the left "
        "wall and evens it out from 8.2:1 to 5.0:1."
    )
    for word in (" up", "foot", "top"):
        assert word not in said.replace("lowers", "")


@pytest.mark.parametrize(
    ("name", "along"),
    [("ceiling", "from the main wall"), ("floor", "from the opposite wall"),
     ("main", "up from the foot")],
)  # fmt: skip
def test_numbers_of_a_surface_are_said_from_where_its_v_begins(name, along):
    surface = box_room(4.0, 3.0, 2.5, 0.5).surface(name)
    assert lie_words(surface).along == along
    found = measure_surface(surface, made_lit(surface, 100.0), MeasureSettings())
    says = {n.key.split(".", 1)[1]: n.says for n in found}
    assert says["max_at_v_m"].endswith(along)
    if name != "main":
        words = ("bright_band_at_m", "bright_band_low_m", "foot_lx", "top_lx", "gradient_at_v_m")
        for key in words:
            assert "foot" not in says[key]
            assert "height" not in says[key]
