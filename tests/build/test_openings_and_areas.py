"""Openings, slots and areas of a relief, and what they cut out of a wall or a ceiling."""

import numpy as np
import pytest

from rakelight.build.areas import inside_polygon
from rakelight.build.faces import corners_in_room
from rakelight.picture.geometry import cut_out
from reference.closed_rooms import flux_through, volume
from reference.refusals import refused

# ---- openings and slots ---------------------------------------------------------------------

DOOR = '[[opening]]\nkind = "door"\non = "left"\nfrom_left = 1\nwidth = 0.9\nheight = 2.1\n'


def test_openings_add_their_recess_and_keep_the_room_closed(built):
    niche = (
        '[[opening]]\nkind = "niche"\nfrom_left = 2\nfrom_foot = 1\nwidth = 0.5\nheight = 0.6\n'
        "depth = 0.2\n"
    )
    surfaces = built(DOOR + niche).room.surfaces
    np.testing.assert_allclose(flux_through(surfaces), 0, atol=1e-9)
    more = 0.9 * 2.1 * 0.05 + 0.5 * 0.6 * 0.2
    assert volume(surfaces) == pytest.approx(4.8 * 3.6 * 2.7 + more)
    leaf = next(s for s in surfaces if s.name == "door O1 leaf")
    assert leaf.frame.n == pytest.approx([1, 0, 0])
    assert corners_in_room(leaf)[:, 0] == pytest.approx([-0.05] * 4)


def test_a_slot_cuts_the_ceiling_and_holds_its_run(built):
    run = (
        '[[run]]\nphotometry = "graze-narrow"\nsetback = 0.15\n'
        'housing = { width = "30 mm", height = "40 mm" }\n'
        'slot = { width = "100 mm", height = "150 mm" }\n'
    )
    scene = built(run)
    surfaces = scene.room.surfaces
    np.testing.assert_allclose(flux_through(surfaces), 0, atol=1e-9)
    assert volume(surfaces) == pytest.approx(4.8 * 3.6 * 2.7 + 0.1 * 0.15 * 4.8)
    hole = scene.room.surface("ceiling").holes_uv_m[0]
    assert hole[:, 1].min() == pytest.approx(0.1)  # centred on the run
    assert scene.runs[0].height_m == pytest.approx(2.7 + 0.15 - 0.04 - 0.0005)
    assert "slot" not in {w.key for w in scene.warnings}
    lid = next(s for s in surfaces if s.name == "slot L1 lid")
    assert lid.frame.n == pytest.approx([0, 0, -1])


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"width": 4}, '"width" = 4: the door is larger than the "left" wall'),
        ({"height": 3}, '"height" = 3: the door is larger than the "left" wall'),
        ({"from_left": 3.5}, "it would end at"),
    ],
)
def test_a_door_larger_than_its_wall_is_refused(built, keys, says):
    text = DOOR
    for key, value in keys.items():
        lines = [x for x in text.splitlines() if not x.startswith(f"{key} ")]
        text = "\n".join([*lines, f"{key} = {value}\n"])
    [line] = refused(built, text)
    assert says in line


def test_openings_that_overlap_are_refused(built):
    other = DOOR.replace("from_left = 1", "from_left = 1.5").replace("door", "window")
    [line] = refused(built, DOOR + other)
    assert 'overlaps door "O1"' in line


# ---- relief areas, walls out of true --------------------------------------------------------


def area(tag, left, texture="vertical-slats", more=""):
    return (
        f'[[relief]]\ntag = "{tag}"\ntexture = "{texture}"\n'
        f"area = {{ from_left = {left}, from_foot = 0.5, width = 1, height = 1.5{more} }}\n"
    )


def test_areas_of_one_wall_make_one_relief_with_a_mask(built):
    scene = built(area("a", 0.5) + area("b", 2.5, "running-brick", ", proud = 0.03"))
    wall = scene.room.surface("main")
    relief = wall.relief
    u, v = relief.grid.u_m(), relief.grid.v_m()
    for left, proud in ((0.5, 0.0), (2.5, 0.03)):
        inside = np.ix_((v > 0.52) & (v < 1.98), (u > left + 0.02) & (u < left + 0.98))
        assert relief.mask[inside].all()
        assert relief.heights_m[inside].mean() == pytest.approx(proud, abs=2e-3)
        assert np.ptp(relief.heights_m[inside]) > 0.004
    outside = np.ix_((v < 0.45) | (v > 2.05), u > 0)
    assert not relief.mask[outside].any()
    assert not relief.heights_m[outside].any()
    # the plain part keeps the wall's own reflectance
    code = wall.reflectance_map.encoded[2, 2] / 255
    linear = ((code + 0.055) / 1.055) ** 2.4 * wall.reflectance_map.scale
    assert linear == pytest.approx([0.5] * 3, abs=0.01)


def test_areas_must_not_overlap_nor_leave_the_wall(built):
    [line] = refused(built, area("a", 0.5) + area("b", 1.2))
    assert 'overlaps the relief "a"' in line
    [line] = refused(built, area("a", 4.2))
    assert 'reaches beyond the "main" wall' in line
    [line] = refused(built, '[[relief]]\ntexture = "running-brick"\n' + area("b", 1.2))
    assert "one covers the whole wall" in line


def test_an_opening_leaves_the_reliefs_mask(built):
    text = '[[relief]]\ntexture = "running-brick"\n' + DOOR.replace('"left"', '"main"')
    wall = built(text).room.surface("main")
    u, v = wall.relief.grid.u_m(), wall.relief.grid.v_m()
    hole = np.ix_(v < 2.09, (u > 1.01) & (u < 1.89))
    assert not wall.relief.mask[hole].any()
    share = 1 - wall.relief.mask.mean()
    assert share == pytest.approx(0.9 * 2.1 / (4.8 * 2.7), rel=0.1)


def test_lean_and_bow_move_the_heights_about_the_same_mean_plane(built):
    relief = built('[surface.main]\nlean = "20 mm"\nbow = "6 mm"\n').room.surface("main").relief
    h = relief.heights_m
    assert h[-1].mean() - h[0].mean() == pytest.approx(0.020, abs=1e-6)
    middle = h[:, h.shape[1] // 2].mean()
    assert middle - (h[:, 0].mean() + h[:, -1].mean()) / 2 == pytest.approx(0.006, abs=2e-4)
    assert h.mean() == pytest.approx(0, abs=5e-4)


def test_a_gables_relief_ends_at_the_roof(built):
    scene = built(
        '[room]\nceiling = { ridge = 4 }\n[[relief]]\non = "left"\ntexture = "running-brick"\n'
    )
    wall = scene.room.surface("left")
    area_m2 = wall.relief.mask.mean() * wall.grid.width_m * wall.grid.height_m
    assert area_m2 == pytest.approx(3.6 * (2.7 + 4) / 2, rel=0.03)


# ---- drawing --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "holes",
    [
        [[[1, 1], [2, 1], [2, 2], [1, 2]]],
        [[[0, 0], [1, 0], [1, 2], [0, 2]]],  # a door in the corner
        [[[1, 0], [2, 0], [2, 3], [1, 3]]],  # cuts it in two
        [[[0.5, 1], [1.5, 0.5], [2, 1.5]], [[2.5, 2], [3.5, 2], [3, 2.8]]],
        [[[1, 1], [2, 1], [2, 2], [1, 2]], [[1.5, 1.5], [3, 1.5], [3, 2.5], [1.5, 2.5]]],
    ],
)
def test_triangles_cover_what_is_left_and_nothing_twice(holes):
    polygon = np.array([[0, 0], [4, 0], [4, 3], [2, 3.5], [0, 3]], float)
    cut = tuple(np.array(h, float) for h in holes)
    points, faces = cut_out(polygon, cut)
    a, b, c = (points[faces[:, i]] for i in range(3))
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert (areas > 0).all()
    grid = np.linspace(0.003, 3.997, 700)
    inside = inside_polygon(grid, grid, polygon)
    for hole in cut:
        inside &= ~inside_polygon(grid, grid, hole)
    assert areas.sum() == pytest.approx(inside.mean() * 16, rel=5e-3)
    middles = (a + b + c) / 3
    for hole in cut:
        assert not any(inside_polygon(m[:1], m[1:], hole)[0, 0] for m in middles)
    # no vertex lies inside another triangle's edge: nothing can gape
    for i, j in ((0, 1), (1, 2), (2, 0)):
        p, q = points[faces[:, i]], points[faces[:, j]]
        edge = q - p
        length = np.hypot(*edge.T)
        along = ((points[None] - p[:, None]) * edge[:, None]).sum(-1) / length[:, None]
        off = (
            np.abs(
                edge[:, None, 0] * (points[None, :, 1] - p[:, None, 1])
                - edge[:, None, 1] * (points[None, :, 0] - p[:, None, 0])
            )
            / length[:, None]
        )
        inner = (off < 1e-9) & (along > 1e-9) & (along < length[:, None] - 1e-9)
        slanted = (np.abs(edge) > 1e-9).all(axis=1)  # cut edges of the outline itself may be met
        assert not inner[~slanted & (np.abs(edge[:, 1]) < 1e-9)].any()
