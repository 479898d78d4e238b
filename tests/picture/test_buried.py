"""Floor vertices inside a wall's stone must not darken the floor in front of it."""

import numpy as np

from rakelight.picture.buried import buried, uncovered
from rakelight.picture.draw import draw
from rakelight.picture.shade import shade
from rakelight.scene.lit import Lit
from reference.picture_rooms import box, bumpy, evenly_lit, facing_main, main_wall


def proud_room():
    relief = bumpy(depth_m=0.02)
    proud = np.abs(relief.heights_m) + np.float32(0.002)
    stone = type(relief)(proud, relief.grid, relief.mask, -0.02, (0.7, 0.27), "proud")
    return box(main_wall(stone))


def test_the_floors_last_row_is_inside_the_stone_and_no_other():
    room = proud_room()
    hidden = buried(room.surface("floor"), room.surfaces)
    assert hidden[-1].all()
    assert not hidden[:-1].any()
    assert buried(room.surface("opposite"), room.surfaces) is None
    assert buried(room.surface("main"), room.surfaces) is None
    flat = box()
    assert buried(flat.surface("floor"), flat.surfaces) is None


def test_hidden_vertices_take_their_neighbours_light():
    lx = np.arange(12, dtype=np.float32).reshape(4, 3)
    hidden = np.zeros((4, 3), bool)
    hidden[-1] = True
    assert np.array_equal(uncovered(lx, hidden)[-1], lx[-2])
    assert np.array_equal(uncovered(lx, hidden)[:-1], lx[:-1])
    assert uncovered(lx, None) is lx


def test_no_dark_line_lies_before_the_stone():
    room = proud_room()
    lit = evenly_lit(room)
    floor = lit.direct_lx["floor"].copy()
    floor[:, -1] = 0  # as the light finds it inside the stone
    lit = Lit({**lit.direct_lx, "floor": floor}, {}, {}, lit.other_lx, lit.output, lit.white_rgb)
    view = draw(room, facing_main(width_px=320, height_px=180), 2)
    picture = shade(view, room, lit)
    seen = picture.luminance_cd_m2()[picture.ids == view.names.index("floor")]
    assert seen.min() > 0.999 * 0.2 * 500 / np.pi
