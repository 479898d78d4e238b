import hashlib
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rakelight.build.bodies import triangulate
from rakelight.picture import draw as draw_module
from rakelight.picture.draw import backdrop_of, draw
from rakelight.picture.geometry import geometry
from rakelight.picture.view import rays
from rakelight.scene.camera import Camera
from rakelight.scene.surfaces import Body, Room
from reference.picture_rooms import (
    DEPTH_M,
    UP,
    box,
    bumpy,
    evenly_lit,
    facing_main,
    main_wall,
    plane,
)

# Pinhole, frame 36 mm wide, 1920 x 1080, f 18 mm at (2.4, 0.3, 1.6) toward the wall y = 3.6:
# px = 960 + f/36 1920 (X - 2.4)/3.3, py = 540 - f/36 1920 (Z - 1.6)/3.3, by hand
PLACES = [
    ((0, 0), (261.818, 1005.455), 932.727),
    ((4.8, 0), (1658.182, 1005.455), 932.727),
    ((0, 2.7), (261.818, 220.000), 147.273),
    ((4.8, 2.7), (1658.182, 220.000), 147.273),
    ((2.4, 1.35), (960.000, 612.727), 540.000),
    ((1.2, 2.0), (610.909, 423.636), 350.909),
]
SHIFT_MM = -18 * 0.25 / 3.3  # brings Z = 1.35 to the middle: 1.3636 mm on the frame


@pytest.mark.parametrize(("xz", "plain", "shifted"), PLACES)
def test_points_land_where_the_pinhole_puts_them(xz, plain, shifted):
    point = np.array([xz[0], 3.6, xz[1]])
    assert facing_main().pixels(point) == pytest.approx(plain, abs=1e-3)
    x, y = facing_main(shift_mm=SHIFT_MM).pixels(point)
    assert (x, y) == pytest.approx((plain[0], shifted), abs=1e-3)


def tilted_camera():
    forward = np.array([0.3, 0.9, -0.2])
    forward /= np.linalg.norm(forward)
    up = UP - (UP @ forward) * forward
    eye = np.array([1.2, -0.4, 1.7])
    return Camera("tilted", eye, forward, up / np.linalg.norm(up), 24.0, 1.5, 640, 400)


@pytest.mark.parametrize("camera", [facing_main(shift_mm=SHIFT_MM), tilted_camera()])
def test_rays_undo_the_projection(camera):
    x, y = np.array([0.5, 300.25, 639.5]), np.array([12.0, 200.0, 399.5])
    points = camera.eye_m + 2.7 * rays(camera, x, y)
    assert camera.pixels(points) == pytest.approx(np.stack([x, y], -1), abs=1e-9)


@pytest.mark.parametrize("shift_mm", [0.0, SHIFT_MM])
def test_drawn_edges_lie_within_a_hundredth_of_a_pixel(shift_mm):
    # a board whose four edges fall between pixels; the shares of its edge pixels say where
    camera = facing_main(shift_mm=shift_mm)
    low, high = np.array([1.2007, 0.9013]), np.array([3.4011, 2.1017])
    board = Body(
        "board", "housing",
        np.array([[low[0], 3.0, low[1]], [high[0], 3.0, low[1]],
                  [high[0], 3.0, high[1]], [low[0], 3.0, high[1]]]),
        np.array([[0, 1, 2], [0, 2, 3]]), np.full(3, 0.1),
    )  # fmt: skip
    view = draw(box(bodies=(board,)), camera, 2)
    index = view.names.index("board")
    cover = (view.ids[::2, ::2] == index).astype(float)
    cover.reshape(-1)[view.edges] = (view.edge_shares * (view.edge_owners == index)).sum(axis=1)
    corners = camera.pixels(board.points_m)
    size = corners.max(axis=0) - corners.min(axis=0)
    # along a row and a column through the middle the covered length is the board's
    assert cover[500].sum() == pytest.approx(size[0], abs=0.13)  # shares come in eighths
    assert cover[:, 900].sum() == pytest.approx(size[1], abs=0.13)
    # and over the whole board the eighths average out: its centroid is in place
    y, x = np.mgrid[0:1080, 0:1920] + 0.5
    centre = np.array([(cover * x).sum(), (cover * y).sum()]) / cover.sum()
    assert centre == pytest.approx(corners.mean(axis=0), abs=0.07)


def test_each_sample_sees_the_triangle_that_its_ray_meets():
    # a mesh of cells smaller than a pixel: a drawing off by 0.01 px shows neighbours
    camera = facing_main(lens_mm=60.0, shift_mm=2.5, width_px=480, height_px=270)
    wall = main_wall(bumpy(step_m=0.004, depth_m=1e-6))
    view = draw(Room((wall,), ()), camera, 1)
    y, x = np.mgrid[0:270, 0:480] + 0.5
    hits = rays(camera, x, y)
    hits = camera.eye_m + hits * (3.3 / hits[..., 1:2])
    assert view.ids.min() == 0
    off_px = np.abs(np.stack([view.u_m - hits[..., 0], view.v_m - hits[..., 2]]))
    per_m = 60 / 36 * 480 / 3.3
    assert (off_px * per_m).max() < 0.01


def test_walls_behind_which_the_eye_stands_are_left_out():
    eye = np.array([2.4, -1.0, 1.6])
    camera = Camera("out", eye, np.array([0.0, 1.0, 0.0]), UP, 24.0, 0.0, 160, 90)
    view = draw(box(), camera, 1)
    assert "opposite" not in {view.names[i] for i in np.unique(view.ids) if i >= 0}
    assert view.names[view.ids[45, 80]] == "main"


def test_no_ray_into_the_room_finds_a_hole_beside_a_hollow_relief():
    # the border of this relief lies behind the plane at which the side walls end
    relief = bumpy(step_m=0.02, depth_m=0.04)
    hollow = np.minimum(relief.heights_m, 0) - np.float32(0.01)
    sunk = type(relief)(hollow, relief.grid, relief.mask, -0.06, (0.7, 0.27), "sunk")
    eye = np.array([4.5, 2.0, 1.35])
    forward = np.array([-0.93, 0.37, 0.0]) / np.hypot(0.93, 0.37)
    view = draw(box(main_wall(sunk)), Camera("side", eye, forward, UP, 24.0, 0, 320, 180), 2)
    assert (view.ids >= 0).all()


def test_the_figure_turns_to_the_eye_and_can_be_left_out():
    outline = np.array([[-0.25, 0], [0.25, 0], [0.25, 1.7], [-0.25, 1.7]])
    points = np.column_stack([outline[:, 0] + 1.0, np.full(4, 2.0), outline[:, 1]])
    figure = Body("figure", "figure", points, triangulate(outline), np.full(3, 0.05))
    eye = np.array([4.6, 2.0, 1.5])  # sees the board from its narrow side
    camera = Camera("side", eye, np.array([-1.0, 0.0, 0.0]), UP, 24.0, 0.0, 320, 180)
    room = box(bodies=(figure,))
    seen = draw(room, camera, 1)
    width_px = (seen.ids == seen.names.index("figure")).any(axis=0).sum()
    assert width_px == pytest.approx(0.5 / 3.6 * 24 / 36 * 320, abs=1.5)
    assert not (draw(room, camera, 1, figure=False).ids == seen.names.index("figure")).any()


def board(x_m, y_m):
    """An upright board facing the camera, 0.6 m by 0.5 m."""
    outline = np.array([[0.0, 0.0], [0.6, 0.0], [0.6, 0.5], [0.0, 0.5]])
    points = np.column_stack([outline[:, 0] + x_m, np.full(4, y_m), outline[:, 1] + 1.0])
    return Body("board", "housing", points, triangulate(outline), np.full(3, 0.05))


def test_bodies_over_a_backdrop_are_drawn_as_if_all_were_drawn_at_once():
    camera = facing_main(width_px=320, height_px=180)
    room = box(main_wall(bumpy(step_m=0.02)))
    backdrop = backdrop_of(room, camera)
    # before the relief, half in it, and one before the other
    rooms = [
        replace(room, bodies=bodies)
        for bodies in (
            (board(1.0, 2.0),),
            (board(2.0, DEPTH_M - 0.005),),
            (board(1.2, 2.5), board(1.0, 2.0)),
            (),
        )
    ]
    for other in rooms:
        alone, over = draw(other, camera), draw(other, camera, backdrop=backdrop)
        assert over.names == alone.names
        for name in ("ids", "u_m", "v_m", "edges", "edge_owners", "edge_shares"):
            assert np.array_equal(getattr(over, name), getattr(alone, name)), name
    with pytest.raises(ValueError, match="another room or camera"):
        draw(box(main_wall(bumpy(step_m=0.02))), camera, backdrop=backdrop)
    with pytest.raises(ValueError, match="another room or camera"):
        draw(room, replace(camera, shift_mm=1.0), backdrop=backdrop)
    assert backdrop.fits(room, replace(camera, name="other"), 2)


def test_an_l_shaped_wall_is_drawn_as_its_shape():
    wall = main_wall()
    corners = np.array([[0, 0], [4, 0], [4, 1], [1, 1], [1, 2.5], [0, 2.5]], float)
    camera = facing_main(width_px=240, height_px=135)
    view = draw(Room((replace(wall, corners_uv_m=corners),), ()), camera, 2)
    area_m2 = (view.ids == 0).sum() * (3.3 / 18 * 36 / 480) ** 2
    assert area_m2 == pytest.approx(4 + 1.5, rel=0.01)
    u, v = view.u_m[view.ids == 0], view.v_m[view.ids == 0]
    assert not ((u > 1.01) & (v > 1.01)).any()


def test_a_relief_beyond_the_drawing_is_thinned_not_refused(monkeypatch):
    monkeypatch.setattr("rakelight.picture.geometry.MOST_TRIANGLES", 4000)
    shapes = geometry(Room((main_wall(bumpy(step_m=0.02)),), ()), facing_main())
    assert len(shapes.triangles) < 6000
    assert shapes.places_m.max(axis=0) == pytest.approx([4.8, 2.7])


def test_bands_do_not_show(monkeypatch):
    camera = facing_main(width_px=200, height_px=150)
    room = box(main_wall(bumpy()))
    whole = draw(room, camera, 2)
    monkeypatch.setattr(draw_module, "_STRIP_SAMPLES", 400 * 7)
    banded = draw(room, camera, 2)
    for name in ("ids", "u_m", "v_m", "edge_shares"):
        assert np.array_equal(getattr(whole, name), getattr(banded, name))


SCRIPT = """
import hashlib
from reference.picture_rooms import *
from rakelight.picture.draw import draw
from rakelight.picture.shade import develop, shade
room = box(main_wall(bumpy()))
view = draw(room, facing_main(width_px=320, height_px=180), 2)
picture = develop(shade(view, room, evenly_lit(room)), 8.0)
print(hashlib.sha256(view.u_m.tobytes() + view.ids.tobytes() + picture.tobytes()).hexdigest())
"""


def test_same_bytes_whatever_the_number_of_threads():
    found = set()
    for threads in ("1", "2"):
        env = {
            **os.environ,
            "NUMBA_NUM_THREADS": threads,
            "PYTHONPATH": str(Path(__file__).parents[1]),
        }
        run = subprocess.run(
            [sys.executable, "-c", SCRIPT], env=env, capture_output=True, text=True, check=True
        )
        found.add(run.stdout)
    assert len(found) == 1
    assert len(next(iter(found)).strip()) == len(hashlib.sha256().hexdigest())


def test_a_picture_needs_no_display_and_no_graphics_library():
    script = """
import sys
import time
from reference.picture_rooms import box, facing_main
from rakelight.picture.draw import draw
draw(box(), facing_main(width_px=32, height_px=18), 1)
print([name for name in sys.modules if name.startswith(("vtk", "pyvista"))])
"""
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
    env.pop("DISPLAY", None)
    run = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True)
    assert run.stdout.strip() == "[]"
    assert run.stderr == ""


def test_a_floor_that_runs_on_behind_the_eye_is_drawn_up_to_the_near_plane():
    # two triangles, each with corners before and behind the eye
    eye = np.array([2.4, 1.8, 1.6])
    camera = Camera("in", eye, np.array([0.0, 1.0, 0.0]), UP, 14.0, 0.0, 320, 240)
    view = draw(box(), camera, 1)
    y, x = np.mgrid[0:240, 0:320] + 0.5
    ray = rays(camera, x, y)
    spot = eye + ray * (-eye[2] / np.minimum(ray[..., 2:3], -1e-9))
    floor = (ray[..., 2] < -1e-6) & (spot[..., 1] < 3.6) & (np.abs(spot[..., 0] - 2.4) < 2.4)
    assert (view.ids[floor] == view.names.index("floor")).all()
    assert np.abs(view.u_m - spot[..., 0])[floor].max() < 1e-6
    assert (view.ids >= 0).all()


def test_no_ray_slips_between_the_triangles_of_a_bumpy_wall():
    camera = facing_main(lens_mm=70.0, width_px=400, height_px=300)
    wall = main_wall(bumpy(step_m=0.01, depth_m=0.03))
    view = draw(Room((wall,), ()), camera, 2)
    assert (view.ids == 0).all()


@pytest.mark.parametrize("supersample", [0, 9])
def test_samples_out_of_range_are_refused(supersample):
    with pytest.raises(ValueError, match="1 to 8"):
        draw(box(), facing_main(), supersample)


def test_a_room_with_nothing_in_sight_draws_nothing():
    away = Room((plane("behind", (0, 0, 0), (-1, 0, 0), (0, 0, 1), 2, 2),), ())
    view = draw(away, facing_main(width_px=32, height_px=18), 1)
    assert (view.ids == -1).all()
    assert evenly_lit(away).total_lx("behind").max() == 500


def test_a_fine_wall_that_runs_on_behind_the_eye_is_the_same_surface_and_costs_little():
    # along the wall from inside the room: half of its cells lie behind the eye, some across it
    relief = bumpy(0.01, depth_m=1e-9)
    forward = np.array([0.9805806757, 0.1961161351, 0.0])
    camera = Camera("along", np.array([2.4, 3.3, 1.4]), forward, UP, 18.0, 0.0, 960, 540)
    fine, plain = draw(box(main_wall(relief)), camera, 1), draw(box(), camera, 1)
    same = fine.ids == plain.ids
    assert (~same).sum() <= 2 * (540 + 960)  # samples on the border between two surfaces
    main = same & (plain.ids == 0)
    assert main.sum() > 50_000
    np.testing.assert_allclose(fine.u_m[main], plain.u_m[main], atol=2e-5)
    started = time.process_time()
    draw(box(main_wall(relief)), camera, 1)
    # cells behind the eye are left out: at first they were looked at in every sample, for minutes
    assert time.process_time() - started < 10
