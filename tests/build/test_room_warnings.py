"""Warnings about gaps, dark ends and eyes: each fires where it should, and not beside it."""

import math

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.build.warnings import row_ripple
from rakelight.scene.quality import Quality

COARSE = Quality(mesh_step_m=0.1, plane_step_m=0.5)
RUN = '[[run]]\nphotometry = "graze-narrow"\nhousing = { width = "30 mm", height = "40 mm" }\n'


@pytest.fixture
def warned(tmp_path):
    def _warned(text, key):
        path = tmp_path / "hall.toml"
        path.write_text(text)
        scene = build_scene(path, quality=COARSE)
        return [w for w in scene.warnings if w.key == key]

    return _warned


@pytest.mark.parametrize(
    ("lit", "gap", "distance", "percent"),
    [
        (0.3, 0.075, 0.2, 14.3),
        (0.3, 0.075, 0.3, 3.7),
        (0.3, 0.2, 0.3, 22.2),
        (1.2, 0.2, 0.762, 9.34),
        (1.2, 0.075, 0.762, 2.77),
    ],
)
def test_ripple_of_an_endless_row(lit, gap, distance, percent):
    # summed over all harmonics, re-derived by quadrature; the first is all that is left far off
    assert 100 * row_ripple(lit, gap, distance) == pytest.approx(percent, rel=0.03)


def test_the_first_harmonic_is_what_quadrature_gives():
    lit, gap, distance = 0.6, 0.3, 0.5
    pitch = lit + gap
    at = np.linspace(0, pitch, 181)
    u = np.linspace(-60, 60, 240_001)
    on = (np.abs((u + pitch / 2) % pitch - pitch / 2)) < lit / 2
    light = np.array([(on / (distance**2 + (u - x) ** 2) ** 2).sum() for x in at])
    wave = (light[:-1] * np.cos(2 * math.pi * at[:-1] / pitch)).mean() * 2
    assert row_ripple(lit, gap, distance) == pytest.approx(2 * wave / light[:-1].mean(), rel=1e-3)


def test_wide_gaps_close_to_a_wall_are_warned_of_with_the_place_where_they_end(warned):
    text = RUN + "setback = '100 mm'\nlength = 0.3\ngap = 0.3\n"
    [found] = warned(text, "gaps_show")
    assert found.place == "run L1"
    assert "gaps of 0.30 m leave scallops" in found.says
    assert not warned(text.replace("'100 mm'", "0.9"), "gaps_show")
    assert not warned(text.replace("gap = 0.3", "gap = 0.02"), "gaps_show")


def test_a_run_that_almost_fills_its_wall_leaves_dark_ends(warned):
    text = RUN + "setback = '150 mm'\n"
    [found] = warned(text + "start = 0.4\nend = 4.7\n", "dark_ends")
    assert "0.40 m at the left" in found.says
    assert "right" not in found.says
    assert not warned(text + "start = 0.25\nend = 4.6\n", "dark_ends")
    assert not warned(text + "start = 1.5\nend = 3.3\n", "dark_ends")  # a part, on purpose


def test_an_eye_that_sees_the_source_is_warned_of_until_a_fascia_hides_it(warned):
    eye = "[[eye]]\nname = 'guest'\nat = [2.4, 0.6]\nheight = 1.2\n"
    run = RUN + "setback = '100 mm'\n"
    [found] = warned(eye + run, "source_seen")
    assert "eye guest, 1.20 m over the floor, sees the source" in found.says
    fascia = "[[fascia]]\nfrom_wall = 0.2\nheight = {}\n"
    # from 3 m away the line to an opening 100 mm behind the edge rises 1.44 / 2.9 of 100 mm
    rise = 0.1 * 1.44 / 2.9
    drop = 0.06 + 0.012 / 2.9 + rise
    assert not warned(eye + run + fascia.format(round(drop + 0.02, 4)), "source_seen")
    assert warned(eye + run + fascia.format(0.07), "source_seen")


def test_a_source_that_mirrors_in_a_window_is_warned_of(warned):
    window = (
        '[[opening]]\nkind = "window"\non = "opposite"\nfrom_left = 0.5\nfrom_foot = 0.5\n'
        "width = 3.8\nheight = 2\n"
    )
    eye = "[[eye]]\nat = [2.4, 2.2]\nheight = 1.6\n"
    run = RUN + "setback = 0.6\ntilt = -20\n"
    [found] = warned(window + eye + run, "source_mirrored")
    assert "reflection in window O1 pane" in found.says
    # the image lies on the straight line from the eye to the run mirrored in the pane
    assert not warned(window.replace("height = 2", "height = 0.5") + eye + run, "source_mirrored")
    assert not warned(window + "glazed = false\n" + eye + run, "source_mirrored")


def test_a_beam_turned_from_its_ceiling_is_warned_of(warned):
    run = RUN + 'lights = "ceiling"\nbeside = "main"\nsetback = 0.3\nheight = 2.2\n'
    assert not warned(run, "throws_away")
    [found] = warned(run + "tilt = 20\n", "throws_away")
    assert "the peak points down, away from the ceiling" in found.says
