"""Direct light against closed forms: lines, strips, rows with gaps, shadows of ledges."""

import dataclasses

import numpy as np
import pytest

from rakelight.light.direct import direct, point_light
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from reference.grazed_walls import cosine_along, distribution, room, run, wall

FINE = Quality(mesh_step_m=0.01)
H = 2.7
# a section's shadow does not depend on the run's length, and a short run needs no wide wall
SHORT = [(0.02, 0.03)]


def on_wall(line, points_uv, **size):
    """Illuminance on the flat mean plane, by the points' own sum."""
    surface = wall(**size)
    uvn = np.column_stack([points_uv, np.zeros(len(points_uv))])
    return point_light(surface.frame.to_room(uvn), surface.frame.n, line, 64)


# IES Lighting Handbook, line sources (aspect factors; from memory), re-derived: I0' = 1000 cd/m,
# I'(alpha) = I0' cos(alpha); distance below the run 0.1, 0.5, 1, 2, 2.7 m
LINES = [
    (25, 1.2, "mid", (3688.3, 136.39, 24.52, 3.541, 1.4759)),
    (25, 4.8, "end", (1848, 78.307, 19.551, 4.7837, 2.5473)),
    (100, 1.2, "mid", (7813.1, 523.02, 96.868, 14.116, 5.8926)),
    (100, 1.2, "end", (3924.3, 294.02, 67.616, 12.229, 5.4037)),
    (100, 4.8, "mid", (7853.3, 601.82, 151.54, 34.099, 16.751)),
    (100, 4.8, "end", (3926.9, 301.92, 77.475, 19.089, 10.175)),
    (300, 1.2, "mid", (4494.7, 1146.6, 262.46, 41.156, 17.397)),
    (300, 4.8, "mid", (4707.9, 1378.1, 420.07, 100.0, 49.585)),
    (300, 4.8, "end", (2355.9, 692.48, 215.27, 56.107, 30.172)),
    (762, 1.2, "mid", (1481, 955.42, 402.05, 88.706, 40.199)),
    (762, 4.8, "mid", (2001.4, 1412.5, 722.79, 222.79, 116.34)),
    (762, 4.8, "end", (1011.5, 718.49, 375.96, 126.7, 71.524)),
]


@pytest.mark.parametrize(("setback_mm", "length", "place", "lx"), LINES)
def test_points_under_a_run_match_the_handbook(setback_mm, length, place, lx):
    u = length / 2 if place == "mid" else length
    below = np.array([0.1, 0.5, 1, 2, 2.7])
    points = np.column_stack([np.full(5, u), H - below])
    line = run(setback_mm / 1000, [(0, length)], width_m=1e-4, optic=cosine_along())
    assert on_wall(line, points) == pytest.approx(lx, rel=0.002)


@pytest.mark.parametrize(("setback_mm", "length", "place", "lx"), LINES)
def test_a_relief_of_depth_0_matches_the_handbook(setback_mm, length, place, lx):
    surface = wall(step_m=0.01, heights=lambda u, v: 0 * u)
    line = run(setback_mm / 1000, [(0, length)], width_m=1e-4)
    lit = direct(prepare(room(surface, line), FINE)).direct_lx["main"][0]
    column = round((length / 2 if place == "mid" else length) / surface.grid.step_u_m)
    rows = [round((H - d) / surface.grid.step_v_m) for d in (0.1, 0.5, 1, 2, 2.7)]
    assert lit[rows, column] == pytest.approx(lx, rel=0.01)


def test_constant_intensity_along_the_run():
    # spherical elements, s 100 mm, 4.8 m, mid (re-derived: E = I0' s [G(u2) - G(u1)])
    line = run(0.1, width_m=1e-4, optic=distribution(lambda d: 1000.0))
    found = on_wall(line, np.array([[2.4, H - 0.5], [2.4, H - 2.0]]))
    assert found == pytest.approx([752.44, 38.296], rel=0.005)


# Lambert's polygon formula (Lambert 1760): a strip 50 mm off, 1.2 m long, facing down,
# L w = 1000 cd/m; at mid-length, d below: exact lx for 20 mm and 40 mm wide
STRIPS = [(20, 10285, 10992), (50, 11042, 10841), (100, 5560.2, 5427.8), (200, 1760.1, 1743.3),
          (500, 268.95, 268.43), (1000, 48.847, 48.82)]  # fmt: skip
DOWN = distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]), step_deg=0.5)


@pytest.mark.parametrize(("d_mm", "wide_20", "wide_40"), STRIPS)
def test_an_opening_near_the_wall_is_seen_as_wide_as_it_is(d_mm, wide_20, wide_40):
    point = np.array([[0.6, H - d_mm / 1000]])
    for width, lx in ((0.02, wide_20), (0.04, wide_40)):
        line = run(0.05, [(0, 1.2)], width_m=width, optic=DOWN)
        assert on_wall(line, point) == pytest.approx(lx, rel=0.01)
        surface = wall(width_m=1.2, step_m=0.005, heights=lambda u, v: 0 * u)
        lit = direct(prepare(room(surface, line), FINE)).direct_lx["main"][0]
        row = round((H - d_mm / 1000) / surface.grid.step_v_m)
        assert lit[row, surface.grid.columns // 2] == pytest.approx(lx, rel=0.01)


def ripple(setback_mm, rho_mm, lit_mm, gap_mm):
    pitch = (lit_mm + gap_mm) / 1000
    count = 2 * int(20 / pitch) + 1
    start = -(count // 2) * pitch - lit_mm / 2000
    lengths = [(start + i * pitch, start + i * pitch + lit_mm / 1000) for i in range(count)]
    line = run(setback_mm / 1000, lengths, width_m=1e-4)
    below = np.sqrt(rho_mm**2 - setback_mm**2) / 1000
    u = np.linspace(0, pitch, 201)
    lx = on_wall(line, np.column_stack([u, np.full(u.size, H - below)])).astype(float)
    return (lx.max() - lx.min()) / lx[:-1].mean() * 100


# exact Fourier transform of 1/(rho^2 + u^2)^2 (re-derived): peak-to-trough over mean, %
@pytest.mark.parametrize(
    ("lit", "gap", "rho", "percent"),
    [
        (300, 75, 50, 88.3), (300, 75, 100, 48.9), (300, 75, 200, 14.3), (300, 75, 300, 3.7),
        (300, 200, 50, 158), (300, 200, 200, 57.2), (1200, 75, 100, 46.4), (1200, 75, 300, 15.7),
        (1200, 200, 50, 112), (1200, 200, 300, 43.8), (1200, 200, 762, 9.34),
    ],
)  # fmt: skip
def test_ripple_of_a_row_with_gaps(lit, gap, rho, percent):
    assert ripple(45, rho, lit, gap) == pytest.approx(percent, rel=0.015, abs=0.05)


def test_right_below_a_distant_run_equal_azimuths_would_fail():
    # IES Lighting Handbook, line sources (from memory): infinite, s 762, I0' 1000
    surface = wall(width_m=60, height_m=H, step_m=0.02, heights=lambda u, v: 0 * u)
    line = run(0.762, [(0, 60)], width_m=1e-4)
    lit = direct(prepare(room(surface, line), Quality(azimuths=48))).direct_lx["main"][0]
    below = H - surface.grid.v_m()
    middle = lit[:, surface.grid.columns // 2]
    expected = np.pi * 1000 * 0.762 / (2 * (0.762**2 + below**2))
    near = (below > 0.015) & (below < 0.3)
    assert middle[near] == pytest.approx(expected[near], rel=0.01)


# Geometry of a thin ledge: tip h in front of the plane, its lower edge z below the run, setback
# s: shadow z h / (s - h) long (exact); mm
@pytest.mark.parametrize(
    ("h", "s", "z", "shadow"),
    [(5, 50, 0.5, 55.556), (15, 100, 0.5, 88.235), (15, 150, 1.0, 150 - 38.889),
     (30, 100, 0.5, 214.29), (30, 300, 1.0, 111.11), (15, 50, 0.2, 85.714)],
)  # fmt: skip
def test_a_ledge_throws_its_shadow_as_far_as_geometry_says(h, s, z, shadow):
    step = 0.001
    row = round((H - z) / step)

    def ledge(u, v):
        return np.where(np.abs(v - row * step) < step / 2, h / 1000, 0.0)

    surface = wall(width_m=0.05, height_m=H, step_m=step, heights=ledge)
    line = run(s / 1000, SHORT, width_m=1e-4)
    prepared = prepare(room(surface, line), Quality(azimuths=24, steps=128))
    lit = direct(prepared).direct_lx["main"][0][:, 25]
    flat = direct(
        prepare(room(wall(0.05, H, step, heights=lambda u, v: 0 * u), line), prepared.quality)
    ).direct_lx["main"][0][:, 25]
    below = (row - np.arange(lit.size)) * step
    share = lit / np.maximum(flat, 1e-9)
    dark = (below > 2 * step) & (share < 0.5)
    # the relief's ledge tapers over one mesh step, which is the stated tolerance
    assert below[dark].max() * 1000 == pytest.approx(shadow, abs=1.5)


def test_penumbra_is_as_long_as_the_opening_makes_it():
    # h 15, s 100, w 40, z 1 m: full shadow to 142.9 mm, full light from 230.8 mm (geometry)
    step = 0.001
    row = round((H - 1.0) / step)
    surface = wall(
        0.05, H, step, heights=lambda u, v: np.where(np.abs(v - row * step) < step / 2, 0.015, 0.0)
    )
    line = run(0.1, SHORT, width_m=0.04)
    quality = Quality(azimuths=24, steps=128)
    lit = direct(prepare(room(surface, line), quality)).direct_lx["main"][0][:, 25]
    flat = direct(
        prepare(room(wall(0.05, H, step, heights=lambda u, v: 0 * u), line), quality)
    ).direct_lx["main"][0][:, 25]
    below = (row - np.arange(lit.size)) * step * 1000
    share = lit / np.maximum(flat, 1e-9)
    assert share[(below > 5) & (below < 140)].max() < 0.02
    assert share[(below > 236) & (below < 400)].min() > 0.98
    for place in (160.0, 180.0, 200.0):
        # the opening is seen from `edge` outward, and light falls on the wall in proportion to
        # how far out it comes from
        edge = 15 + 1000 * 15 / place
        seen = (120**2 - edge**2) / (120**2 - 80**2)
        assert share[np.argmin(np.abs(below - place))] == pytest.approx(seen, abs=0.015)


# Parallel-light limit of a sinusoidal relief a cos(2 pi z / lambda): share in shadow
@pytest.mark.parametrize(
    ("a", "wave", "s", "d", "share"), [(3, 60, 100, 1, 0.6434), (10, 120, 200, 1, 0.6009),
                                       (5, 50, 300, 2, 0.6992)]
)  # fmt: skip
def test_share_in_shadow_of_a_sinusoidal_relief(a, wave, s, d, share):
    step = 0.0005
    period = wave / 1000

    def ridges(u, v):
        return a / 1000 * np.cos(2 * np.pi * v / period)

    surface = wall(width_m=0.05, height_m=H, step_m=step, heights=ridges)
    line = run(s / 1000, SHORT, width_m=1e-4)
    lit = direct(prepare(room(surface, line), Quality(azimuths=24, steps=96))).direct_lx["main"][0]
    below = H - surface.grid.v_m()
    here = np.abs(below - d) < period  # two periods
    assert (lit[here, 50] < 1e-3 * lit[here, 50].max()).mean() == pytest.approx(share, rel=0.02)


def test_vertical_ribs_live_on_light_from_along_the_run():
    # exact rib section, a 5, lambda 40 mm, s 100, d 1 m: mean E over flat E 0.99339 per plan area
    step = 0.001

    def ribs(u, v):
        return 0.005 * np.cos(2 * np.pi * u / 0.04)

    surface = wall(width_m=0.4, height_m=1.2, step_m=step, heights=ribs)
    line = run(0.1, [(-60, 60)], top_m=1.2, width_m=1e-4)
    prepared = prepare(room(surface, line), Quality(azimuths=192, steps=512))
    lit = direct(prepared)
    row = round(0.2 / surface.grid.step_v_m)
    normal = prepared.reliefs["main"].normals[2]
    columns = slice(120, 281)  # four whole ribs in the middle
    per_plan = (lit.direct_lx["main"][0] / normal)[row, columns]
    weights = np.ones(161)
    weights[[0, -1]] = 0.5
    flat = lit.flat_lx["main"][0][row, 200]
    assert np.average(per_plan, weights=weights) / flat == pytest.approx(0.99339, rel=0.01)


def test_dim_and_maintenance_multiply_exactly():
    surface = wall(step_m=0.02, heights=lambda u, v: 0.003 * np.sin(60 * v))
    full = room(surface, run(0.1))
    group = dataclasses.replace(full.groups[0], dim=0.37, maintenance=0.9)
    one = direct(prepare(full, FINE))
    other = direct(prepare(dataclasses.replace(full, groups=(group,)), FINE))
    assert np.array_equal(one.direct_lx["main"], other.direct_lx["main"])
    assert other.runs_lx("main") == pytest.approx(one.runs_lx("main") * 0.333, rel=1e-6)
