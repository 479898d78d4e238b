"""What must hold for any mounting: turned, mirrored, split and scaled rooms, ends, holes."""

import dataclasses

import numba
import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.faces import convex_parts, faces_of_body
from rakelight.light.prepare import prepare
from rakelight.light.visibility import shading_notes
from rakelight.scene.frame import Frame
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Body
from reference.grazed_walls import distribution, grazing, ledgestone, wall
from reference.mountings import X, Y, Z, box, line_at, lit_by, rectangle

# 40 steps, the default, leave 0.23 % between a long run and its parts on so coarse a mesh
QUALITY = Quality(mesh_step_m=0.01, steps=64)
ROWS, COLUMNS = 121, 161
STONE = ledgestone(ROWS, COLUMNS, 0.01)
WIDE = distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]) * (1 + 0.2 * d[..., 0]))
BEAM = distribution(grazing)
COLUMN = box("column", (0.7, 3.2, 0.0), (0.8, 3.35, 1.1))
TURNED = (np.cos(0.35), np.sin(0.35), 0)
LINES = {
    "along": line_at((0, 3.4, 1.18), X, -Z, [(0, 1.6)], BEAM),
    "turned": line_at((0.1, 3.0, 1.18), TURNED, -Z, [(0, 1.2)], WIDE),
    "perpendicular": line_at((0.8, 3.4, 1.18), -Y, -Z, [(0, 1.0)], WIDE),
    "single": line_at((0.8, 3.2, 1.15), X, -Z, [(0, 0.05)], WIDE, 0.05),
}


def stone_wall():
    return wall(1.6, 1.2, 0.01, heights=STONE)


FLOOR = rectangle("floor", (0, 2.6, 0), X, Y, (1.6, 1.0), 0.02, blocks=False)


def light(room, quality=QUALITY, names=("main", "floor")):
    lit = direct(prepare(room, quality)).direct_lx
    return {name: lit[name] for name in names}


def moved(room, turn, shift):
    """The room, its runs and all that stands in it, turned (3, 3) and shifted."""

    def surface(s):
        f = s.frame
        return dataclasses.replace(
            s, frame=Frame(turn @ f.origin_m + shift, turn @ f.u, turn @ f.v, turn @ f.n)
        )

    def line(one):
        new = {k: turn @ getattr(one, k) for k in ("axis", "nadir", "across", "c0")}
        return dataclasses.replace(one, origin_m=turn @ one.origin_m + shift, **new)

    groups = [dataclasses.replace(g, lines=tuple(map(line, g.lines))) for g in room.groups]
    return dataclasses.replace(
        room, surfaces=tuple(map(surface, room.surfaces)), groups=tuple(groups)
    )


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("things", [(), COLUMN])
def test_a_room_turned_by_any_angle_has_the_same_light(name, things):
    room = lit_by([stone_wall(), FLOOR, *things], LINES[name])
    a, b = np.radians([33.0, -21.0])
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    turn = turn @ np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    here, there = light(room), light(moved(room, turn, np.array([1.0, -2.0, 0.5])))
    for surface, lx in here.items():
        assert there[surface].mean() == pytest.approx(lx.mean(), rel=1e-5)
        # single vertices exactly in a shadow's edge feel the rounding of positions
        assert np.quantile(np.abs(there[surface] - lx), 0.999) < 1e-4 * lx.max()


@pytest.mark.parametrize("name", LINES)
def test_a_run_and_its_two_halves_give_the_same_light(name):
    line = LINES[name]
    low, high = line.lit_m[0]
    # not the middle: the pieces' steps then differ from the whole one's
    cut = low + 0.4 * (high - low)
    parts = [
        dataclasses.replace(line, lit_m=np.array([part])) for part in ((low, cut), (cut, high))
    ]
    surfaces = [stone_wall(), FLOOR, *COLUMN]
    whole, split = light(lit_by(surfaces, line)), light(lit_by(surfaces, *parts))
    for surface, lx in whole.items():
        assert split[surface].sum(axis=0).mean() == pytest.approx(lx[0].mean(), rel=0.002)


def test_runs_add_up():
    surfaces = [stone_wall(), FLOOR, *COLUMN]
    together = lit_by(surfaces, *LINES.values())
    both = dataclasses.replace(
        together,
        groups=(dataclasses.replace(together.groups[0], lines=together.lines()),),
    )
    each, one = light(together), light(both)
    for surface, lx in each.items():
        assert one[surface][0] == pytest.approx(lx.sum(axis=0), rel=2e-6, abs=1e-3)


@pytest.mark.parametrize("name", LINES)
def test_a_mirrored_scene_has_the_mirrored_light(name):
    # vertices and cells mirrored: the triangulation's diagonal leans the other way, so the mesh
    # is not quite the same; a smooth relief hardly feels it
    def waves(u, v):
        return 0.01 * np.cos(9 * u + 1) * np.cos(11 * v)

    def mirror(vector):
        return vector * np.array([-1.0, 1, 1])

    line = LINES[name]
    # the file mirrored as well: its C0 turned over, so that directions along the run swap
    other = dataclasses.replace(
        line,
        origin_m=mirror(line.origin_m) + np.array([1.6, 0, 0]),
        axis=mirror(line.axis),
        nadir=mirror(line.nadir),
        across=mirror(line.across),
        c0=mirror(line.c0),
        intensity=distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]) * (1 + 0.2 * d[..., 0])),
    )
    line = dataclasses.replace(line, intensity=other.intensity)
    here = wall(1.6, 1.2, 0.01, heights=waves)
    there = wall(1.6, 1.2, 0.01, heights=lambda u, v: waves(1.6 - u, v))
    column = box("column", (0.8, 3.2, 0.0), (0.9, 3.35, 1.1))
    a = light(lit_by([here, FLOOR, *COLUMN], line))
    b = light(lit_by([there, FLOOR, *column], other))
    assert b["floor"][..., ::-1] == pytest.approx(
        a["floor"], rel=1e-3, abs=1e-3 * float(a["floor"].max())
    )
    assert b["main"].mean() == pytest.approx(a["main"].mean(), rel=2e-3)
    assert np.corrcoef(b["main"][0, :, ::-1].ravel(), a["main"][0].ravel())[0, 1] > 0.9999


@pytest.mark.parametrize("name", LINES)
def test_twice_the_size_halves_the_light_of_a_run(name):
    def twice(s):
        f = s.frame
        grid = dataclasses.replace(s.grid, width_m=2 * s.grid.width_m, height_m=2 * s.grid.height_m)
        relief = s.relief and dataclasses.replace(
            s.relief, heights_m=2 * s.relief.heights_m, grid=grid
        )
        return dataclasses.replace(
            s,
            frame=Frame(2 * f.origin_m, f.u, f.v, f.n),
            corners_uv_m=2 * s.corners_uv_m,
            grid=grid,
            relief=relief,
        )

    line = LINES[name]
    larger = dataclasses.replace(
        line, origin_m=2 * line.origin_m, lit_m=2 * line.lit_m,
        opening_width_m=2 * line.opening_width_m,
    )  # fmt: skip
    surfaces = [stone_wall(), FLOOR, *COLUMN]
    a, b = light(lit_by(surfaces, line)), light(lit_by([twice(s) for s in surfaces], larger))
    for surface, lx in a.items():
        if name == "single" and surface == "main":
            # lit lengths over a stated size are summed another way
            assert 2 * b[surface].mean() == pytest.approx(lx.mean(), rel=1e-3)
        else:
            assert 2 * b[surface].mean() == pytest.approx(lx.mean(), rel=1e-4)


@pytest.mark.parametrize("name", LINES)
def test_one_thread_and_two_give_the_same_bytes(name):
    if numba.config.NUMBA_NUM_THREADS < 2:
        pytest.skip("one thread only")
    room = lit_by([stone_wall(), FLOOR, *COLUMN], LINES[name])
    found = []
    try:
        for threads in (1, 2):
            numba.set_num_threads(threads)
            found.append(light(room))
    finally:
        numba.set_num_threads(numba.config.NUMBA_NUM_THREADS)
    for surface, lx in found[0].items():
        assert found[1][surface].tobytes() == lx.tobytes()


@pytest.mark.parametrize("name", ["main", "plane"])
def test_light_reaches_beyond_both_ends_of_a_run(name):
    flat = (
        wall(4.0, 1.2, 0.01, heights=lambda u, v: 0 * u) if name == "main" else wall(4, 1.2, 0.01)
    )
    short = line_at((0, 3.4, 1.25), X, -Z, [(1.5, 2.5)], WIDE)
    even = dataclasses.replace(short, intensity=distribution(lambda d: 1000 + 0 * d[..., 0]))
    lx = light(lit_by([flat], even), names=("main",))["main"][0]
    below = 60
    # re-derived: constant I', E = I' s / (rho^2) [u / sqrt(u^2 + rho^2)] from end to end
    rho2 = 0.2**2 + (1.25 - 0.6) ** 2
    u = np.linspace(0, 4, lx.shape[1])
    a, b = 1.5 - u, 2.5 - u
    exact = 1000 * 0.2 / rho2 * (b / np.sqrt(b * b + rho2) - a / np.sqrt(a * a + rho2))
    assert lx[below] == pytest.approx(exact, rel=0.01)


def test_a_row_level_with_a_run_over_the_wall_is_lit():
    both = distribution(lambda d: 1000 + 0 * d[..., 0])
    line = line_at((0, 3.4, 0.6), X, -Z, [(0, 1.6)], both)
    lx = light(lit_by([wall(1.6, 1.2, 0.01, heights=lambda u, v: 0 * u)], line), names=("main",))
    column = lx["main"][0][:, 80]
    assert column[60] == pytest.approx((column[59] + column[61]) / 2, rel=0.01)
    assert column[60] == column.max()


def test_what_a_hole_cuts_off_casts_no_shadow():
    heights = np.zeros((121, 161), np.float32)
    heights[60:64, 40:120] = 0.05
    surface = wall(1.6, 1.2, 0.01, heights=heights)
    mask = np.ones(heights.shape, bool)
    mask[60:64, 40:120] = False
    hole = np.array([[0.395, 0.595], [0.395, 0.635], [1.195, 0.635], [1.195, 0.595]])
    relief = dataclasses.replace(surface.relief, mask=mask)
    cut = dataclasses.replace(surface, holes_uv_m=(hole,), relief=relief)
    for line in (LINES["along"], LINES["turned"]):
        stands = light(lit_by([surface], line), names=("main",))["main"][0]
        open_ = light(lit_by([cut], line), names=("main",))["main"][0]
        flat = light(lit_by([wall(1.6, 1.2, 0.01, heights=0 * heights)], line), names=("main",))
        below = (slice(40, 58), slice(60, 100))
        assert open_[below] == pytest.approx(flat["main"][0][below], rel=1e-3)
        assert stands[below].mean() < 0.9 * open_[below].mean()


def test_an_enclosed_run_gives_no_light_and_is_reported():
    line = LINES["along"]
    around = box("around", (-0.1, 3.3, 1.1), (1.7, 3.5, 1.3))
    room = lit_by([stone_wall(), FLOOR, *around], line)
    for lx in light(room).values():
        assert lx.max() == 0
    (note,) = shading_notes(room, room.lines())
    assert "closed" in note
    assert "L1" in note
    # without its front it shines again
    ajar = lit_by([stone_wall(), FLOOR, *around[:-1]], line)
    assert light(ajar)["main"].max() > 0
    assert shading_notes(ajar, ajar.lines()) == ()


def test_a_file_already_counts_its_own_housing():
    line = LINES["along"]
    points = np.array(
        [
            [x, y, z]
            for z in (1.18, 1.25)
            for x, y in ((0, 3.38), (1.6, 3.38), (1.6, 3.42), (0, 3.42))
        ]
    )
    quads = [[0, 3, 2, 1], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]]
    faces = np.array([t for a, b, c, d in quads for t in ([a, b, c], [a, c, d])])
    own = Body("housing L1.1", "housing", points, faces, np.full(3, 0.3), 0)
    other = dataclasses.replace(own, name="housing L2.1", points_m=points - [0, -0.1, 0.3])
    assert faces_of_body(own).shape == (6, 4, 3)
    free = light(lit_by([stone_wall(), FLOOR], line))
    with_own = light(lit_by([stone_wall(), FLOOR], line, bodies=[own]))
    shaded = light(lit_by([stone_wall(), FLOOR], line, bodies=[own, other]))
    assert np.array_equal(with_own["main"], free["main"])
    assert shaded["main"].mean() < 0.95 * free["main"].mean()
    # the cheek of a recessed opening is no part of the file, whatever its name
    cheek = rectangle("housing L1.1 wall side", (0, 3.42, 1.13), X, Z, (1.6, 0.05))
    recessed = light(lit_by([stone_wall(), FLOOR, cheek], line, bodies=[own]))
    assert recessed["main"][0, 60:].mean() < 0.9 * free["main"][0, 60:].mean()


def test_a_polygon_with_a_hole_falls_into_convex_parts():
    outer = np.array([[0, 0], [4, 0], [4, 3], [0, 3]], float)
    hole = np.array([[1, 1], [2, 1], [2, 2], [1, 2]], float)
    parts = convex_parts((outer, hole))
    x, y = parts[..., 0], parts[..., 1]
    area = 0.5 * np.abs((x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1))
    assert area.sum() == pytest.approx(11)
    # light through the hole, and only there
    board = rectangle("board", (0, 3.2, 0), X, Z, (1.6, 1.2), holes=[hole[:, ::1] * 0.4])
    line = line_at((0.75, 2.9, 0.6), X, (0, 1, 0), [(0, 0.05)], WIDE, 0.01, toward=Z)
    lx = light(lit_by([wall(1.6, 1.2, 0.01), board], line), names=("main",))["main"][0]
    v, u = np.meshgrid(np.arange(121) * 0.01, np.arange(161) * 0.01, indexing="ij")
    # the board stands 3/7 of the way: a hole of 0.4 to 0.8 m lands where rays through it land
    through_u = 0.775 + (u - 0.775) * 3 / 7
    through_v = 0.6 + (v - 0.6) * 3 / 7
    clear = (np.abs(through_u - 0.6) < 0.16) & (np.abs(through_v - 0.6) < 0.16)
    dark = (np.abs(through_u - 0.6) > 0.24) | (np.abs(through_v - 0.6) > 0.24)
    assert lx[clear].min() > 0
    assert lx[dark].max() == 0


def test_a_run_inside_a_relief_or_across_its_plane_is_refused():
    surface = stone_wall()
    inside = line_at((0, 3.59, 1.18), X, -Z, [(0, 1.6)], WIDE)
    across = line_at((0.8, 3.8, 1.18), -Y, -Z, [(0, 1.0)], WIDE)
    for line in (inside, across):
        with pytest.raises(ValueError, match="inside the relief of main, which stands out"):
            light(lit_by([surface], line), names=("main",))
