"""White points beside those of a colour library, and what a colour temperature may be."""

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.picture.white import TO_XYZ, adaptation
from rakelight.scene.white import white_rgb, white_uv
from reference.colour_library import colour_library

LIMIT = 0.003  # u'v'


def library_uv(cct_k):
    """Planckian up to 4000 K, daylight from 5000 K, straight between (colour-science)."""
    colour = colour_library()

    def planck(t):
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        spectrum = colour.sd_blackbody(t, observer.shape)
        xyz = colour.sd_to_XYZ(spectrum, observer, method="Integration")
        return colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))

    def daylight(t):
        return colour.xy_to_Luv_uv(colour.temperature.CCT_to_xy_CIE_D(t))

    if cct_k <= 4000:
        return planck(cct_k)
    if cct_k >= 5000:
        return daylight(cct_k)
    share = (cct_k - 4000) / 1000
    return (1 - share) * np.asarray(planck(cct_k)) + share * np.asarray(daylight(cct_k))


@pytest.mark.parametrize(
    "cct_k", [1800, 2200, 2700, 3000, 3500, 4000, 4250, 4500, 5000, 5700, 6500, 10000]
)
def test_white_points_are_the_librarys(cct_k):
    apart = np.hypot(*(np.asarray(white_uv(cct_k)) - library_uv(cct_k)))
    assert apart < LIMIT


@pytest.mark.parametrize("cct_k", [2700, 3000, 4000, 6500])
def test_the_pictures_primaries_carry_that_chromaticity(cct_k):
    colour = colour_library()

    xyz = colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ @ white_rgb(cct_k)
    uv = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))
    assert np.hypot(*(np.asarray(uv) - library_uv(cct_k))) < LIMIT


@pytest.mark.parametrize("cct_k", [2700, 4000, 6500])
def test_full_adaptation_turns_that_white_to_the_screens(cct_k):
    shown = adaptation(white_rgb(cct_k)) @ white_rgb(cct_k)
    assert shown / shown[1] == pytest.approx([1, 1, 1], abs=2e-3)
    # and another light keeps the side of it that it is on: warmer is redder, cooler bluer
    warmer = adaptation(white_rgb(cct_k)) @ white_rgb(cct_k * 0.8)
    assert warmer[0] > warmer[2]
    assert TO_XYZ.sum(axis=1) == pytest.approx([0.9505, 1.0, 1.0891], abs=1e-3)  # D65


@pytest.mark.parametrize("white", ["900 K", "25000 K", "0 K", "-3000 K", "warm", "nan"])
def test_a_white_outside_the_locus_is_one_line(tmp_path, white):
    path = tmp_path / "room.toml"
    path.write_text(f'title = "T"\n[picture]\nwhite = "{white}"\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        build_scene(path)
    assert len(caught.value.faults) == 1
    assert "white" in caught.value.faults[0]
    assert "\n" not in caught.value.faults[0]
