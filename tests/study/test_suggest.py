"""The search against brute force, the hardware's clicks, what binds, the written scene."""

import itertools
import math

import numpy as np
import pytest

from rakelight.errors import InputError
from rakelight.read.toml import read_scene
from rakelight.study.outcomes import corner_miss_m, outcome
from rakelight.study.search import Axis, Bounds, search_file
from rakelight.study.suggest import confirm, suggest
from rakelight.study.tolerance import band_for, leeway, tolerances
from rakelight.study.trials import Candidate, bench
from rakelight.study.wishes import parse_wish
from rakelight.tell.shown import Units
from rakelight.tell.suggest_map import tolerance_map
from rakelight.tell.suggest_scene import winning_scene
from rakelight.tell.suggest_words import limit_lines, suggestion_lines

ROOM = """
[room]
width = 1.6
depth = 3.0
height = 2.7
[picture]
figure = false
"""
STONE = '[[relief]]\ntexture = "split-ledgestone"\n'
RUN = """
[[run]]
tag = "G1"
photometry = "{file}"
setback = "{setback}"
tilt = 0
dim = 0.5
housing = {{ width = "40 mm", height = "40 mm" }}
{more}
"""


def scene_of(folder, file="graze-narrow", setback="120 mm", more="", stone=False, room=ROOM):
    path = folder / "hall.toml"
    relief = STONE if stone else ""
    path.write_text(room + relief + RUN.format(file=file, setback=setback, more=more))
    return read_scene(path)


def deg(*angles):
    return tuple(math.radians(a) for a in angles)


@pytest.mark.parametrize(
    ("want", "file", "stone"),
    [
        ("drama at 1.6 m", "graze-medium", True),
        ("even wall, at least 60 lx", "wash-flat", False),
    ],
)
def test_the_search_is_at_least_as_good_as_a_fine_grid(tmp_path, want, file, stone):
    scene = scene_of(tmp_path, file, stone=stone)
    wish, on = parse_wish(want), bench(scene, step_m=0.03)
    span, tilts = (0.08, 0.4), deg(-10, 25)
    found = suggest(on, wish, Bounds((), span, tilts))
    grid = [
        outcome(wish, trial).score
        for s, t in itertools.product(np.geomspace(*span, 14), np.linspace(*tilts, 14))
        if (trial := on.try_one(Candidate("", float(s), float(t)))) is not None
    ]
    assert len(grid) == 196
    assert found.best.outcome.score <= min(grid) + 1e-3
    assert found.tried < 120  # a search, not a grid
    assert [f.outcome.score for f in found.ranked] == sorted(f.outcome.score for f in found.ranked)


def test_only_tilts_that_the_hardware_has_are_tried(tmp_path):
    more = 'adjust = { range = ["-10 deg", "30 deg"], click = "10 deg" }'
    scene = scene_of(tmp_path, "graze-medium", more=more, stone=True)
    wish, on = parse_wish("drama at 1.5 m"), bench(scene, step_m=0.03)
    found = suggest(on, wish, Bounds((), (0.06, 0.4), deg(-20, 25)))
    tilts = {round(math.degrees(f.plan.tilt_rad), 6) for f in found.ranked}
    assert tilts <= {-10.0, 0.0, 10.0, 20.0}
    # each click's best against brute force over the setback
    best = min(
        outcome(wish, trial).score
        for t in deg(-10, 0, 10, 20)
        for s in np.geomspace(0.06, 0.4, 40)
        if (trial := on.try_one(Candidate("", float(s), t))) is not None
    )
    assert found.best.outcome.score <= best + 1e-3


def test_files_are_ranked_and_each_ones_best_is_shown(tmp_path):
    scene = scene_of(tmp_path, "graze-medium", stone=True)
    on = bench(scene, step_m=0.03)
    bounds = Bounds(("graze-narrow", "graze-medium"), (0.06, 0.4))
    found = suggest(on, parse_wish("drama at 1.5 m"), bounds)
    assert {f.candidate.file for f in found.ranked} == {"graze-narrow", "graze-medium"}
    assert found.best.outcome.met
    assert found.best.outcome.value("drama_centre_m") == pytest.approx(1.5, abs=0.01)
    sure = confirm(on, found.wish, found.best.candidate)
    assert sure.value("drama_centre_m") == pytest.approx(1.5, abs=0.08)


def test_what_binds_is_named(tmp_path):
    scene = scene_of(tmp_path, "graze-medium", stone=True)
    on = bench(scene, step_m=0.03)
    found = suggest(on, parse_wish("drama at 0.9 m"), Bounds((), (0.06, 0.15)))
    assert not found.best.outcome.met
    assert "largest setback" in found.limits
    assert any("150 mm" in line for line in limit_lines(found, Units("mm"), 0.5))
    high = suggest(on, parse_wish("average 5000 lx on main"), Bounds((), (0.02, 0.15)))
    assert "against" in high.limits
    assert any("relief binds" in line for line in limit_lines(high, Units("mm"), 0.5))
    dark = suggest(on, parse_wish("even wall, at least 5000 lx"), Bounds((), (0.1, 0.15)))
    assert "output" in dark.limits
    said = suggestion_lines(dark, dark.best.outcome, (), Units("mm"), dim=0.5, state="initial")
    assert any("light output binds" in line for line in said)
    assert any("verify with a mock-up" in line for line in said)


def test_drama_without_a_relief_is_refused(tmp_path):
    on = bench(scene_of(tmp_path))
    with pytest.raises(InputError, match="no relief"):
        suggest(on, parse_wish("drama at 1.5 m"), Bounds((), (0.06, 0.15)))


def test_a_tilt_that_no_click_has_is_refused(tmp_path):
    scene = scene_of(tmp_path, more="fixed = true")
    with pytest.raises(InputError, match="cannot be set to any tilt"):
        suggest(bench(scene), parse_wish("even wall"), Bounds((), (0.1, 0.2), deg(10, 20)))


def test_tolerance_is_where_the_outcome_leaves_its_band(tmp_path):
    more = 'adjust = { range = ["-20 deg", "20 deg"], click = "5 deg" }'
    scene = scene_of(tmp_path, "graze-medium", more=more, stone=True)
    wish, on = parse_wish("drama at 1.5 m"), bench(scene, step_m=0.03)
    found = suggest(on, wish, Bounds((), (0.06, 0.4)))
    band = band_for(wish)
    held = tolerances(on, wish, found.best, band, with_wall=True, with_map=True)
    by = {item.what: item for item in held.items}
    assert set(by) == {"setback", "tilt", "lean", "bow"}
    assert held.half_click_rad == pytest.approx(math.radians(2.5))
    trial = on.try_one(found.best.candidate)
    best = outcome(wish, trial)
    for item in (by["setback"], by["tilt"]):
        for way, size, ends in (
            (-1, item.minus, item.minus_ends), (1, item.plus, item.plus_ends),
        ):  # fmt: skip
            if ends != "leaves":
                continue
            inside, outside = (
                on.off(
                    trial, *((way * k * size, 0.0) if item.unit == "m" else (0.0, way * k * size))
                )
                for k in (0.9, 1.1)
            )
            assert leeway(band, best, outcome(wish, inside), held.middle) > 0
            if outside is not None:
                assert leeway(band, best, outcome(wish, outside), held.middle) < 0.05
    picture = tolerance_map(held, found.best, Units("mm"), title="Hall", wish=wish.text)
    assert picture == tolerance_map(held, found.best, Units("mm"), title="Hall", wish=wish.text)
    assert picture[:4] == b"\x89PNG"


def test_a_run_moved_on_the_bench_is_the_run_built_there(tmp_path):
    scene = scene_of(tmp_path, "graze-medium", stone=True)
    wish, on = parse_wish("drama at 1.5 m"), bench(scene, step_m=0.03)
    first = on.try_one(Candidate("", 0.12, 0.0))
    there = Candidate("", 0.2, math.radians(7))
    built = bench(scene, step_m=0.03).try_one(there)  # the first of its bench: built
    for moved in (on.try_one(there), on.off(first, 0.08, math.radians(7))):
        one, other = outcome(wish, moved), outcome(wish, built)
        for a, b in zip(one.numbers, other.numbers, strict=True):
            assert a.value == pytest.approx(b.value, rel=1e-5)
        assert moved.plan.setback_m == pytest.approx(0.2) or moved.plan is first.plan


def test_the_winning_scene_builds_to_what_was_found(tmp_path):
    scene_of(tmp_path, "graze-medium", stone=True)
    scene = tmp_path / "hall.toml"
    scene.write_text(scene.read_text().replace("tilt = 0", 'beam_aim = "base"'))
    on = bench(read_scene(scene), step_m=0.03)
    found = suggest(
        on, parse_wish("drama at 1.5 m"), Bounds(("graze-narrow",), (0.06, 0.4), deg(-5, 20))
    )
    target = tmp_path / "won" / "best.toml"
    target.parent.mkdir()
    target.write_text(winning_scene(read_scene(scene), 0, found, target))
    again = bench(read_scene(target), step_m=0.03)
    trial = again.try_one(Candidate())
    assert trial.plan.setback_m == pytest.approx(found.best.plan.setback_m, abs=1e-4)
    assert trial.plan.tilt_rad == pytest.approx(found.best.plan.tilt_rad, abs=2e-4)
    assert trial.plan.file.startswith("graze-narrow")
    here = outcome(found.wish, trial)
    there = found.best.outcome
    assert here.value("drama_centre_m") == pytest.approx(there.value("drama_centre_m"), abs=0.005)
    with pytest.raises(InputError, match="the scene itself"):
        winning_scene(read_scene(scene), 0, found, scene)


def test_cut_off_reaches_the_far_corner_where_the_lip_says_so(tmp_path):
    # Opening 140.4 mm below a 2700 mm ceiling's line over a lip, re-derived here: with the
    # opening at (y_a, z_a), a lip's edge at y_b and the far corner (D, Z), the edge that just
    # cuts the corner lies at z_b = z_a + (Z - z_a) (y_b - y_a) / (D - y_a).
    path = tmp_path / "cove.toml"
    depth, ceiling, y_a, ledge, below = 3.0, 2.7, 0.1, 0.2, 0.16
    z_a = ceiling - below + 0.0505  # the housing's height, and the least gap under it

    def miss(lip):
        path.write_text(
            f"[room]\nwidth = 2\ndepth = {depth}\nheight = {ceiling}\n"
            f'[[cove]]\ntag = "C"\nalong = "main"\nledge = {ledge}\nlip = {lip}\n'
            f"below_ceiling = {below}\n"
            '[[run]]\non = "C"\nphotometry = "cove-throw"\nsetback = "100 mm"\n'
            'housing = { width = "50 mm", height = "50 mm" }\n'
        )
        trial = bench(read_scene(path)).try_one(Candidate())
        assert trial.line.origin_m[2] == pytest.approx(z_a)
        return corner_miss_m(trial.scene.room, trial.line, trial.plan.beside)

    y_b = ledge  # the lip's inner upper edge meets the rising line first
    z_b = z_a + (ceiling - z_a) * (y_b - y_a) / (depth - y_a)
    lip = z_b - (ceiling - below)
    # the lip is 12 mm thick, and its outer edge cuts a rising line as well; a hair covers it
    assert abs(miss(lip)) < 0.03
    assert miss(lip + 0.01) > 0.2
    assert miss(lip - 0.01) < -0.2


class Scored:
    """A search whose score is a plain function of setback and tilt."""

    def __init__(self, function):
        self.function, self.seen = function, {}

    def score(self, candidate):
        if candidate not in self.seen:
            self.seen[candidate] = float(self.function(candidate.setback_m, candidate.tilt_rad))
        return self.seen[candidate]


def two_valleys(shallow, deep, wide=0.14, narrow=0.07):
    """A wide valley of depth 0.6 and a narrow one of depth 0.9, as shares of the axes."""

    def score(setback_m, tilt_rad):
        setback = math.log(setback_m / 0.05) / math.log(10)
        tilt = 0.5 if tilt_rad is None else math.degrees(tilt_rad) / 30
        out = 1.0
        for (at, turn), depth, size in ((shallow, 0.6, wide), (deep, 0.9, narrow)):
            away = (setback - at) ** 2 + (tilt - turn) ** 2
            out -= depth * math.exp(-away / size**2)
        return out

    return score


SETBACKS = Axis("setback_m", 0.05, 0.5)
TILTS = Axis("tilt_rad", 0.0, math.radians(30))


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("deep", [0.66, 0.71, 0.74, 0.786, 0.83, 0.95])
def test_of_two_valleys_over_the_setback_the_deeper_is_found(deep, mirrored):
    # between two points of the scan the narrow valley looks shallower than the wide one
    places = [(1 - x, 0.5) if mirrored else (x, 0.5) for x in (0.22, deep)]
    search = Scored(two_valleys(*places))
    search_file(search, "", [SETBACKS], None)
    assert min(search.seen.values()) == pytest.approx(0.1, abs=0.005)
    assert len(search.seen) < 60


@pytest.mark.parametrize("deep", [(0.8, 0.2), (0.85, 0.85), (0.3, 0.9), (0.65, 0.62)])
def test_of_two_valleys_over_setback_and_tilt_the_deeper_is_found(deep):
    search = Scored(two_valleys((0.2, 0.2), deep, 0.25, 0.16))
    search_file(search, "", [SETBACKS, TILTS], None)
    assert min(search.seen.values()) == pytest.approx(0.1, abs=0.01)
    assert len(search.seen) < 160


@pytest.mark.parametrize("deep", [(0.8, 0.2), (0.85, 0.85), (0.3, 0.9)])
def test_of_two_valleys_over_setback_and_clicks_the_deeper_is_found(deep):
    score = two_valleys((0.2, 0.2), deep, 0.25, 0.16)
    clicks = np.radians(np.arange(0.0, 31.0, 2.5))
    search = Scored(score)
    search_file(search, "", [SETBACKS], clicks)
    grid = [score(s, float(t)) for s in np.geomspace(0.05, 0.5, 200) for t in clicks]
    assert min(search.seen.values()) == pytest.approx(min(grid), abs=0.01)
    assert len(search.seen) < 160
