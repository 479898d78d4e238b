"""Scenes built from text."""

import pytest

from rakelight.build.scene import build_scene
from rakelight.scene.quality import Quality


@pytest.fixture
def built(tmp_path):
    """Build a coarse scene from TOML."""

    def _built(text, *overrides):
        path = tmp_path / "hall.toml"
        path.write_text(text)
        return build_scene(path, overrides, quality=Quality(mesh_step_m=0.05, plane_step_m=0.5))

    return _built
