"""Tables keep every digit in SI or round as people read; captions name their assumptions."""

import csv
import io
import json

import numpy as np
import pytest
from rich.console import Console

from rakelight.measure import MeasureSettings, fields, measure_surface
from rakelight.measure.ceiling_profile import CeilingProfile
from rakelight.measure.grid import meter_grid
from rakelight.measure.profile import profile
from rakelight.measure.texture import texture
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.number import Number
from rakelight.scene.scene import Caveat
from rakelight.tell.caption import Exposed, caption, other_light_line, run_line
from rakelight.tell.cautions import CAUTIONS, NOT_MODELLED
from rakelight.tell.shown import Units, say, state_of
from rakelight.tell.tables import (
    across_csv,
    by_height_csv,
    meter_grid_csv,
    numbers_csv,
    numbers_json,
    numbers_table,
    run_table_csv,
)
from reference.made_plans import made_plan
from reference.made_surfaces import made_lit, made_surface

MM, FEET = Units("mm", "lx"), Units("ft", "fc")


def read_csv(data):
    return list(csv.DictReader(io.StringIO(data.decode())))


def lit_group():
    gamma = np.linspace(0, np.pi, 91)
    candela = np.tile(1000 * np.maximum(np.cos(gamma), 0), (3, 1))
    file = Intensity(np.linspace(0, 2 * np.pi, 3), gamma, candela, 24.0, 1.2, 0.02, 0, "made.ies")
    line = LitLine(
        "L1", "main", np.array([0.1, 3.4, 2.6]), np.array([1.0, 0, 0]), np.array([0, 0, -1.0]),
        np.array([0, 1.0, 0]), np.array([1.0, 0, 0]), np.array([[0.0, 1.2], [1.3, 2.5]]), 0.02,
        file, 1 / 1.2, np.nan,
    )  # fmt: skip
    return LightGroup((line,), 0.5, 0.8, np.ones(3), 3000.0)


def test_meter_grid_in_both_units():
    wall = made_surface(5, 5, 2.0, 2.0)
    grid = meter_grid(fields(wall, made_lit(wall, 107.6391)), spacing_m=1.0)
    rows = read_csv(meter_grid_csv(grid, FEET, "initial"))
    assert len(rows) == 4
    assert rows[0] == {
        "point": "1", "from left": "1 ft 7 5/8 in", "up from foot": "1 ft 7 5/8 in",
        "illuminance fc": "10", "state": "initial",
    }  # fmt: skip
    assert read_csv(meter_grid_csv(grid, MM, "initial"))[3] == {
        "point": "4", "from left": "1500 mm", "up from foot": "1500 mm",
        "illuminance lx": "108", "state": "initial",
    }  # fmt: skip


def test_by_height_has_a_line_for_each_band():
    wall = made_surface(109, 5, 0.5, 2.7, 0.003 * np.cos(np.arange(109))[:, None], (0.05, 0.05))
    light = fields(wall, made_lit(wall, 90 + 10 * np.cos(np.arange(109))[:, None], 107.6391))
    found = texture(light)
    rows = read_csv(by_height_csv(profile(light), found, FEET))
    assert len(rows) == found.v_m.size == 54
    assert rows[0]["height"] == "1 in"
    assert rows[20]["mean plane fc"] == "10"
    assert float(rows[20]["RMS contrast"]) == pytest.approx(found.contrast[20], abs=1e-3)
    with pytest.raises(ValueError, match="bands"):
        by_height_csv(profile(light, band_m=0.1), found, FEET)


def test_run_table_says_what_to_install():
    row = read_csv(run_table_csv([made_plan()], FEET))[0]
    assert row["setback"] == "6 in"
    assert row["clear gap to highest point"] == "3 7/8 in"
    assert row["backing to centreline"] == "7 1/2 in"
    assert row["least setback"] == "2 1/4 in"  # 2.146 in, rounded up so that it is allowed
    assert row["count"] == "4"
    assert row["W"] == "96"
    assert row["lm/W"] == "100"
    assert row["beam aim"] == "12 deg"
    assert row["housing"].endswith("(assumed)")
    assert row["maintenance"] == "1"


def test_unknown_watts_and_words_that_look_like_formulas():
    plan = made_plan(watts=np.nan, note="=1+2", tag="@home", count=3.25)
    row = read_csv(run_table_csv([plan], MM))[0]
    assert row["W"] == row["lm/W"] == "not in the file"
    assert row["note"] == "'=1+2"
    assert row["tag"] == "'@home"
    assert row["count"] == "3.25"


def test_json_keeps_every_digit_and_knows_no_infinity():
    third = Number("main.a_lx", 1 / 3, "lx", "a third")
    endless = Number("main.max_to_min", np.inf, "1", "to black")
    unknown = Number("main.watts", np.nan, "W", "not said")
    data = numbers_json("hall", [third, endless, unknown], [made_plan()], [lit_group()])
    found = json.loads(data)
    values = {n["key"]: n for n in found["numbers"]}
    assert values["main.a_lx"]["value"] == 1 / 3
    assert values["main.a_lx"]["unit"] == "lx"
    assert values["main.max_to_min"]["value"] is None
    assert values["main.max_to_min"]["value_is"] == "no limit"
    assert values["main.watts"]["value_is"] == "unknown"
    assert found["illuminance_is"] == "initial"
    assert found["run_table"][0]["setback_m"] == 0.1524
    assert found["run_table"][0]["beam_aim_deg"] == pytest.approx(12)
    assert found["cautions"] == list(CAUTIONS)
    assert numbers_json("hall", [third, endless, unknown], [made_plan()], [lit_group()]) == data


def test_the_light_can_be_recomputed_from_the_json():
    group = lit_group()
    run = json.loads(numbers_json("hall", [], [], [group]))["runs"][0]
    assert run["start_m"] == [0.1, 3.4, 2.6]
    assert run["end_m"] == pytest.approx([2.6, 3.4, 2.6])
    assert run["watts_per_m"] is None
    # straight below the middle of an element, 1 m away: candela per metre from the JSON
    table = run["candela_per_m"]
    below = np.interp(0, table["gamma_deg"], table["by_c_then_gamma"][0])
    assert below == pytest.approx(float(group.lines[0].candela_per_metre(np.array([0, 0, -1.0]))))
    assert (run["dim"], run["maintenance"]) == (0.5, 0.8)


@pytest.mark.parametrize(
    ("key", "value", "unit", "mm", "feet"),
    [
        ("w.average_lx", 107.6391, "lx", "108 lx", "10 fc"),
        ("w.average_lx", 53.8, "lx", "54 lx", "5.0 fc"),
        ("w.max_to_min", 2.8378, "1", "2.8:1", "2.8:1"),
        ("w.max_to_min", np.inf, "1", "no limit", "no limit"),
        ("w.height_m", 2.7432, "m", "2743 mm", "9 ft"),
        ("w.gradient_lx_m", 1000.0, "lx/m", "1000 lx/m", "28 fc/ft"),
        ("w.watts_per_m2", 10.7639, "W/m2", "11 W/m2", "1.00 W/ft2"),
        ("w.watts_per_m", 15.0, "W/m", "15 W/m", "4.6 W/ft"),
        ("w.area_m2", 9.290304, "m2", "9.29 m2", "100.0 ft2"),
        ("w.shadow_share", 0.256, "1", "26 %", "26 %"),
        ("w.grid.uniformity", 0.52297, "1", "0.52", "0.52"),
        ("w.grid.points_up", 5.0, "1", "5", "5"),
        ("w.grid.misses_light", 1.0, "1", "yes", "yes"),
        ("w.watts", np.nan, "W", "unknown", "unknown"),
        ("w.mean_cd_m2", 79.5775, "cd/m2", "80 cd/m2", "80 cd/m2"),
    ],
)
def test_numbers_are_rounded_as_people_read_them(key, value, unit, mm, feet):
    number = Number(key, value, unit, "")
    assert say(number, MM) == mm
    assert say(number, FEET) == feet


def test_every_measured_number_can_be_said_and_listed():
    wall = made_surface(55, 55, 2.7, 2.7, 0.003 * np.cos(np.arange(55))[:, None])
    light = made_lit(wall, 90 + 10 * np.cos(np.arange(55))[:, None], 100.0)
    settings = MeasureSettings(eye_m=(1.0, 1.0, 3.0), groups=(lit_group(),))
    numbers = measure_surface(wall, light, settings)
    assert all(say(n, u) for n in numbers for u in (MM, FEET))
    rows = read_csv(numbers_csv(numbers, MM))
    assert [r["key"] for r in rows] == [n.key for n in numbers]
    shown = Console(width=160, file=io.StringIO())
    shown.print(numbers_table(numbers, MM, "main [wall]"))
    text = shown.file.getvalue()
    assert all(n.key in text for n in numbers)


def test_initial_or_maintained():
    assert state_of([]) == state_of([made_plan()]) == "initial"
    assert state_of([made_plan(maintenance=0.8)]) == "maintained (maintenance factor 0.8)"
    mixed = [made_plan(), made_plan(maintenance=0.7)]
    assert state_of(mixed) == "maintained (maintenance factors 0.7 to 1, by run)"


def test_caption_names_exposure_units_other_light_and_cautions():
    wall = made_surface(55, 11, 2.7, 2.7, other_light_lx=20.0)
    light = made_lit(wall, 1 + 30000 * np.linspace(0, 1, 55)[:, None] ** 25)
    numbers = measure_surface(wall, light)
    lines = caption(
        "Hall",
        numbers,
        [made_plan(maintenance=0.8)],
        FEET,
        surfaces=[wall],
        exposed=Exposed(9.34, automatic=True, shared_by=2),
        camera="front",
        warnings=[Caveat("near_field", "run L1", "Its first 4 in are near field: mock it up.")],
        notes=["Reflectance of the texture."],
    )
    text = "\n".join(lines)
    assert lines[0] == "Hall, camera front"
    assert lines[1] == (
        "Illuminance in fc, maintained (maintenance factor 0.8). "
        "Exposure EV100 9.3, automatic, shared by 2 pictures."
    )
    assert "Includes other light that was stated, not computed: main 1.9 fc." in lines
    assert "Warning, run L1: Its first 4 in are near field: mock it up." in lines
    assert "Note: Reflectance of the texture." in lines
    assert NOT_MODELLED in lines
    assert lines[-len(CAUTIONS) :] == CAUTIONS
    assert "the points do not catch the bright band" in text  # the grid misses this light
    assert "at the top and 2.0 fc at the foot" in text  # above 20:1


def test_caption_without_other_light_or_defects():
    wall = made_surface(28, 11, 2.7, 2.7)
    lines = caption("Hall", measure_surface(wall, made_lit(wall, 50.0)), [], MM, surfaces=[wall])
    assert other_light_line([wall], MM).startswith("No other light")
    assert other_light_line([wall], MM) in lines
    assert NOT_MODELLED not in lines
    assert not any("Exposure" in line for line in lines)
    assert all(c in lines for c in CAUTIONS)


def test_a_setback_never_stands_without_its_gap():
    line = run_line(made_plan(against=True), FEET)
    assert line == (
        "L1: made.ies, setback 6 in (against), clear gap 3 7/8 in to the highest point, "
        "7 1/2 in from backing to centreline, drop 3 in, housing's lowest edge 8 ft 7 1/4 in up, "
        "tilt 0 deg, beam aim 12 deg, peak lands 6 ft 3 1/8 in up, on main, dim 100 %"
    )
    floor = run_line(made_plan(peak_on="floor", peak_at_m=0.5), MM)
    assert "peak lands 500 mm from the wall, on the floor" in floor


def test_a_ceiling_is_listed_across_in_the_readers_units():
    found = CeilingProfile(
        out_m=np.array([0.0, 0.3048, 0.6096]),
        lx=np.array([107.639, 215.278, 53.8196]),
        own_lx=np.array([107.639, 107.639, 0.0]),
        bounced_lx=np.array([0.0, 107.639, 53.8196]),
        source_m=0.1,
        depth_m=0.6096,
    )
    rows = read_csv(across_csv(found, FEET))
    assert [row["all light fc"] for row in rows] == ["10", "20", "5.0"]  # 1 fc = 10.7639 lx
    assert [row["reflected fc"] for row in rows] == ["0.0", "10", "5.0"]
    assert rows[1]["distance from the wall"].startswith("1 ft")
