from pathlib import Path

import numpy as np
import pytest

from rakelight.measure.photometry import beam_width_rad, curve_in_plane
from rakelight.read.photometry import read_photometry
from rakelight.samples.optics import OPTICS, write_all
from rakelight.scene.intensity import peak, throw_azimuth

SHIPPED = Path(__file__).parents[2] / "shared" / "photometry"
WALL_M = 2.7


def shipped(name):
    return read_photometry(SHIPPED / f"{name}.ies")


def wall_profile(name, setback_m):
    """Height and E up a wall beside a long run at the ceiling, point by point along the run."""
    i = shipped(name)
    z = np.linspace(0.3, WALL_M - 0.3, 85)
    u = np.sinh(np.linspace(-6, 6, 4001)) * 0.05
    down = WALL_M - z[:, None]
    r = np.sqrt(u**2 + setback_m**2 + down**2)
    toward_wall = np.stack([u / r, setback_m / r, -down / r], axis=-1)
    integrand = i.candela_toward(toward_wall) / i.long_side_m * setback_m / r**3
    return z, np.trapezoid(integrand, u, axis=1)


def test_shipped_files_are_what_the_formulas_say(tmp_path):
    written = write_all(tmp_path)
    assert sorted(p.name for p in written) == sorted(p.name for p in SHIPPED.glob("*.ies"))
    for path in written:
        assert path.read_bytes() == (SHIPPED / path.name).read_bytes(), path.name


@pytest.mark.parametrize("optic", OPTICS, ids=[o.name for o in OPTICS])
def test_optic_is_plausible(optic):
    i = shipped(optic.name)
    assert i.notes == ()
    assert i.absolute
    assert i.lumens == pytest.approx(optic.lumens, rel=1e-3)
    assert 90 <= i.lumens / i.watts <= 130
    assert 0.020 <= i.short_side_m <= 0.040
    assert ("MANUFAC", "none, invented") in i.keywords
    if optic.name != "spot-single":
        assert i.long_side_c_rad == 0
        assert i.long_side_m == 1.2
        assert 1500 <= i.lumens / 1.2 <= 3500
    if optic.name not in ("spot-single", "wash-aimable"):
        assert np.rad2deg(throw_azimuth(i)) == pytest.approx(90)


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [("graze-narrow", 10, 12), ("graze-medium", 16, 20), ("graze-wide", 25, 30)],
)
def test_graze_is_narrow_and_aims_a_few_degrees_to_the_wall(name, least, most):
    i = shipped(name)
    assert least <= np.rad2deg(beam_width_rad(curve_in_plane(i, np.pi / 2))) <= most
    top = peak(i)
    assert np.rad2deg(top.c_rad) == pytest.approx(90)
    assert 2 <= np.rad2deg(top.gamma_rad) <= 8


@pytest.mark.parametrize("setback_m", [0.75, 0.8, 0.9])
def test_even_wash_is_even(setback_m):
    # common practice, no source: max:min about 2.2 over the wall less 0.3 m at top and foot,
    # peak about 15 deg off nadir, toward the wall's base
    _, lx = wall_profile("wash-flat", setback_m)
    assert 1.9 <= lx.max() / lx.min() <= 2.6
    top = peak(shipped("wash-flat"))
    assert np.rad2deg(top.gamma_rad) == pytest.approx(15, abs=2.5)


@pytest.mark.parametrize("setback_m", [0.75, 0.8, 0.9])
def test_focal_glow_has_its_band_at_mid_height(setback_m):
    # common practice, no source: ratio 2.3 to 3.4, brightest at 0.5 to 0.7 of the height
    z, lx = wall_profile("wash-glow", setback_m)
    assert 2.3 <= lx.max() / lx.min() <= 3.4
    assert 0.5 <= z[lx.argmax()] / WALL_M <= 0.7


def test_even_wash_is_evener_than_the_glow():
    ratios = [(lx.max() / lx.min()) for lx in (wall_profile(n, 0.8)[1] for n in
              ("wash-flat", "wash-glow"))]  # fmt: skip
    assert ratios[0] < ratios[1]


def test_wall_profile_follows_the_curve_across():
    # E = pi I'(phi) sin^2 phi / (2 s) for a cosine along the run, re-derived; the files' grids
    # of 1 and 2.5 deg cost a little
    for name, setback_m in (("graze-wide", 0.3), ("wash-flat", 0.8)):
        z, lx = wall_profile(name, setback_m)
        i = shipped(name)
        phi = np.arctan2(setback_m, WALL_M - z)
        across = np.stack([0 * phi, np.sin(phi), -np.cos(phi)], axis=-1)
        formula = np.pi * i.candela_toward(across) / 1.2 * np.sin(phi) ** 2 / (2 * setback_m)
        assert lx == pytest.approx(formula, rel=0.03)


def test_cove_for_throw_lights_a_ceiling_more_evenly_than_the_glow():
    # peak 15 deg against 25 deg above horizontal, 0.3 m below the ceiling, 2 to 12 ft out
    ratios = {}
    for name, above in (("cove-throw", 15), ("cove-glow", 25)):
        i = shipped(name)
        top = peak(i)
        assert np.rad2deg(top.gamma_rad) == pytest.approx(90 + above, abs=1)
        out = np.linspace(0.61, 3.66, 60)
        up = np.arctan2(0.3, out)
        across = np.stack([0 * up, np.cos(up), np.sin(up)], axis=-1)
        lx = i.candela_toward(across) * np.sin(up) ** 2
        ratios[name] = lx.max() / lx.min()
    assert ratios["cove-throw"] < ratios["cove-glow"]


def test_up_light_only():
    i = shipped("perimeter-indirect")
    down = np.array([[0, 0, -1.0], [0, np.sin(1.5), -np.cos(1.5)]])
    assert (i.candela_toward(down) == 0).all()
