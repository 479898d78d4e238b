"""`still` and `compare` from end to end: files, faults, the same bytes every time."""

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv
from click.testing import CliRunner
from PIL import Image

from rakelight.cli import main

SMALL = [
    "--set", "quality.mesh_step=20 mm", "--set", "quality.plane_step=200 mm",
    "--set", "picture.width=192", "--set", "picture.height=108",
]  # fmt: skip
DIRECT = ["--set", "quality.bounce=false"]
BOUNCED = ["--set", "quality.bounce=true"]


def invoke(*arguments):
    return CliRunner().invoke(main, [str(a) for a in arguments], catch_exceptions=False)


def hashes(folder):
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(folder).iterdir())
    }


@pytest.fixture(scope="module")
def hall(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hall")
    done = invoke(
        "still", "ticket-hall-graze", "--out", folder, "--mesh", "--exr", *SMALL, *BOUNCED
    )
    assert done.exit_code == 0, done.output
    return folder, done


def test_still_writes_all_its_files_named_after_the_scene(hall):
    folder, done = hall
    names = {path.name for path in folder.iterdir()}
    stem = "ticket-hall-graze"
    assert {f"{stem}.front.png", f"{stem}.seat.png", f"{stem}.seat.illuminance.png"} <= names
    assert {f"{stem}.grid.csv", f"{stem}.runs.csv", f"{stem}.by-height.csv"} <= names
    assert {f"{stem}.json", f"{stem}.txt", f"{stem}.vtp", f"{stem}.seat.exr"} <= names
    numbers = json.loads((folder / f"{stem}.json").read_text())
    values = {n["key"]: n["value"] for n in numbers["numbers"]}
    assert values["main.flat.average_lx"] > 100
    assert "average" in done.output
    assert "8.0 lx" in (folder / f"{stem}.txt").read_text()  # the other light is named
    with Image.open(folder / f"{stem}.seat.png") as picture:
        assert picture.size == (192, 108)


def test_where_the_reflected_light_went_is_told(hall, tmp_path):
    folder, _ = hall
    stem = "ticket-hall-graze"
    light = json.loads((folder / f"{stem}.json").read_text())["reflected_light"]
    kept = light["absorbed_lm"] + light["lost_lm"]
    assert light["error"] == pytest.approx(kept / light["arrived_lm"] - 1)
    assert abs(light["error"]) < 0.005
    assert light["residual"] < 1e-4
    assert light["reflections"] > 2
    # no more than the luminaires give, as dimmed, and the housing takes some
    assert 0.8 < light["arrived_lm"] / (9600 * 0.64) < 1
    told = (folder / f"{stem}.txt").read_text()
    assert f"of {light['arrived_lm']:.0f} lm that fall on surfaces" in told
    done = invoke("still", stem, "--camera", "seat", "--out", tmp_path, *SMALL)
    assert done.exit_code == 0, done.output
    assert json.loads((tmp_path / f"{stem}.json").read_text())["reflected_light"] is None
    assert "fall on surfaces" not in (tmp_path / f"{stem}.txt").read_text()


def test_the_saved_mesh_and_runs_give_the_light_back(hall):
    # anyone must be able to recompute the light from what was saved: floor points, direct light
    folder, _ = hall
    mesh = pv.read(folder / "ticket-hall-graze.vtp")
    names = list(mesh.field_data["surface_names"])
    floor = mesh.extract_cells(np.flatnonzero(mesh.cell_data["surface"] == names.index("floor")))
    point = np.argmin(np.linalg.norm(floor.points - [2.4, 1.5, 0.0], axis=1))
    place, normal = floor.points[point].astype(float), floor["normals"][point].astype(float)
    run = json.loads((folder / "ticket-hall-graze.json").read_text())["runs"][0]
    file = run["candela_per_m"]
    c, gamma, table = (np.array(file[k]) for k in ("c_deg", "gamma_deg", "by_c_then_gamma"))
    nadir, c0, axis = (np.array(run[k]) for k in ("nadir", "c0", "axis"))
    total = 0.0
    for start, end in run["lit_m"]:
        cuts = np.linspace(start, end, 4001)
        for x in (cuts[1:] + cuts[:-1]) / 2:
            ray = place - (np.array(run["origin_m"]) + x * axis)
            distance = np.linalg.norm(ray)
            ray /= distance
            at_gamma = np.degrees(np.arccos(np.clip(ray @ nadir, -1, 1)))
            at_c = np.degrees(np.arctan2(ray @ np.cross(-nadir, c0), ray @ c0)) % 360
            i = min(np.searchsorted(c, at_c, "right") - 1, c.size - 2)
            f = (at_c - c[i]) / (c[i + 1] - c[i])
            candela = (1 - f) * np.interp(at_gamma, gamma, table[i])
            candela += f * np.interp(at_gamma, gamma, table[i + 1])
            total += candela * max(0.0, -ray @ normal) / distance**2 * (cuts[1] - cuts[0])
    total *= run["dim"] * run["maintenance"]
    assert floor["direct_lx"][point] == pytest.approx(total, rel=0.01)


COARSE = ["--set", "quality.mesh_step=40 mm", *SMALL[2:], *DIRECT]


def test_compare_makes_one_plate_at_one_exposure(tmp_path):
    scenes = ("ticket-hall-graze", "ticket-hall-wash")
    done = invoke("compare", *scenes, "--out", tmp_path, *COARSE)
    assert done.exit_code == 0, done.output
    stem = ".".join(scenes)
    assert (tmp_path / f"{stem}.png").is_file()
    assert "installed lumens" in done.output
    assert "From the camera" in done.output
    records = [json.loads((tmp_path / f"{stem}.{name}.json").read_text()) for name in scenes]
    assert records[0]["ev100"] == records[1]["ev100"]


def test_equal_lumens_dims_to_the_one_that_gives_least(tmp_path):
    done = invoke(
        "compare", "ticket-hall-graze", "ticket-hall-wash", "--equal-lumens", "--json",
        "--out", tmp_path, *COARSE,
    )  # fmt: skip
    scenes = json.loads(done.output)["scenes"]
    given = [scene["numbers"]["main.lumens_given"]["value"] for scene in scenes]
    assert given[0] == pytest.approx(given[1], rel=1e-9)
    assert given[0] > 0


@pytest.mark.parametrize("threads", ["1", "2"])
def test_the_same_bytes_with_any_threads_and_from_any_folder(threads, hall, tmp_path):
    folder, _ = hall
    command = [sys.executable, "-m", "rakelight", "still", "ticket-hall-graze", "--mesh", "--exr"]
    subprocess.run(
        [*command, *SMALL, *BOUNCED],
        cwd=tmp_path,
        env={**os.environ, "NUMBA_NUM_THREADS": threads, "LP_NUM_THREADS": threads},
        check=True,
        capture_output=True,
    )
    assert hashes(tmp_path) == hashes(folder)


BASE = '[room]\nwidth = 3\n[[relief]]\ntexture = "split-ledgestone"\n[[run]]\nphotometry = "{}"\n'


@pytest.mark.parametrize(
    ("scene", "says"),
    [
        ('extends = "gone.toml"\n', "gone.toml"),
        ('extends = "scene.toml"\n', "scene.toml"),
        ("[room]\nwidht = 3\n", 'Did you mean "width"'),
        ("[room]\nwidth = -3\n", "width"),
        (BASE.format("graze-narrow") + 'setback = "1 cm"\n', "relief"),
        (BASE.format("graze-narrow") + 'setback = "30 m"\n', "setback"),
        (BASE.format("none.ies") + 'setback = "10 cm"\n', "none.ies"),
        (BASE.format("cut.ies") + 'setback = "10 cm"\n', "cut.ies"),
        (BASE.format("point.ies") + 'setback = "10 cm"\n', "lit_length"),
        ('[[relief]]\ntexture = "colour.png"\nwidth = 1\nheight = 1\n', "depth"),
        ('[[relief]]\ntexture = "broken.png"\nwidth = 1\nheight = 1\ndepth = 0.02\n', "broken.png"),
        (BASE.format("graze-narrow") + "setback = 0.1\n[quality]\nmesh_step = 1e-6\n", "step"),
    ],
)
def test_bad_input_is_one_line_exit_2_and_no_file(scene, says, tmp_path):
    (tmp_path / "scene.toml").write_text(scene)
    (tmp_path / "cut.ies").write_text("IESNA:LM-63-2002\nTILT=NONE\n1 -1 1 3 1 1 2 1 0.1 0\n1 1")
    (tmp_path / "point.ies").write_text(
        "IESNA:LM-63-2002\nTILT=NONE\n1 -1 1 3 1 1 2 0 0 0\n1 1 9\n0 45 90\n0\n900 500 0\n"
    )
    Image.new("RGB", (64, 64), (90, 80, 70)).save(tmp_path / "colour.png")
    (tmp_path / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\nnot one")
    out = tmp_path / "out"
    done = invoke("still", tmp_path / "scene.toml", "--out", out)
    assert done.exit_code == 2, done.output
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not out.exists() or not list(out.iterdir())


def test_an_output_folder_that_is_a_file_is_refused(tmp_path):
    (tmp_path / "taken").write_text("")
    done = invoke("still", "ticket-hall-graze", "--out", tmp_path / "taken", *SMALL)
    assert done.exit_code == 2
    assert "--out" in done.stderr


def test_the_smallest_scene_and_the_starter_render(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    small = '[[relief]]\ntexture = "split-ledgestone"\n[[run]]\nphotometry = "graze-wide"\n'
    coarse = ["--set", "quality.mesh_step=40 mm", "--set", "quality.plane_step=400 mm", *SMALL[4:]]
    Path("least.toml").write_text(small + 'setback = "6 in"\n')
    assert invoke("still", "least.toml", *coarse).exit_code == 0
    assert invoke("new").exit_code == 0
    assert invoke("still", "scene.toml", *coarse).exit_code == 0
    assert invoke("new").exit_code == 2  # never over what is there


def test_a_cache_that_cannot_be_written_is_said_in_one_line(tmp_path):
    # two small kernels find no place, so that not all of them are compiled here
    code = (
        "import rakelight.light.kernels.compile as c, numba\n"
        "njit = numba.njit\n"
        "def cached(**k):\n"
        "    def place(f):\n"
        "        if f.__name__ in ('split', 'resolve'):\n"
        "            raise RuntimeError('cannot cache: no locator available')\n"
        "        return njit(**k)(f)\n"
        "    return place\n"
        "c.numba.njit = lambda *a, **k: cached(**k) if k.get('cache') else njit(*a, **k)\n"
        "from rakelight.cli import main\n"
        "try:\n"
        "    main()\n"
        "finally:\n"
        "    assert sorted(c.CACHE_MISSING) == ['resolve', 'split'], c.CACHE_MISSING\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "still", "ticket-hall-graze", "--out", str(tmp_path),
         "--set", "quality.mesh_step=60 mm", *SMALL[2:], *DIRECT],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("NUMBA_CACHE_DIR") == 1
    assert (tmp_path / "ticket-hall-graze.seat.png").is_file()


def test_every_command_has_help_and_a_place_in_the_readme():
    readme = (Path(__file__).parents[2] / "README.md").read_text()
    for name, command in main.commands.items():
        assert command.help, name
        assert f"rakelight {name}" in readme, name
