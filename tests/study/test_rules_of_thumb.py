"""The key findings of the page of rules, at settings that are quick."""

import math
from pathlib import Path

import pytest

from rakelight.study import rules_of_thumb as rules
from rakelight.study.tried_rules import Trier

QUICK = Trier(step_m=0.03, width="2 m")
PAGE = Path(__file__).parents[2] / "shared" / "docs" / "rules-of-thumb.md"


def test_the_drama_moves_down_with_setback_and_most_at_first():
    found = rules.drama_moves(QUICK)
    assert found.values["steady"] == 1
    assert found.values["fall_m"] > 0.2
    assert found.values["first_m"] > 0.1 * found.values["fall_m"]


def test_a_relief_twice_as_deep_wants_more_setback():
    assert rules.deep_relief(QUICK).values["ratio"] > 1.2


def test_a_wash_looks_brighter_on_stone_from_a_low_eye_only():
    found = rules.wash_looks_brighter(QUICK)
    assert found.values["seen_far"] > max(found.values["seen_near"], found.values["seen_middle"])


def test_a_wall_is_flatter_from_afar_and_a_taller_one_scales_it():
    far = rules.flatter_from_afar(QUICK).values
    assert far["far"] < 0.2 * far["near"]
    tall = rules.taller_wants_more(QUICK)
    assert tall.verdict == "holds"
    # one file and tilt on a wall in proportion: the same share of the height, up to the file's
    # own length and the search
    assert tall.values["high"] - tall.values["low"] < 0.06


def test_a_single_luminaire_brightens_by_the_square_and_a_long_run_in_proportion():
    values = rules.closer_is_hotter(Trier(step_m=0.03)).values
    # E = f(d / s) / s for a long run, / s^2 for a single luminaire (self-similarity): 1.25, 1.5625
    assert values["long run.ratio"] == pytest.approx(1.25, abs=0.05)
    assert values["single luminaire.ratio"] == pytest.approx(1.5625, abs=0.05)
    assert 0 < values["long run.rise_m"] < 0.3


def test_aims_at_the_foot():
    values = rules.base_aim(QUICK).values
    assert values["aim_30"] == pytest.approx(15.5241, abs=1e-4)  # atan(30 / 108)
    assert values["below_in"] == pytest.approx(36 / math.tan(math.radians(15)) - 108)


@pytest.mark.parametrize(
    ("lit", "gap", "distance", "ripple"),
    # an infinite row, peak-to-trough over mean, all harmonics (re-derived by quadrature)
    [(0.3, 0.075, 0.05, 0.883), (0.3, 0.2, 0.3, 0.222), (1.2, 0.075, 0.3, 0.157),
     (1.2, 0.2, 0.1, 0.953)],
)  # fmt: skip
def test_gaps_fade_with_distance_but_do_not_vanish(lit, gap, distance, ripple):
    assert rules.row_ripple(lit, gap, distance) == pytest.approx(ripple, abs=0.002)


def test_a_cove_farther_below_is_more_even():
    found = rules.deeper_cove_is_more_even(QUICK)
    assert found.values["falls"] == 1


def test_the_page_has_every_rule():
    text = PAGE.read_text(encoding="utf-8")
    assert text.count("\n## ") == len(rules.RULES)
    assert text.count("|-|") >= len(rules.RULES)
    assert "verify with a mock-up" in text
