"""Readings from a CSV: units by the header, and one line for each fault."""

import pytest

from rakelight.errors import InputError
from rakelight.read.readings import read_readings

GOOD = """point,from_left_mm,up_mm,head_mm,measured_lx,background_lx
1,2400,2600,15,210,10
2,2400,2500,15,150,10
3,2400,2000,15,,
4,2400,1000,15,60,
"""


def written(folder, text, name="read.csv"):
    path = folder / name
    path.write_text(text)
    return path


def test_readings_are_read_in_si_less_their_background(tmp_path):
    found = read_readings(written(tmp_path, GOOD))
    assert found.names == ("1", "2", "4")
    assert found.unread == ("3",)
    assert found.u_m == pytest.approx([2.4, 2.4, 2.4])
    assert found.v_m == pytest.approx([2.6, 2.5, 1.0])
    assert found.measured_lx == pytest.approx([200, 140, 60])
    assert found.head_m == pytest.approx(0.015)


def test_feet_footcandles_semicolons_and_a_mark_of_utf8(tmp_path):
    text = "\ufeffPoint;From_left_ft;Up_ft;Measured_fc\na;1;2;10\nb;1;3;20\nc;1;4;30\n"
    found = read_readings(written(tmp_path, text))
    assert found.v_m == pytest.approx([0.6096, 0.9144, 1.2192])
    assert found.measured_lx == pytest.approx([107.6391, 215.2782, 322.9173], rel=1e-6)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("measured_lx", "reading"), 'no column "measured_..."'),
        (("measured_lx", "measured"), "has no unit"),
        (("measured_lx", "measured_cd"), 'the unit "cd" is not one'),
        (("up_mm", "up_furlong"), 'the unit "furlong" is not one'),
        (("from_left_mm", "up_in"), 'two columns are called "up"'),
        (("210", "bright"), "must be a number"),
        (("210", "-5"), "must be 0 or more"),
        (("210", "nan"), "must be a number"),
        (("2400,2600", "2400,"), 'point 1 has no "up_mm"'),
        (("2500", "2600"), "lie at one place"),
        (("2,2400", "1,2400"), 'point "1" is there twice'),
        (("60,", ","), "2 points have a reading"),
        (("210,10", "210,10,7,8"), "values under 6 columns"),
        (("210,10", "8,10"), "no more than its background"),
        (("1000,15", "1000,20"), "one height for all points"),
    ],
)
def test_each_fault_is_one_line(tmp_path, change, says):
    with pytest.raises(InputError) as caught:
        read_readings(written(tmp_path, GOOD.replace(*change, 1)))
    assert any(says in fault for fault in caught.value.faults), caught.value.faults
    assert all(fault.startswith("read.csv") and "\n" not in fault for fault in caught.value.faults)


def test_what_is_no_csv_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_readings(tmp_path / "none.csv")
    with pytest.raises(InputError, match="is a folder"):
        read_readings(tmp_path)
    with pytest.raises(InputError, match="is empty"):
        read_readings(written(tmp_path, "\n \n"))
    (tmp_path / "x.csv").write_bytes(b"\x00\x01\xff")
    with pytest.raises(InputError, match="not a CSV"):
        read_readings(tmp_path / "x.csv")
