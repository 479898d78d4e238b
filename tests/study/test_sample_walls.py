"""Reliefs side by side: one wall, one exposure, cut to what every picture shows of the wall."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rakelight.picture.shade import Picture
from rakelight.read.shipped import shipped_folder
from rakelight.read.toml import lay_values, read_scene
from rakelight.study.sample_walls import developed, sample_walls

COARSE = {"quality.mesh_step": "20 mm", "quality.azimuths": 6, "quality.steps": 8}


@pytest.fixture(scope="module")
def walls():
    folder = shipped_folder("scenes")
    scenes = [
        lay_values(read_scene(Path(folder) / f"{name}.toml"), COARSE)
        for name in ("sample-graze", "sample-wash")
    ]
    said = []
    found = list(
        sample_walls(
            scenes, ("wave-panel", "running-brick", "terracotta-baguettes"), 120, said.append
        )
    )
    return found, said


def test_every_relief_is_seen_in_every_light_at_one_size(walls):
    found, said = walls
    assert [wall.texture.name for wall in found] == [
        "wave-panel",
        "running-brick",
        "terracotta-baguettes",
    ]
    for wall in found:  # however rough its relief, whose borders fray
        (shape,) = {p.rgb_cd_m2.shape for p in wall.pictures}
        assert shape[1] == pytest.approx(120, abs=14)
        assert 0.6 < shape[0] / shape[1] < 0.75  # 2.7 over 3.6 m, less what the housing hides
    assert said


def test_graze_and_wash_give_the_wall_the_same_average(walls):
    for wall in walls[0]:
        graze, wash = wall.average_lx
        assert graze == pytest.approx(wash, rel=0.05)


def test_nothing_but_the_wall_is_left_in_the_pictures(walls):
    # every pixel reflects between the darkest and the brightest that light and finish allow
    brick = walls[0][1]
    for picture in brick.pictures:
        assert (picture.ids == 0).all()
        # a brick wall is warmer than any housing: red over blue in every row
        by_row = picture.rgb_cd_m2.mean(axis=1)
        assert (by_row[:, 0] > 1.5 * by_row[:, 2]).all()


def test_one_exposure_serves_all_of_them(walls):
    ev100, codes = developed(walls[0])
    assert [len(ones) for ones in codes] == [2, 2, 2]
    # white panel and dark brick under one light keep their order
    assert codes[0][1].mean() > codes[1][1].mean() + 20
    # twice the light everywhere: one stop more
    brighter = [
        replace(wall, pictures=tuple(doubled(p) for p in wall.pictures)) for wall in walls[0]
    ]
    assert developed(brighter)[0] == pytest.approx(ev100 + 1, abs=1e-3)


def doubled(picture: Picture) -> Picture:
    return replace(picture, rgb_cd_m2=picture.rgb_cd_m2 * np.float32(2))
