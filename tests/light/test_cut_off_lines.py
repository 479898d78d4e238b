"""Edges that a lip, a fascia or a panel draws: where they lie and how soft they are."""

import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from reference.grazed_walls import distribution
from reference.mountings import X, Y, Z, line_at, lit_by, rectangle

STEP = 0.0025
ALL_ROUND = distribution(lambda d: 1000 * np.sqrt(np.maximum(0, 1 - d[..., 0] ** 2)))
CEILING = 2.7432

# Geometry in the section (exact): line from an edge A of the opening over B; mm.
# opening's middle, edge B, width, blocker's side of B, surface, middle, full light, full shadow
CASES = [
    ((100, 2540), (200, 2590.8), 20, "below", "ceiling", 500.0, 470.0, 530.0),
    ((76.2, 2438.4), (152.4, 2463.8), 20, "below", "ceiling", 990.6, 880.6, 1100.6),
    ((50.8, 2590.8), (127, 2641.6), 20, "below", "ceiling", 279.4, 259.4, 299.4),
    ((254, 2743.2), (152.4, 2667), 20, "above", "wall", 2552.7, 2540.2, 2562.9),
    ((304.8, 2819.4), (101.6, 2743.2), 40, "below", "wall", 2705.1, 2708.5, 2700.9),
    ((152.4, 2743.2), (50.8, 2692.4), 40, "below", "wall", 2667.0, 2671.2, 2660.8),
]


def section(a, b, width, side, lit):
    """Share of the unblocked light up the wall or across the ceiling, and where. [mm]"""
    (y_a, z_a), (y_b, z_b) = np.array(a) / 1000, np.array(b) / 1000
    if lit == "ceiling":
        # v runs away from the wall
        surface = rectangle("lit", (0.02, 0, CEILING), -X, Y, (0.04, 1.3), STEP, blocks=False)
    else:
        surface = rectangle("lit", (0.02, 0, 2.4), -X, Z, (0.04, 0.5), STEP, blocks=False)
    line = line_at((0, y_a, z_a), X, -Z, [(-8, 8)], ALL_ROUND, width / 1000)
    tall = -0.6 if side == "below" else 0.6
    corners = rectangle("lip", (-20, y_b, min(z_b, z_b + tall)), X, Z, (40, abs(tall)), 1.0)
    quality = Quality(steps=96)
    free = direct(prepare(lit_by([surface], line), quality)).direct_lx["lit"][0][:, 8]
    blocked = direct(prepare(lit_by([surface, corners], line), quality)).direct_lx["lit"][0][:, 8]
    start = 0 if lit == "ceiling" else 2.4
    return (surface.grid.v_m() + start) * 1000, blocked / free


@pytest.mark.parametrize(("a", "b", "width", "side", "lit", "middle", "full", "dark"), CASES)
def test_the_cut_off_lies_where_the_section_says(a, b, width, side, lit, middle, full, dark):
    place, share = section(a, b, width, side, lit)
    toward_dark = np.sign(dark - full)
    # within one mesh step of each limit the light is whole, and gone
    before = (place - full) * toward_dark < -STEP * 1000
    beyond = (place - dark) * toward_dark > STEP * 1000
    within = (place - full) * toward_dark > STEP * 1000
    within &= (place - dark) * toward_dark < -STEP * 1000
    assert share[before].min() > 0.999
    assert share[beyond].max() < 0.001
    if within.any():
        assert share[within].max() < 0.999
        assert share[within].min() > 0.001
        # soft, without steps: falls all the way
        assert np.all(np.diff(share[within]) * toward_dark < 0)
    # half of the opening is seen where the middle's line lands
    assert np.interp(middle, place, share) == pytest.approx(0.5, abs=0.08)


def test_a_cut_off_line_at_a_slant_to_the_grid_is_straight_not_a_flight_of_stairs():
    # a cove's run along y behind a lip ends at the main wall: in the section the line from the
    # opening (0.1, 1.0) over the lip's edge (0.3, 1.06) climbs by 0.3; on the wall so does the
    # shadow's edge. Grid 50 mm: as points alone the vertices gave steps of 50 mm
    step = 0.05
    main = rectangle("main", (0, 3.6, 0), X, Z, (3.0, 3.0), step, blocks=False)
    lip = rectangle("lip", (0.3, 3.6, 0.5), -Y, Z, (3.0, 0.56))
    line = line_at((0.1, 0.6, 1.0), Y, -Z, [(0, 3.0)], ALL_ROUND, 0.005, toward=X)
    lit = direct(prepare(lit_by([main, lip], line), Quality(plane_step_m=step)))
    light = lit.direct_lx["main"][0]
    v = main.grid.v_m()
    found, exact = [], []
    for column in range(8, main.grid.columns):
        at = 1.0 + 0.3 * (column * main.grid.step_u_m - 0.1)
        row = int(at / main.grid.step_v_m)
        full = light[row + 4, column]
        # where the interpolated light passes half of what lies just above
        rows = slice(row - 3, row + 5)
        found.append(np.interp(0.5 * full, light[rows, column], v[rows]))
        exact.append(at)
    off = np.array(found) - exact
    assert np.abs(off - off.mean()).max() < 0.2 * step
    assert abs(off.mean()) < 0.1 * step
