import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rakelight.read.planes import open_out, open_out_native
from rakelight.scene.angle_grid import HARD_EDGE_RAD, NativeGrid
from rakelight.scene.intensity import Intensity, flux_vector, peak, throw_azimuth, toward

NAN = float("nan")


def opened(c_deg, gamma_deg, candela, symmetry):
    sphere = open_out(np.array(c_deg, float), np.array(gamma_deg, float), candela, symmetry)
    return Intensity(sphere.c_rad, sphere.gamma_rad, sphere.candela, NAN, 1.2, 0.03, 0, "x")


def rotational(curve, step_deg, last_deg=90):
    gamma = np.arange(0, last_deg + step_deg / 2, step_deg)
    return opened([0], gamma, np.asarray(curve(np.deg2rad(gamma)), float)[None], "rotational")


def cd(intensity, c_deg, gamma_deg):
    return float(intensity.candela_toward(toward(np.deg2rad(c_deg), np.deg2rad(gamma_deg))))


def flat_grid(kind):
    quarter = np.deg2rad([-90.0, 0, 90])
    return NativeGrid(kind, quarter, quarter, np.ones((3, 3)))


@pytest.mark.parametrize(
    ("kind", "h", "v", "vector", "c", "gamma"),
    [
        # re-derived from the frames of ANSI/IESNA LM-63-2002
        ("B", 30, 40, (0.556670, -0.500000, -0.663414), 318.0699, 48.4392),
        ("B", -60, -20, (-0.171010, 0.866025, -0.469846), 101.1702, 61.9757),
        ("B", 0, 90, (1.0, 0.0, 0.0), 0.0, 90.0),
        ("A", 30, -50, (0.556670, -0.321394, -0.766044), 330.0, 40.0),
        ("A", 0, 0, (1.0, 0.0, 0.0), 0.0, 90.0),
    ],
)
def test_directions_of_types_a_and_b(kind, h, v, vector, c, gamma):
    found = flat_grid(kind).toward(np.deg2rad(h), np.deg2rad(v))
    assert found == pytest.approx(vector, abs=1e-6)
    assert toward(np.deg2rad(c), np.deg2rad(gamma)) == pytest.approx(vector, abs=2e-6)


@pytest.mark.parametrize("kind", ["A", "B"])
@given(h=st.floats(-89, 89), v=st.floats(-89, 89))
@settings(max_examples=40, deadline=None)
def test_native_grid_is_linear_in_its_own_angles(kind, h, v):
    nodes = np.array([-90.0, -30, 15, 90])
    table = 200 + np.add.outer(nodes, 0.5 * nodes)  # linear in H and V: met everywhere
    grid = NativeGrid(kind, np.deg2rad(nodes), np.deg2rad(nodes), table)
    direction = grid.toward(np.deg2rad(h), np.deg2rad(v))
    assert float(grid.candela_toward(direction)) == pytest.approx(200 + h + 0.5 * v, rel=1e-9)
    assert float(grid.candela_toward(-direction)) == 0  # the half that was not measured


@pytest.mark.parametrize("kind", ["A", "B"])
def test_flux_of_half_a_sphere_of_100_cd(kind):
    grid = NativeGrid(kind, *[np.deg2rad([-90.0, -20, 90])] * 2, np.full((3, 3), 100.0))
    assert grid.lumens == pytest.approx(200 * np.pi, rel=1e-12)


def test_half_that_type_b_leaves_out_is_its_mirror_image():
    angles = np.array([0.0, 45, 90])
    table = np.array([[8.0, 4, 2], [6, 3, 1], [5, 5, 5]])
    grid, notes = open_out_native("B", angles, angles, table)
    left, right = (grid.candela_toward(grid.toward(0.3, v)) for v in (-0.5, 0.5))
    assert left == pytest.approx(right, rel=1e-12)
    assert len(notes) == 1


@pytest.mark.parametrize(
    ("power", "step", "lumens"),
    # intensities of 1000 cos^n cd, linear between the samples: re-derived by quadrature
    [(1, 10, 3133.59), (1, 5, 3139.6), (1, 2.5, 3141.09), (4, 10, 1269.29), (4, 5, 1259.82),
     (4, 2.5, 1257.43), (10, 10, 585.432), (10, 5, 574.807), (10, 2.5, 572.104)],
)  # fmt: skip
def test_flux_of_sampled_cosine_powers(power, step, lumens):
    i = rotational(lambda g: 1000 * np.maximum(np.cos(g), 0) ** power, step)
    assert i.lumens == pytest.approx(lumens, rel=5e-6)  # six digits


@pytest.mark.parametrize(("power", "lumens"), [(1, 3153.59), (4, 1263.1), (10, 578.667)])
def test_flux_against_the_zonal_constant_form(power, lumens):
    # I_mid 2 pi (cos a - cos b), IES Lighting Handbook (from memory), every 10 deg; the two
    # differ by what a chord misses of the curve
    edges = np.deg2rad(np.arange(0, 91, 10))
    middle = np.cos((edges[:-1] + edges[1:]) / 2) ** power
    zonal = float(np.sum(1000 * middle * 2 * np.pi * -np.diff(np.cos(edges))))
    assert zonal == pytest.approx(lumens, rel=1e-5)
    i = rotational(lambda g: 1000 * np.maximum(np.cos(g), 0) ** power, 10)
    assert i.lumens == pytest.approx(zonal, rel=0.015)


def test_flux_that_is_known():
    assert rotational(lambda g: 100 + 0 * g, 30, 180).lumens == pytest.approx(1256.637, rel=1e-6)
    assert rotational(lambda g: 1000 * np.cos(g), 0.1).lumens == pytest.approx(
        np.pi * 1000, rel=1e-6
    )


def test_edge_at_the_end_of_the_file_is_hard():
    i = rotational(lambda g: 100 + 0 * g, 45)
    assert i.lumens == pytest.approx(200 * np.pi, rel=1e-6)
    assert cd(i, 10, 90) == pytest.approx(100)
    assert cd(i, 10, 90 + np.rad2deg(2 * HARD_EDGE_RAD)) == 0
    assert cd(i, 10, 135) == 0


VALUES = st.floats(0, 1e4).map(lambda v: round(v, 3))


@st.composite
def halves(draw):
    """Planes 0..180 or 90..270 with one value at each pole."""
    symmetry = draw(st.sampled_from(["C0-C180", "C90-C270", "quadrants", "none"]))
    first, last = {"C0-C180": (0, 180), "C90-C270": (90, 270), "quadrants": (0, 90),
                   "none": (0, 360)}[symmetry]  # fmt: skip
    inner = draw(st.lists(st.integers(first + 1, last - 1), max_size=4, unique=True))
    c = [first, *sorted(inner), last]
    inner = draw(st.lists(st.integers(1, 179), max_size=4, unique=True))
    gamma = [0, *sorted(inner), 180]
    table = np.array([[draw(VALUES) for _ in gamma] for _ in c])
    table[:, 0], table[:, -1] = table[0, 0], table[0, -1]
    if symmetry == "none":
        table[-1] = table[0]
    return c, gamma, table, symmetry


@given(file=halves(), k=st.integers(0, 5), j=st.integers(0, 5))
@settings(max_examples=80, deadline=None)
def test_node_values_are_exact_and_mid_values_the_mean_of_their_neighbours(file, k, j):
    c, gamma, table, _ = file
    k, j = min(k, len(c) - 2), min(j, len(gamma) - 2)
    i = opened(*file)
    a, b = table[k, j], table[k, j + 1]
    assert cd(i, c[k], gamma[j]) == pytest.approx(a, rel=1e-9, abs=1e-8)
    assert cd(i, c[k], (gamma[j] + gamma[j + 1]) / 2) == pytest.approx(
        (a + b) / 2, rel=1e-9, abs=1e-8
    )
    if gamma[j] not in (0, 180):
        middle = cd(i, (c[k] + c[k + 1]) / 2, gamma[j])
        assert middle == pytest.approx((a + table[k + 1, j]) / 2, rel=1e-9, abs=1e-8)


@given(file=halves(), gamma=st.floats(0, 180))
@settings(max_examples=80, deadline=None)
def test_no_jump_at_the_seam_or_at_a_mirror_plane(file, gamma):
    i = opened(*file)
    for c in (0, 90, 180, 270):
        before, after = cd(i, c - 1e-9, gamma), cd(i, c + 1e-9, gamma)
        assert before == pytest.approx(after, rel=1e-6, abs=1e-4)


@given(file=halves(), c=st.floats(0, 360), gamma=st.floats(0, 180))
@settings(max_examples=80, deadline=None)
def test_mirror_images_are_alike(file, c, gamma):
    i, symmetry = opened(*file), file[3]
    here = cd(i, c, gamma)
    if symmetry in ("C0-C180", "quadrants"):
        assert cd(i, -c, gamma) == pytest.approx(here, rel=1e-6, abs=1e-5)
    if symmetry in ("C90-C270", "quadrants"):
        assert cd(i, 180 - c, gamma) == pytest.approx(here, rel=1e-6, abs=1e-5)


@given(file=halves(), gamma=st.sampled_from([0, 180]), c=st.floats(0, 360))
@settings(max_examples=30, deadline=None)
def test_poles_have_one_value(file, gamma, c):
    i = opened(*file)
    assert cd(i, c, gamma) == pytest.approx(cd(i, 0, gamma), rel=1e-9, abs=1e-9)


def test_peak_of_a_rounded_file_is_in_the_middle_of_its_equals():
    gamma = [0.0, 4, 90]
    table = np.array([[1.0, 9, 0], [1, 9, 0], [1, 9, 0], [1, 2, 0], [1, 0, 0]])
    # 90, 93, 96: with their mirror images the equals are centred on C90
    i = opened([90, 93, 96, 180, 270], gamma, table, "C90-C270")
    top = peak(i)
    assert np.rad2deg([top.c_rad, top.gamma_rad]) == pytest.approx([90, 4])


def test_throw_follows_the_light_and_not_the_peak():
    table = np.array([[5.0, 9, 1], [5, 4, 1], [5, 3, 1]])
    i = opened([90, 180, 270], [0, 45, 90], table, "C90-C270")
    assert np.rad2deg(throw_azimuth(i)) == pytest.approx(90, abs=1e-5)
    turned = opened([0, 90, 180], [0, 45, 90], table, "C0-C180")
    assert np.rad2deg(throw_azimuth(turned)) == pytest.approx(0, abs=1e-5)


def test_no_throw_where_the_light_leans_to_no_side():
    assert np.isnan(throw_azimuth(rotational(np.cos, 5)))


def test_flux_vector_of_a_cosine_points_to_nadir():
    # integral of I0 cos^2 over half a sphere: 2 pi I0 / 3, re-derived
    vector = flux_vector(rotational(lambda g: 1000 * np.cos(g), 0.5))
    assert vector == pytest.approx([0, 0, -2000 * np.pi / 3], rel=1e-4, abs=1e-9)


def test_flux_vector_of_types_b_and_c_agree():
    nodes = np.deg2rad(np.arange(-90.0, 91, 2.5))
    h, v = np.meshgrid(nodes, nodes, indexing="ij")
    grid = NativeGrid("B", nodes, nodes, 100 * np.cos(h) * (1 + np.sin(v)))
    gamma, c = np.deg2rad(np.arange(0, 90.1, 2.5)), np.deg2rad(np.arange(0, 361, 2.5))
    directions = toward(c[:, None], gamma[None, :])
    as_c = opened(np.rad2deg(c), np.rad2deg(gamma), grid.candela_toward(directions), "none")
    as_b = Intensity(as_c.c_rad, as_c.gamma_rad, as_c.candela, NAN, 1, 0.1, 0, "x", native=grid)
    assert flux_vector(as_b) == pytest.approx(flux_vector(as_c), rel=0.01, abs=0.5)
    assert as_b.lumens == pytest.approx(as_c.lumens, rel=2e-3)
