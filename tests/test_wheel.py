"""The built wheel works alone: scenes, reliefs and photometric files are in it."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_wheel_renders_its_own_scene_without_the_repository(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation",
         "-w", str(tmp_path), str(ROOT)],
        check=True, capture_output=True,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    alone = tmp_path / "alone"
    with zipfile.ZipFile(wheel) as files:
        files.extractall(alone)
    empty = tmp_path / "empty"
    empty.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(alone)}
    where = subprocess.run(
        [sys.executable, "-c", "import rakelight; print(rakelight.__file__)"],
        cwd=empty, env=environment, check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert where.stdout.startswith(str(alone))
    small = ["--set", "quality.mesh_step=30 mm", "--set", "quality.plane_step=300 mm",
             "--set", "picture.width=96", "--set", "picture.height=54",
             "--set", "quality.bounce=false"]  # fmt: skip
    for command in (
        ["still", "ticket-hall-wash", *small],
        ["new"],
        ["still", "scene.toml", *small],
    ):
        done = subprocess.run(
            [sys.executable, "-m", "rakelight", *command],
            cwd=empty, env=environment, check=False, capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    assert (empty / "ticket-hall-wash.seat.png").is_file()
