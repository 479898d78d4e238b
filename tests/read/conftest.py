"""Scene files written for a test."""

import pytest


@pytest.fixture
def write(tmp_path):
    """Write a text into a folder of the test's own."""

    def _write(text, name="hall.toml"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    return _write
