"""The command line as a process: exit codes, and every line written before it ends."""

import json
import subprocess
import sys

import pytest

from reference.traced_scenes import SCENES


def rakelight(*args, **options):
    command = [sys.executable, "-m", "rakelight", *map(str, args)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, **options)


def test_everything_is_written_before_the_process_ends():
    done = rakelight("check", SCENES / "sample-graze.toml", "--json")
    assert done.returncode == 0, done.stderr
    json.loads(done.stdout)  # whole


def test_bad_input_ends_with_2_and_a_line(tmp_path):
    scene = tmp_path / "bad.toml"
    scene.write_text("[wall]\nwidth = 'wide'\n")
    done = rakelight("check", scene)
    assert done.returncode == 2
    assert "bad.toml" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("args", "code"), [(("--version",), 0), (("no-such-command",), 2)])
def test_exit_codes_of_the_command_line_itself(args, code):
    assert rakelight(*args).returncode == code


def test_a_reader_that_went_away_is_no_traceback():
    command = [sys.executable, "-m", "rakelight", "still", "--help"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.close()
        errors = process.stderr.read()
    assert process.returncode != 0
    assert b"Traceback" not in errors
