"""`rakelight relief`."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from rakelight.cli.relief import relief
from rakelight.errors import InputError


@pytest.fixture
def ridges(tmp_path):
    u = (np.arange(200) + 0.5) / 200
    grey = np.rint(65535 * (0.5 + 0.5 * np.sin(2 * np.pi * 10 * u)))
    Image.fromarray(np.tile(grey, (100, 1)).astype(np.uint16)).save(tmp_path / "ridges.png")
    return str(tmp_path / "ridges.png")


SIZE = ["--width", "1 m", "--depth", "10 mm"]


def run(*args):
    return CliRunner().invoke(relief, args, catch_exceptions=False)


def test_it_says_what_the_relief_is_like(ridges):
    out = run(ridges, *SIZE)
    assert out.exit_code == 0
    assert "1.00 m x 0.50 m" in out.output
    assert "feature size across the wall         100 mm" in out.output


def test_json_keeps_every_digit(ridges):
    found = json.loads(run(ridges, *SIZE, "--json").output)
    assert found["numbers"]["relief.depth_m"]["value"] == pytest.approx(0.01, rel=0.02)
    assert found["numbers"]["relief.depth_m"]["unit"] == "m"


def test_bare_numbers_are_in_the_unit_asked_for(ridges):
    assert "1.00 m x 0.50 m" in run(ridges, "--width", "1000", "--depth", "10").output
    inches = run(ridges, "--width", "40", "--depth", "1/2 in", "--units", "in").output
    assert "1.016 m x 0.508 m" in inches


def test_the_drawing_is_the_same_twice(ridges, tmp_path):
    for name in ("a.png", "b.png"):
        assert run(ridges, *SIZE, "--draw", str(tmp_path / name)).exit_code == 0
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    with Image.open(tmp_path / "a.png") as image:
        shades = np.asarray(image.convert("L"))
    assert np.unique(shades).size > 50


def test_faults(ridges, tmp_path):
    assert run(ridges, "--width", "wide").exit_code == 2
    assert run(ridges, *SIZE, "--step", "0 mm").exit_code == 2
    assert run(ridges, *SIZE, "--draw", "x.jpg").exit_code == 2
    with pytest.raises(InputError, match="depth"):
        run(ridges, "--width", "1 m")
    with pytest.raises(InputError, match="would fit"):
        run(ridges, "--width", "90 m", "--depth", "1 mm", "--step", "0.05 mm")
