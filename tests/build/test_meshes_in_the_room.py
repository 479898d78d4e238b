"""Meshes from files in a scene: placed, said, checked; and their shadow on the wall."""

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from reference.made_meshes import obj

COARSE = Quality(mesh_step_m=0.05, plane_step_m=0.05)
WASH = '[[run]]\nphotometry = "wash-flat"\nsetback = "1 m"\n'
#: 400 x 300 x 900 in its file's unit.
CLOSED = [
    t
    for a, b, c, d in [
        (0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (1, 3, 7, 5), (3, 2, 6, 7), (2, 0, 4, 6)
    ]
    for t in ([a, b, c], [a, c, d])
]  # fmt: skip
CHEST = np.array([[x, y, z] for z in (0, 900) for y in (0, 300) for x in (0, 400)], float)


@pytest.fixture
def scene(tmp_path):
    def _scene(keys='unit = "mm"', points=CHEST, faces=CLOSED, data=None, text=WASH):
        (tmp_path / "chest.obj").write_bytes(obj(points, faces) if data is None else data)
        path = tmp_path / "hall.toml"
        where = "" if "at" in keys else "at = [2.4, 3.0]\n"
        path.write_text(f'{text}[[mesh]]\ntag = "chest"\nfile = "chest.obj"\n{where}{keys}\n')
        return build_scene(path, quality=COARSE)

    return _scene


def mesh_of(built):
    [body] = [body for body in built.room.bodies if body.kind == "mesh"]
    return body


def test_a_mesh_stands_where_it_is_put_on_the_floor(scene):
    body = mesh_of(scene())
    np.testing.assert_allclose(body.points_m.min(axis=0), [2.2, 2.85, 0], atol=1e-9)
    np.testing.assert_allclose(body.points_m.max(axis=0), [2.6, 3.15, 0.9], atol=1e-9)
    turned = mesh_of(scene('unit = "mm"\nturn = 90\nabove_floor = 0.2'))
    np.testing.assert_allclose(np.ptp(turned.points_m, axis=0), [0.3, 0.4, 0.9], atol=1e-9)
    assert turned.points_m[:, 2].min() == pytest.approx(0.2)


def test_it_shades_the_wall_behind_it(scene):
    built = scene('unit = "mm"\nat = [2.4, 3.35]')
    lit = direct(prepare(built.room, COARSE)).direct_lx["main"][0]
    grid = built.room.surface("main").grid
    row, column = round(0.4 / grid.step_v_m), round(2.4 / grid.step_u_m)
    beside = round(0.6 / grid.step_u_m)
    # the run hangs 1 m from the wall, the chest stands between it and the wall's foot
    assert lit[row, column] < 0.5 * lit[row, beside]
    above = round(2.0 / grid.step_v_m)
    assert lit[above, column] == pytest.approx(lit[above, grid.columns - column - 1], rel=0.02)


def test_an_open_mesh_is_refused_in_one_line_that_says_where(scene):
    with pytest.raises(InputError) as caught:
        scene(faces=CLOSED[:-2])  # without its left side, x = 2.2 m in the room
    [fault] = caught.value.faults
    assert fault.endswith(
        'hall.toml: [[mesh]] 1, "file" = "chest.obj": not closed: 4 edges belong to one triangle '
        "alone, the first at [2.20 m, 3.00 m], 0.00 m above the floor. Close it, or state "
        "thin_sheet = true if it is one."
    )


def test_it_says_where_in_the_scene_s_units_even_for_one_edge(scene):
    fin = [*CLOSED, [0, 1, 7]]  # along an edge and the diagonal beside it
    feet = '[units]\nlength = "ft"\n' + WASH.replace("1 m", "3 ft")
    with pytest.raises(InputError, match=r"1 edge belongs to one .* first at \[7 ft 10 1/2 in, "):
        scene('unit = "mm"\nat = ["2.4 m", "3 m"]', faces=fin, text=feet)


def test_sheets_stand_where_the_scene_says_that_they_are_sheets(scene):
    stated = 'unit = "mm"\nthin_sheet = true'
    notes = scene(stated, faces=CLOSED[:-2]).notes
    assert [note for note in notes if note.startswith("mesh chest: not closed: a thin sheet")]
    assert mesh_of(scene(stated, faces=CLOSED[:-2])).thin
    sheet = CHEST * [1, 0, 1]
    assert len(mesh_of(scene(stated, points=sheet, faces=CLOSED[4:6])).faces) == 2
    with pytest.raises(InputError, match="4 edges"):
        scene(points=sheet, faces=CLOSED[4:6])


def test_a_closed_mesh_is_no_sheet_whatever_is_stated(scene):
    stated = scene('unit = "mm"\nthin_sheet = true')
    assert not [note for note in stated.notes if "sheet" in note]
    assert not mesh_of(stated).thin
    np.testing.assert_array_equal(mesh_of(stated).faces, mesh_of(scene()).faces)


def test_corners_in_one_place_close_a_mesh_whose_triangles_share_none(scene):
    soup = CHEST[np.array(CLOSED)].reshape(-1, 3)  # as STL has it
    assert mesh_of(scene(points=soup, faces=np.arange(36).reshape(-1, 3).tolist()))


@pytest.mark.parametrize(
    ("keys", "data", "says"),
    [
        ("", None, "files do not say their unit. Give it: mm, cm, m, in or ft."),
        ('unit = "m"', None, "State the unit that it was exported in."),
        ('unit = "cm"', None, "cuts through the room's walls or ceiling"),
        ('unit = "mm"\nat = [0.1, 3.0]', None, "cuts through the room's walls or ceiling"),
        ('unit = "mm"', b"v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n", "degenerate"),
        ('unit = "mm"', b"", "the file is empty"),
    ],
)
def test_a_mesh_that_cannot_stand_there_is_refused_in_one_line(scene, keys, data, says):
    with pytest.raises(InputError) as caught:
        scene(keys, data=data)
    [fault] = caught.value.faults
    assert says in fault


def test_too_many_triangles_are_refused_with_a_remedy(scene, monkeypatch):
    monkeypatch.setattr("rakelight.build.meshes.MOST_TRIANGLES", 11)
    with pytest.raises(InputError, match=r"more than 11 triangles\. Thin it out"):
        scene()
