"""A rectangle's cells are cut all at once, to what clipping them one by one gives."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.patches import cut_by_rectangle, cut_room
from reference.plain_rooms import block, box_room, plain_surface


@pytest.mark.parametrize("hole", [None, [[0.5, 0.4], [1.1, 0.4], [1.1, 0.8], [0.5, 0.8]]])
def test_a_rectangle_s_cells_are_as_clipped(hole):
    room = box_room(1.6, 1.2, 1.0, 0.5, bodies=(block((0.6, 0.4, 0.0), (0.9, 0.7, 0.6)),))
    if hole is not None:
        holed = plain_surface("main", room.surface("main").frame, 1.6, 1.0, 0.5)
        holed = replace(holed, holes_uv_m=(np.array(hole),))
        room = replace(room, surfaces=(holed, *room.surfaces[1:]))
    patches = cut_room(room, 0.06, 0.2, room.bodies)
    for index, (surface, cells) in enumerate(zip(room.surfaces, patches.cells, strict=True)):
        count = 0
        for row, column in np.argwhere(cells.patch >= 0):
            low = np.array([cells.u_m[column], cells.v_m[row]])
            high = np.array([cells.u_m[column + 1], cells.v_m[row + 1]])
            clipped = cut_by_rectangle(surface.corners_uv_m, low, high)
            points = surface.frame.to_room(np.column_stack([clipped, np.zeros(len(clipped))]))
            number = cells.patch[row, column]
            np.testing.assert_allclose(patches.corners_m[number, : len(points)], points, atol=1e-12)
            assert patches.owner[number] == index
            count += 1
        assert count == (patches.owner == index).sum()
    total = patches.areas_m2[patches.owner < len(room.surfaces)].sum()
    whole = 2 * (1.6 * 1.2 + 1.6 * 1.0 + 1.2 * 1.0) - (0 if hole is None else 0.6 * 0.4)
    assert total == pytest.approx(whole, rel=1e-9)
