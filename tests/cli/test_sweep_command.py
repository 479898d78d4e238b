"""`sweep` from end to end: files, resuming, stale steps, faults, the same bytes every time."""

import errno
import hashlib
import json
import os
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from rakelight.cli import main
from rakelight.read.shipped import shipped_folder
from rakelight.study import sweep as sweep_module
from rakelight.tell.sweep_store import StepStore

SMALL = [
    "--set", "quality.mesh_step=30 mm", "--set", "quality.plane_step=400 mm",
    "--set", "quality.bounce=false", "--set", "picture.width=160", "--set", "picture.height=90",
]  # fmt: skip
COARSE = ["--set", "quality.mesh_step=60 mm", *SMALL[2:]]
STEM = "ticket-hall-graze.sweep-setback"
RANGE = ["--setback", "against:6in:2in"]


def invoke(*arguments):
    return CliRunner().invoke(main, ["sweep", *(str(a) for a in arguments)], catch_exceptions=False)


def hashes(folder):
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(folder).iterdir())
        if path.is_file()
    }


def but_the_film(folder):
    return {name: found for name, found in hashes(folder).items() if not name.endswith(".mp4")}


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    done = invoke("ticket-hall-graze", *RANGE, "--out", folder, *SMALL)
    assert done.exit_code == 0, done.output
    return folder, done


def test_a_sweep_writes_strip_film_charts_and_tables(whole):
    folder, done = whole
    names = set(hashes(folder))
    endings = ["csv", "curves.csv", "json", "txt", "strip.png", "mp4"]
    endings += [
        f"{chart}.{kind}" for chart in ("drama", "profile", "values") for kind in ("png", "svg")
    ]
    assert names == {f"{STEM}.{ending}" for ending in endings}
    document = json.loads((folder / f"{STEM}.json").read_text())
    labels = [step["labels"][0] for step in document["steps"]]
    assert labels[0].startswith("against (1 ")
    assert labels[1:] == ["2 in", "4 in", "6 in"]
    assert document["steps"][2]["runs"][0]["setback_m"] == pytest.approx(0.1016)
    assert document["sentence"].startswith(f"As the setback goes from {labels[0]} to 6 in, ")
    assert document["sentence"] in done.output
    rows = (folder / f"{STEM}.csv").read_text().splitlines()
    assert len(rows) == 5
    average = rows[0].split(",").index("main.flat.average_lx [lx]")
    stated = document["steps"][1]["numbers"]["main.flat.average_lx"]["value"]
    assert float(rows[2].split(",")[average]) == pytest.approx(stated, rel=1e-5)
    text = (folder / f"{STEM}.txt").read_text()
    assert "The tilt is kept at 0 deg; nothing is re-aimed." in text
    assert "clear gap to the highest point" in text
    assert "verify with a mock-up" in text


def test_the_film_holds_every_step_and_says_its_value(whole):
    folder, _ = whole
    with av.open(str(folder / f"{STEM}.mp4")) as film:
        stream = film.streams.video[0]
        assert stream.codec_context.name == "h264"
        assert stream.codec_context.pix_fmt == "yuv420p"
        assert stream.width % 2 == 0
        assert stream.height % 2 == 0
        frames = [
            frame.to_ndarray(format="gray")[::2, ::2].astype(np.int16)
            for frame in film.decode(stream)
        ]
    # where one frame differs from the next the step changes: there and back
    jumps = [np.abs(b - a).mean() for a, b in pairwise(frames)]
    assert sum(jump > 1.0 for jump in jumps) == 2 * (4 - 1) - 1
    band = slice(302, 360)
    assert np.abs(frames[0][band] - frames[25][band]).max() > 100  # other words burnt in
    with Image.open(folder / f"{STEM}.strip.png") as strip:
        assert strip.width > 4 * 40


def test_a_killed_sweep_goes_on_and_ends_with_the_same_bytes(whole, tmp_path, monkeypatch):
    folder, _ = whole
    arguments = ["ticket-hall-graze", *RANGE, "--out", tmp_path, "--no-film", *SMALL]
    steps, light_step = [], sweep_module.light_step

    def interrupted(*given, **more):
        if len(steps) == 2:
            raise KeyboardInterrupt
        steps.append(1)
        return light_step(*given, **more)

    monkeypatch.setattr(sweep_module, "light_step", interrupted)
    stopped = CliRunner().invoke(main, ["sweep", *map(str, arguments)])
    assert stopped.exit_code != 0
    assert "2 of 4 steps are finished and kept; run the same command again" in stopped.output
    assert hashes(tmp_path) == {}  # no half outputs

    lit = []
    monkeypatch.setattr(
        sweep_module, "light_step", lambda *g, **m: (lit.append(1), light_step(*g, **m))[1]
    )
    done = invoke(*arguments)
    assert done.exit_code == 0
    assert len(lit) == 2
    assert "2 of 4 steps were finished before and were not lit again." in done.output
    assert hashes(tmp_path) == but_the_film(folder)

    again = invoke(*arguments)
    assert len(lit) == 2
    assert "4 of 4 steps were finished before" in again.output
    assert hashes(tmp_path) == but_the_film(folder)


def test_steps_not_whole_are_lit_again_and_those_of_another_program_removed(whole, tmp_path):
    folder, _ = whole
    steps = tmp_path / "ticket-hall-graze.steps"
    shutil.copytree(folder / "ticket-hall-graze.steps", steps)
    names = sorted(path.name for path in steps.iterdir())
    for name in ("0" * 40, ".part-0"):  # by an older version, one of them half
        shutil.copytree(steps / names[3], steps / name)
        (steps / name / "program").write_text("0.0.1 abc")
    (steps / names[0] / "picture.npz").write_bytes(b"half")
    (steps / names[1] / "step.json").unlink()
    (steps / ".part-0123").mkdir()  # what a killed process leaves
    done = invoke("ticket-hall-graze", *RANGE, "--out", tmp_path, "--no-film", *SMALL)
    assert "2 of 4 steps were finished before" in done.output
    assert "another version of this program made: 1." in done.output
    assert sorted(path.name for path in steps.iterdir()) == names
    assert hashes(tmp_path) == but_the_film(folder)


def test_other_content_of_a_photometric_file_makes_steps_stale(tmp_path):
    own = tmp_path / "own.ies"
    source = next(shipped_folder("shared/photometry").glob("graze-narrow.*"))
    own.write_bytes(source.read_bytes())
    scene = tmp_path / "hall.toml"
    scene.write_text('extends = "ticket-hall-graze"\n[[run]]\ntag = "G1"\nphotometry = "own.ies"\n')
    arguments = [scene, "--setback", "4in,6in", "--out", tmp_path / "out", "--no-pictures", *COARSE]
    first = invoke(*arguments)
    assert first.exit_code == 0, first.output
    assert "2 of 2 steps were finished before" in invoke(*arguments).output
    before = (tmp_path / "out" / "hall.sweep-setback.csv").read_text()
    own.write_bytes(next(shipped_folder("shared/photometry").glob("graze-wide.*")).read_bytes())
    changed = invoke(*arguments)
    assert changed.exit_code == 0, changed.output
    assert "finished before" not in changed.output
    assert (tmp_path / "out" / "hall.sweep-setback.csv").read_text() != before


def test_a_step_that_cannot_be_built_is_named_and_the_rest_goes_on(tmp_path):
    done = invoke(
        "ticket-hall-graze", "--setback", "1in:3in:1in", "--no-pictures", "--out", tmp_path, *COARSE
    )
    assert done.exit_code == 0, done.output
    assert "Left out, 1 in: " in done.output
    assert "relief" in done.output
    document = json.loads((tmp_path / f"{STEM}.json").read_text())
    assert [step["labels"] for step in document["steps"]] == [["2 in"], ["3 in"]]
    assert document["left_out"][0]["labels"] == ["1 in"]


def test_a_full_disk_says_how_to_go_on_and_keeps_what_is_finished(tmp_path, monkeypatch):
    keep, kept = StepStore.keep, []
    opened = Path.open

    def full(self, *given, **more):
        if len(kept) == 2 and self.name == "curves.npz" and "w" in (given[0] if given else ""):
            raise OSError(errno.ENOSPC, "No space left on device")
        return opened(self, *given, **more)

    monkeypatch.setattr(Path, "open", full)
    monkeypatch.setattr(StepStore, "keep", lambda s, k, f: (keep(s, k, f), kept.append(k))[0])
    arguments = ["ticket-hall-graze", "--setback", "2in:5in:1in", "--no-pictures"]
    done = invoke(*arguments, "--out", tmp_path, *COARSE)
    assert done.exit_code == 2
    assert done.output.count("\n") == 1
    assert "the disk is full" in done.output
    assert "run the same command again" in done.output
    steps = tmp_path / "ticket-hall-graze.steps"
    assert sorted(path.name for path in steps.iterdir()) == sorted(kept)
    monkeypatch.undo()
    after = invoke(*arguments, "--out", tmp_path, *COARSE)
    assert "2 of 4 steps were finished before" in after.output


def test_two_ranges_give_maps_and_no_film(tmp_path):
    done = invoke(
        "ticket-hall-graze", "--setback", "1in,4in", "--tilt=0deg:10deg:5deg",
        "--out", tmp_path, *COARSE,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    stem = "ticket-hall-graze.sweep-setback-by-tilt"
    maps = [
        f"{name}.{kind}"
        for name in ("average", "max-min", "drama-centre")
        for kind in ("png", "svg")
    ]
    assert set(hashes(tmp_path)) == {f"{stem}.{e}" for e in ["csv", "json", "txt", *maps]}
    document = json.loads((tmp_path / f"{stem}.json").read_text())
    assert len(document["steps"]) == 3
    assert len(document["left_out"]) == 3


def test_dims_coves_files_and_machines(tmp_path):
    done = invoke(
        "chapel-cove", "--distance-below", "10in,16in", "--out", tmp_path, "--no-film",
        "--set", "quality.plane_step=250 mm", *SMALL[4:], "--json",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    document = json.loads(done.output)
    assert document["runs"] == ["C1", "C2"]
    assert document["surface"] == "ceiling"
    names = set(hashes(tmp_path))
    assert "chapel-cove.sweep-distance-below.strip.png" in names
    assert "chapel-cove.sweep-distance-below.drama.png" not in names
    assert document["files"] == sorted(document["files"], key=document["files"].index)
    assert set(document["files"]) == names
    files = invoke(
        "ticket-hall-graze", "--file", "graze-narrow,wash-flat", "--out", tmp_path,
        "--no-film", "--stills", "--drop-steps", *COARSE,
    )  # fmt: skip
    assert files.exit_code == 0, files.output
    assert (tmp_path / "ticket-hall-graze.sweep-file.002.png").is_file()
    assert not (tmp_path / "ticket-hall-graze.steps").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "say what to sweep"),
        (["--setback", ""], "is empty"),
        (["--setback", "12in:2in:1in"], "reversed"),
        (["--setback", "2deg:9deg:1deg"], "not a length"),
        (["--setback", "2in:9in:0in"], "above 0"),
        (["--setback", "2in:9ft:0.1in"], "240 at most"),
        (["--setback", "against:1in:0.5in"], "least setback that clears"),
        (["--setback", "1mm:10mm:3mm"], "no step can be built"),
        (["--distance-below", "4in:9in:1in"], "use --drop"),
        (["--setback", "2in:9in:1in", "--run", "X"], "no such run"),
        (["--setback", "2in:9in:1in", "--camera", "roof"], "no such camera"),
        (["--tilt=0:9:3", "--re-aim"], "tilt is swept"),
        (["--file", "graze-narrow,nothing-like-it"], ""),
        (["--tilt=0:9:3", "--drop", "50:90:20", "--dim", "0.1:1:0.1"], "one range or two"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(tmp_path, arguments, says):
    pictures = [] if "--camera" in arguments else ["--no-pictures"]
    done = invoke("ticket-hall-graze", *arguments, *pictures, "--out", tmp_path, *COARSE)
    if says == "":  # a file that is not there is a step that cannot be built
        assert done.exit_code == 0
        assert "Left out, nothing-like-it: " in done.output
        return
    assert done.exit_code == 2, done.output
    assert done.output.count("\n") == 1
    assert says in done.output


def test_bytes_do_not_hang_on_threads_or_folder(whole, tmp_path):
    folder, _ = whole
    command = [sys.executable, "-m", "rakelight", "sweep", "ticket-hall-graze", *RANGE]
    # which code the algebra library picks for a processor may be set for the whole machine
    algebra = {name: to for name, to in os.environ.items() if name.startswith("OPENBLAS_CORE")}
    environment = {
        "PATH": "/usr/bin:/bin",
        "NUMBA_NUM_THREADS": "1",
        "PYTHONPATH": ":".join(sys.path),
        **algebra,
    }
    done = subprocess.run(
        [*command, "--out", "here", *SMALL], cwd=tmp_path, env=environment, capture_output=True,
        text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert hashes(tmp_path / "here") == hashes(folder)
