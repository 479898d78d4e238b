"""Ceilings, coves' backs, ends and work planes: closed forms and even light."""

import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.measure.ceiling_profile import bounced_numbers, ceiling_numbers, ceiling_profile
from rakelight.measure.cove_back import cove_back, shown_from_m
from rakelight.measure.ends import DARK, ends_along
from rakelight.measure.of_runs import measure_runs
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import run_section
from rakelight.measure.work_plane import work_plane, work_plane_numbers
from rakelight.scene.lit import Lit
from rakelight.scene.quality import Quality
from reference.cut_rooms import LENGTH, board, room_with, run_at, shell
from reference.mountings import box
from reference.plain_rooms import box_room

DEPTH, HEIGHT = 4.8, 2.7


def long_run_lx(normal_m, rho_m, x_m):
    """A run of 1000 cos(a) cd/m over the wall's whole length, alike all round (closed form).

    E = I n rho [F(u2) - F(u1)], F = u / (2 rho^2 (rho^2 + u^2)) + atan(u / rho) / (2 rho^3), n
    the distance along the receiver's normal (line-source formula, re-derived by quadrature).
    """

    def part(u):
        return u / (2 * rho_m**2 * (rho_m**2 + u**2)) + np.arctan(u / rho_m) / (2 * rho_m**3)

    return 1000 * normal_m * rho_m * (part(LENGTH - x_m) - part(-x_m))


def even_lit(room, lx, bounced=None):
    """The same illuminance on every surface; `bounced` is the part that came by bounce."""
    zeros = {s.name: np.zeros((s.grid.rows, s.grid.columns), np.float32) for s in room.surfaces}
    direct_lx = {n: np.full((1, *z.shape), lx - (bounced or 0), np.float32)
                 for n, z in zeros.items()}  # fmt: skip
    rest = {} if bounced is None else {n: z + np.float32(bounced) for n, z in zeros.items()}
    return Lit(direct_lx, {}, rest, zeros, np.ones(1), np.ones((1, 3)))


def test_throw_of_a_long_run_below_a_ceiling():
    # E = (pi / 2) I d / (d^2 + y^2) from a long run that shines alike all round, d below the
    # ceiling (closed form): half at y = d, a tenth at y = 3 d, each from the run
    d, at = 0.4, 0.2
    plan, line = run_at(at, HEIGHT - d, 1e-4, up=True)
    room = room_with(shell(DEPTH, HEIGHT, 0.1), line)
    section = run_section(room, plan, room.lines()[0])
    light = RoomLight(room, direct(prepare(room, Quality(steps=96))))
    found = ceiling_profile(section, light)
    # the run is 8 m long, not endless: 0.3 % short at a tenth
    throw = found.throw()
    assert throw.peak_m < 0.02
    assert throw.half_m == pytest.approx(d, rel=0.01)
    assert throw.tenth_m == pytest.approx(3 * d, rel=0.02)
    numbers = {n.key: n.value for n in ceiling_numbers(section, light, found)}
    far = long_run_lx(d, np.hypot(d, DEPTH - at), LENGTH / 2)
    assert numbers["run.L1.ceiling.far_lx"] == pytest.approx(far, rel=0.01)
    assert numbers["run.L1.ceiling.half_m"] == throw.half_m
    assert "run.L1.ceiling.bounced_share" not in numbers


def test_every_light_counts_but_the_throw_is_the_run_s_own():
    plan, line = run_at(0.2, 2.3, 0.02, up=True)
    room = room_with(shell(DEPTH, HEIGHT, 0.1), line)
    light = RoomLight(room, even_lit(room, 100.0, bounced=30.0))
    section = run_section(room, plan, room.lines()[0])
    found = ceiling_profile(section, light)
    numbers = {n.key: n.value for n in ceiling_numbers(section, light, found)}
    assert numbers["run.L1.ceiling.max_to_min"] == pytest.approx(1, abs=1e-5)
    assert numbers["run.L1.ceiling.far_lx"] == pytest.approx(100)
    assert numbers["run.L1.ceiling.bounced_share"] == pytest.approx(0.3, abs=1e-5)
    assert numbers["run.L1.ceiling.half_m"] < 1  # not endless
    shares = {n.key: n.value for n in bounced_numbers(light)}
    assert shares["floor.bounced_share"] == pytest.approx(0.3, abs=1e-5)


def cove(lip_m):
    plan, line = run_at(0.1, 2.4, 0.02, up=True)
    plan = plan.__class__(**{**_fields(plan), "along": "cove C1"})
    room = room_with([*shell(DEPTH, HEIGHT, 0.1), *board("cove C1", 0.25, lip_m, 2.2)], line)
    return room, run_section(room, plan, room.lines()[0])


def _fields(record):
    return {name: getattr(record, name) for name in record.__dataclass_fields__}


def test_what_shows_over_a_lip_is_what_the_tallest_eye_at_the_far_wall_sees():
    _, section = cove(2.45)
    # similar triangles: from (4.8, 1.8) over (0.25, 2.45) on to the wall
    rise = (2.45 - 1.8) / (4.8 - 0.25)
    lowest = 2.45 + 0.25 * rise
    # the shortest eye looks up more steeply: it sees less
    assert shown_from_m(section) == pytest.approx(lowest, abs=1e-5)


def test_a_back_is_weighed_against_the_brightest_ceiling():
    room, section = cove(2.45)
    lit = even_lit(room, 100.0)
    for factor, says in ((1.0, "is in balance"), (4.0, "draws the eye"), (0.05, "looks unfilled")):
        light = RoomLight(room, lit)
        lit.direct_lx["main"][...] = 100.0 * factor
        found = cove_back(section, light, ceiling_profile(section, light))
        assert found.ratio == pytest.approx(factor, rel=1e-5)  # alike in reflectance
        assert found.says == says
    assert cove_back(run_section(room, run_at(0.1, 2.4, 0.02)[0], room.lines()[0]), light,
                     None) is None  # fmt: skip


def test_ends_of_a_line_of_light():
    at = np.linspace(0, 8, 801)
    lx = np.full(801, 200.0)
    lx[at > 7.7] = 40.0
    lx[(at > 0.2) & (at < 0.3)] = 120.0  # the shadow of a gap near a corner
    start, end = ends_along(at, lx)
    assert (start.share, start.least, start.dark_m) == pytest.approx((1.0, 0.6, 0.0))
    assert end.share == pytest.approx(0.2)
    assert end.dark_m == pytest.approx(0.3, abs=0.011)
    assert DARK == 0.5


def test_a_run_that_stops_short_leaves_dark_ends():
    plan, line = run_at(0.2, 2.4, 0.02, up=True)
    short = line.__class__(**{**_fields(line), "lit_m": np.array([[0.0, 5.0]])})
    room = room_with(shell(DEPTH, HEIGHT, 0.05), short)
    numbers = {
        n.key: n.value for n in measure_runs(room, [plan], direct(prepare(room, Quality(steps=48))))
    }
    assert numbers["run.L1.ends.end_dark_m" if _to_right(room, short) else
                   "run.L1.ends.start_dark_m"] > 2.0  # fmt: skip
    other = "run.L1.ends.start_share" if _to_right(room, short) else "run.L1.ends.end_share"
    # half of a long run is missing right at its end: a little over half is left
    assert 0.45 < numbers[other] < 0.7


def _to_right(room, line):
    return line.axis @ room.surface("main").frame.u > 0


def test_even_surfaces_give_a_work_plane_what_leaves_them():
    # every surface gives 60 lm/m2 (120 lx on 0.5): the plane above the floor sees them all round
    room = box_room(6.0, 5.0, 2.8, 0.5)
    light = RoomLight(room, even_lit(room, 120.0, bounced=50.0))
    found = work_plane(light, 0.75)
    assert found.bounced_lx == pytest.approx(60.0, rel=0.01)
    assert found.points_m[:, 2] == pytest.approx(0.75)
    assert found.points_m[:, 0].min() > 0.5
    assert found.points_m[:, 0].max() < 5.5
    numbers = {n.key: n.value for n in work_plane_numbers(light)}
    assert numbers["work_plane.uniformity"] > 0.98


def test_direct_light_alone_is_called_so():
    _, line = run_at(2.4, 2.4, 0.02)
    room = room_with(shell(DEPTH, HEIGHT, 0.2), line)
    light = RoomLight(room, direct(prepare(room, Quality(steps=48))))
    keys = {n.key for n in work_plane_numbers(light)}
    assert "work_plane.direct.average_lx" in keys
    assert "work_plane.average_lx" not in keys
    found = work_plane(light, 0.75)
    x, y = found.points_m[:, 0], found.points_m[:, 1]
    expected = long_run_lx(2.4 - 0.75, np.hypot(y - 2.4, 2.4 - 0.75), x)
    assert found.direct_lx == pytest.approx(expected, rel=0.01)


def test_points_inside_of_a_bench_are_left_out_and_its_shadow_counts():
    _, line = run_at(2.4, 2.4, 0.02)
    bench = [f for f in box("bench B1", (3.0, 2.0, 0.0), (5.0, 3.0, 1.1))
             if not f.name.endswith("foot")]  # fmt: skip
    room = room_with([*shell(DEPTH, HEIGHT, 0.2), *bench], line)
    light = RoomLight(room, direct(prepare(room, Quality(steps=48))))
    found = work_plane(light, 0.75)
    x, y = found.points_m[:, 0], found.points_m[:, 1]
    assert not ((x > 3.0) & (x < 5.0) & (y > 2.0) & (y < 3.0)).any()
    beside = (np.abs(x - 4.0) < 0.6) & (np.abs(y - 3.4) < 0.4)
    free = work_plane(RoomLight(room_with(shell(DEPTH, HEIGHT, 0.2), line), light.lit), 0.75)
    there = (np.abs(free.points_m[:, 0] - 4.0) < 0.6) & (np.abs(free.points_m[:, 1] - 3.4) < 0.4)
    assert found.direct_lx[beside].mean() <= free.direct_lx[there].mean()
    assert work_plane(light, 2.75) is None  # over the ceiling
