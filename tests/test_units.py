"""Units: exact factors, what people write, what they read."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rakelight.units import (
    LX_PER_FC,
    parse_angle,
    parse_illuminance,
    parse_kelvin,
    parse_length,
    say_angle,
    say_illuminance,
    say_length,
    say_ratio,
)

UNITS = pint.UnitRegistry()


@pytest.mark.parametrize("unit", ["m", "cm", "mm", "ft", "in"])
@pytest.mark.parametrize("number", [0.1, 1, 2.54, 12345.678])
def test_lengths_agree_with_pint(number, unit):
    expected = UNITS.Quantity(number, "inch" if unit == "in" else unit).to("m").magnitude
    assert parse_length(f"{number} {unit}") == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("9 ft 6 in", 2.8956),
        ("9ft6in", 2.8956),
        ("9 ft 6 1/2 in", 2.9083),
        ("-1 ft 3 in", -0.381),
        ("2 1/8 in", 0.053975),
        ("1/2 in", 0.0127),
        ("6in", 0.1524),
        ("6 IN", 0.1524),
        (" 150 mm ", 0.15),
        (".5 m", 0.5),
        ("1e-2 m", 0.01),
        ("15 cm", 0.15),
        ("2 metres", 2.0),
    ],
)
def test_a_length_is_read_as_people_write_it(text, metres):
    assert parse_length(text, "ft") == pytest.approx(metres, rel=1e-15)


@pytest.mark.parametrize(
    ("unit", "metres"), [("m", 6), ("mm", 0.006), ("in", 0.1524), ("ft", 1.8288)]
)
def test_a_bare_number_takes_the_given_unit(unit, metres):
    assert parse_length(6, unit) == metres
    assert parse_length("6", unit) == metres
    assert parse_length("6 m", unit) == 6


@pytest.mark.parametrize(
    "nonsense",
    ["", "six", "6 lx", "6 in 9 ft", "6 ft 6 ft", "nan", "inf m", "1e999 m", "1/0 in", "6''",
     "10 fc", "9**9**9 m", "1 2 3 in", True, None, [6], math.nan, math.inf, -math.inf,
     10**400, "9" * 5000],
)  # fmt: skip
def test_nonsense_is_refused_with_an_example(nonsense):
    with pytest.raises(ValueError, match="is not a length such as"):
        parse_length(nonsense)


def test_a_whole_number_too_long_to_write_is_refused_too():
    with pytest.raises(ValueError, match="more than 50 digits"):
        parse_length(10**5000)


def test_angles_and_illuminance_agree_with_pint():
    assert parse_angle("12 deg") == pytest.approx(UNITS.Quantity(12, "deg").to("rad").magnitude)
    assert parse_angle("0.2 rad") == 0.2
    assert parse_angle(90) == pytest.approx(math.pi / 2, rel=1e-15)
    # 1 fc = 10.76391 lx, seven digits
    assert parse_illuminance("1 fc") == pytest.approx(10.76391, rel=1e-6)
    assert parse_illuminance("1 fc") == pytest.approx(
        UNITS.Quantity(1, "lumen/foot**2").to("lumen/m**2").magnitude, rel=1e-15
    )
    assert parse_illuminance(2, "fc") == pytest.approx(2 * LX_PER_FC, rel=1e-15)
    assert parse_illuminance("10 lx", "fc") == 10
    assert parse_kelvin("3000 K") == parse_kelvin(3000) == 3000


@pytest.mark.parametrize(
    ("metres", "m", "mm", "inches", "feet"),
    [
        (0.1524, "0.152 m", "152 mm", "6 in", "6 in"),
        (2.8956, "2.896 m", "2896 mm", "114 in", "9 ft 6 in"),
        (2.7432, "2.743 m", "2743 mm", "108 in", "9 ft"),
        (4.8, "4.80 m", "4800 mm", "189 in", "15 ft 9 in"),
        (0.0539, "0.054 m", "54 mm", "2 1/8 in", "2 1/8 in"),
        (-0.05, "-0.05 m", "-50 mm", "-2 in", "-2 in"),
        (0.0, "0.00 m", "0 mm", "0 in", "0 in"),
        (0.003175, "0.003 m", "3 mm", "1/8 in", "1/8 in"),
        (0.30479, "0.305 m", "305 mm", "12 in", "1 ft"),
    ],
)
def test_lengths_are_written_as_people_read_them(metres, m, mm, inches, feet):
    assert [say_length(metres, unit) for unit in ("m", "mm", "in", "ft")] == [m, mm, inches, feet]


@given(st.floats(0, 100), st.sampled_from(["m", "mm", "ft", "in"]))
def test_a_written_length_reads_back_within_its_rounding(length_m, unit):
    step = 0.0254 / 8 if unit in ("ft", "in") else 0.001
    near = parse_length(say_length(length_m, unit))
    up = parse_length(say_length(length_m, unit, rounding="up"))
    assert abs(near - length_m) <= step / 2 + 1e-9
    assert -1e-6 * step - 1e-9 <= up - length_m < step + 1e-9


@given(st.one_of(st.text(max_size=30), st.floats(), st.integers()))
def test_anything_gives_a_finite_length_or_a_value_error(value):
    try:
        metres = parse_length(value)
    except ValueError:
        return
    assert math.isfinite(metres)


@pytest.mark.parametrize(
    ("lx", "as_lx", "as_fc"),
    [(1076.391, "1076 lx", "100 fc"), (12.34, "12 lx", "1.1 fc"), (9.94, "9.9 lx", "0.9 fc"),
     (9.96, "10 lx", "0.9 fc"), (0, "0.0 lx", "0.0 fc")],
)  # fmt: skip
def test_illuminance_is_whole_from_ten_up_and_has_one_decimal_below(lx, as_lx, as_fc):
    assert (say_illuminance(lx, "lx"), say_illuminance(lx, "fc")) == (as_lx, as_fc)


def test_ratios_and_angles_have_one_decimal():
    assert say_ratio(2.84) == "2.8:1"
    assert say_ratio(math.inf) == "no limit"
    assert say_angle(math.radians(15.5241)) == "15.5 deg"
    assert say_angle(-1e-9) == "0 deg"
