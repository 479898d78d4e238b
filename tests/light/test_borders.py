"""What a relief covers of its neighbours, and catches instead."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.borders import find_borders, past_borders
from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from reference.plain_rooms import box_room, even_lit, prepared, waves

RMS_M = 0.004 / 4  # of two cosines' product, 4 mm from lowest to highest


def room_with_bumps():
    heights = waves(101, 121, 1.2, 1.0, 0.004, 0.1)
    return box_room(1.2, 0.8, 1.0, 0.5, step=0.1, heights=heights)


def test_a_relief_borders_on_four_surfaces():
    borders = find_borders(room_with_bumps().surfaces)
    assert {border.surface for border in borders} == {"left", "right", "floor", "ceiling"}
    assert {border.wall for border in borders} == {"main"}


def test_nothing_is_covered_where_the_edge_is_as_bright_as_the_rest():
    room = room_with_bumps()
    lit = even_lit(room, {"floor": 100.0, "left": 50.0})
    fields, taken = past_borders(find_borders(room.surfaces), lit.direct_lx)
    assert np.allclose(fields["floor"], lit.direct_lx["floor"])
    assert taken["main"] == pytest.approx(0.0, abs=1e-9)


def test_light_lost_between_two_vertices_is_found_again():
    """1000 lx up to the wall but for what the relief hides of the last line, which sees 200 lx."""
    room = room_with_bumps()
    floor = even_lit(room, {"floor": 1000.0}).direct_lx["floor"]
    floor[:, -1] = 200.0
    others = {s.name: np.zeros((1, s.grid.rows, s.grid.columns)) for s in room.surfaces}
    fields, taken = past_borders(find_borders(room.surfaces), {**others, "floor": floor})
    covered_m = 0.8 * RMS_M  # 80 % hidden, falling to nothing over twice the height's RMS
    last_cell = (fields["floor"][0, -2] + fields["floor"][0, -1]) / 2 * 0.1
    assert last_cell == pytest.approx(1000 * (0.1 - covered_m), rel=2e-3)
    assert taken["main"] == pytest.approx(1000 * covered_m * 1.2, rel=0.02)


def test_plain_parts_of_a_wall_cover_nothing():
    room = room_with_bumps()
    wall, *others = room.surfaces
    heights, mask = wall.relief.heights_m.copy(), wall.relief.mask.copy()
    heights[:, :60], mask[:, :60] = 0, False  # the left half
    partly = replace(wall, relief=replace(wall.relief, heights_m=heights, mask=mask))
    lit = {s.name: np.zeros((1, s.grid.rows, s.grid.columns)) for s in room.surfaces}
    lit["floor"] += 1000
    lit["floor"][:, -1] = 200
    lit["left"] += 1000
    lit["left"][:, :, -1] = 200
    whole, half = (past_borders(find_borders((one, *others)), lit)[1] for one in (wall, partly))
    # of the floor's 13 vertices the seven of the right half, the middle one whole
    assert half["main"] == pytest.approx(whole["main"] * 0.65 / (1.2 + 1.0), rel=0.02)


def test_the_relief_catches_what_it_covers():
    room = room_with_bumps()
    lit = even_lit(room, {"floor": 1000.0, "main": 100.0})
    ready = prepare_bounce(prepared(room), BounceQuality(0.1, 0.3, 0.05, 0.2))
    _, whole = bounce(ready, lit)
    lit.direct_lx["floor"][:, -1] = 200.0
    _, cut = bounce(ready, lit)
    assert cut.arrived_lm == pytest.approx(whole.arrived_lm, rel=1e-4)
