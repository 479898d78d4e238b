"""`suggest`, `mockup` and `reconcile` as commands, from end to end."""

import csv
import json

import pytest
from click.testing import CliRunner

from rakelight.cli import main
from rakelight.read.toml import read_scene

SCENE = """
[units]
length = "mm"
[room]
width = 1600
depth = 3000
height = 2700
[picture]
figure = false
[[run]]
tag = "W1"
photometry = "wash-flat"
setback = 600
tilt = 0
housing = { width = 60, height = 60 }
"""


@pytest.fixture
def hall(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text(SCENE)
    return path


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_suggest_ranks_tolerates_draws_and_writes(hall, tmp_path):
    won = tmp_path / "won.toml"
    done = run(
        "suggest", hall, "--want", "even wall, at least 30 lx", "--setback", "300:900mm",
        "--out", tmp_path, "--write", won,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "Tolerance of no. 1, max:min" in done.output
    assert "verify with a mock-up" in done.output
    document = json.loads((tmp_path / "hall.suggest.json").read_text())
    best = document["ranked"][0]
    assert best["met"]
    assert 0.3 <= best["setback_m"] <= 0.9
    assert (tmp_path / "hall.suggest.png").read_bytes()[:4] == b"\x89PNG"
    stated = read_scene(won).tables.run[0].setback_m
    assert stated == pytest.approx(best["setback_m"], abs=1e-4)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--want", "more light", "--setback", "60:400mm"], "not understood"),
        (["--want", "even wall"], "nothing to search"),
        (["--want", "even wall", "--setback", "400:60mm"], "is reversed"),
        (["--want", "even wall", "--setback", "60kg:90kg"], "not a length"),
        (["--want", "even wall", "--setback", "60mm"], "LEAST:LARGEST"),
        (["--want", "even wall", "--tilt", "a:b"], "--tilt"),
        (["--want", "even wall", "--below", "100:300mm"], "lies on no cove"),
        (["--want", "even wall", "--setback", "60:400mm", "--run", "X9"], "no such run"),
        (["--want", "even wall", "--setback", "60:400mm", "--band", "10 mm"], "a share"),
        (["--want", "even wall", "--setback", "60:400mm", "--files", "nothing"], "nothing"),
    ],
)
def test_suggest_refuses_in_one_line(hall, tmp_path, words, says):
    done = run("suggest", hall, "--out", tmp_path, *words)
    assert done.exit_code == 2, done.output
    assert says in done.output
    assert len(done.output.strip().splitlines()) == 1


def test_the_mockup_loop_from_sheet_to_verdict(hall, tmp_path):
    done = run("mockup", hall, "--head", "12 mm", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "hall.mockup.pdf").read_bytes()[:5] == b"%PDF-"
    sheet = tmp_path / "hall.mockup.csv"
    rows = list(csv.DictReader(sheet.open()))
    assert len(rows) == 12
    blank = run("reconcile", hall, sheet)
    assert blank.exit_code == 2
    assert "12 are blank" in blank.output
    for row in rows:
        row["measured_lx"] = str(0.9 * float(row["predicted_lx"]) + 5)
        row["background_lx"] = "5"
    with sheet.open("w", newline="") as file:
        out = csv.DictWriter(file, list(rows[0]))
        out.writeheader()
        out.writerows(rows)
    done = run("reconcile", hall, sheet, "--json")
    document = json.loads(done.output)
    assert document["fitted"][0]["value"] == pytest.approx(0.9, abs=0.002)
    assert {point["verdict"] for point in document["points"]} == {"agrees"}
    said = run("reconcile", hall, sheet)
    assert "Output: 0.900 of the predicted" in said.output
    assert "verify with a mock-up" in said.output


def test_reconcile_refuses_in_one_line(hall, tmp_path):
    sheet = tmp_path / "r.csv"
    sheet.write_text("point,from_left_m,up_m,measured_lx\n" + "".join(
        f"{k},{800 + k},{k},100\n" for k in range(1, 6)
    ))  # fmt: skip
    for words, says in (
        ([sheet], "do not lie on main"),
        ([sheet, "--fit", "dim"], "right is setback, tilt"),
        ([sheet, "--meter", "300%"], "at most 50%"),
        ([tmp_path / "none.csv"], "no such file"),
    ):
        done = run("reconcile", hall, *words)
        assert done.exit_code == 2, done.output
        assert says in done.output
        assert len(done.output.strip().splitlines()) == 1
