import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from rakelight.cli.photometry import photometry
from rakelight.errors import InputError
from rakelight.read.photometry import read_photometry
from reference.photometric_texts import FILE_1, FILE_2, FILE_3, lm63

SHIPPED = Path(__file__).parents[2] / "shared" / "photometry"


def run(*args):
    return CliRunner().invoke(photometry, [str(a) for a in args])


@pytest.fixture
def file_1(tmp_path):
    path = tmp_path / "one.ies"
    path.write_text(FILE_1)
    return path


def test_words_for_a_graze():
    result = run(SHIPPED / "graze-narrow.ies")
    assert result.exit_code == 0
    for words in (
        "graze-narrow.ies", "2400 lm, 2000 lm/m", "21.6 W, 18.0 W/m, 111 lm/W",
        "6769 cd, 4 deg off nadir toward C90", "toward C90, across the run",
        "1200 mm along C0 by 20 mm along C90", "mirrored about the plane C90-C270", "absolute",
    ):  # fmt: skip
        assert words in result.output


def test_what_was_assumed_is_printed(file_1, tmp_path):
    two = tmp_path / "two.ies"
    two.write_text(FILE_2)
    result = run(file_1, two)
    assert "longer side lies along C90-C270" in result.output
    assert "read, not applied" in result.output
    assert "type B" in result.output
    assert result.output.index("one.ies") < result.output.index("two.ies")


def test_up_light_is_said_above_the_horizontal():
    result = run(SHIPPED / "cove-throw.ies")
    assert "15 deg above horizontal toward C90" in result.output


def test_json_keeps_every_digit_and_has_no_nan(tmp_path):
    path = tmp_path / "a.ies"
    path.write_text(lm63(watts=0))
    result = run(path, "--json")
    (one,) = json.loads(result.output)["files"]
    numbers = {n["key"]: n["value"] for n in one["numbers"]}
    assert numbers["lumens"] == read_photometry(path).lumens
    assert numbers["efficacy"] is None
    assert one["notes"]


def test_copy_reads_back_alike(file_1, tmp_path):
    for name in ("new.ies", "new.ldt"):
        result = run(file_1, "-o", tmp_path / name)
        assert result.exit_code == 0, result.output
        assert read_photometry(tmp_path / name).lumens == pytest.approx(1741.263, rel=1e-6)


def test_copy_at_another_length_and_output_says_so(file_1, tmp_path):
    new = tmp_path / "new.ies"
    run(file_1, "-o", new, "--length", "600 mm", "--lumens", "1500")
    i = read_photometry(new)
    assert i.long_side_m == pytest.approx(0.6)
    assert i.lumens == pytest.approx(1500, rel=1e-6)
    said = [words for keyword, words in i.keywords if keyword == "OTHER"]
    assert said[0].startswith("Scaled from 1.2 m to 0.6 m")
    assert said[1].startswith("Scaled from 870.632 lm to 1500 lm")


def test_eulumdat_to_lm63(tmp_path):
    path, new = tmp_path / "rk3.ldt", tmp_path / "rk3.ies"
    path.write_bytes(FILE_3.encode())
    assert run(path, "-o", new).exit_code == 0
    assert read_photometry(new).lumens == pytest.approx(2091.091, rel=1e-6)


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_drawing_is_the_same_twice(file_1, tmp_path, kind):
    for name in ("a", "b"):
        assert run(file_1, "--draw", tmp_path / f"{name}.{kind}").exit_code == 0
    assert (tmp_path / f"a.{kind}").read_bytes() == (tmp_path / f"b.{kind}").read_bytes()


def test_every_fault_is_told_and_nothing_written(file_1, tmp_path):
    bad = tmp_path / "bad.ies"
    bad.write_text("IESNA:LM-63-2002\n")
    result = run(bad, file_1, tmp_path / "none.ies", "--draw", tmp_path / "out.png")
    assert isinstance(result.exception, InputError)
    assert len(result.exception.faults) == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.ies", "one.ies"]


def test_type_b_to_eulumdat_writes_nothing(tmp_path):
    path = tmp_path / "b.ies"
    path.write_text(FILE_2)
    result = run(path, "-o", tmp_path / "b.ldt")
    assert isinstance(result.exception, InputError)
    assert not (tmp_path / "b.ldt").exists()


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--draw", "x.pdf"), ".png or .svg"),
        (("-o", "x.txt"), ".ies or .ldt"),
        (("--length", "1 m"), "give -o too"),
    ],
)
def test_options_that_cannot_be(file_1, args, words):
    result = run(file_1, *args)
    assert result.exit_code == 2
    assert words in result.output


def test_input_is_never_overwritten(file_1):
    result = run(file_1, "-o", file_1)
    assert result.exit_code == 2
    assert file_1.read_text() == FILE_1


def test_length_that_is_none(file_1, tmp_path):
    result = run(file_1, "-o", tmp_path / "x.ies", "--length", "long")
    assert isinstance(result.exception, InputError)
    assert "one.ies: cannot be scaled" in str(result.exception)
