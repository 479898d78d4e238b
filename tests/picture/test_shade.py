from dataclasses import replace

import numpy as np
import pytest

from rakelight.picture import shade as shade_module
from rakelight.picture.around import patches
from rakelight.picture.draw import backdrop_of, draw
from rakelight.picture.exposure import automatic_ev100, peak_cd_m2
from rakelight.picture.finish import FULL, finishes, pyramid, reflectances
from rakelight.picture.shade import develop, shade
from rakelight.picture.tone import WHITE, curve, from_pixels, srgb_decode, srgb_encode
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.lit_line import LightGroup
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.surfaces import Body
from reference.picture_rooms import (
    UP,
    box,
    bumpy,
    cosine_line,
    evenly_lit,
    facing_main,
    main_wall,
    with_opening,
)

FLAT_CD_M2 = 79.5775  # rho E / pi for rho 0.5 and E 500 lx


def stone(rows=96, columns=128, seed=1, **more):
    rng = np.random.default_rng(seed)
    linear = np.clip(rng.normal(0.4, 0.15, (rows, columns, 1)), 0.02, 0.95)
    encoded = np.round(255 * srgb_encode(np.repeat(linear, 3, axis=2))).astype(np.uint8)
    return ReflectanceMap(encoded, more.pop("scale", 1.0), 0.8, 0.6, **more)


def block_means(image, size=16):
    rows, columns = (n // size * size for n in image.shape)
    cut = image[:rows, :columns]
    return cut.reshape(rows // size, size, columns // size, size).mean(axis=(1, 3))


def test_a_flat_wall_reads_back_from_floats_and_from_pixels():
    room = box()
    view = draw(room, facing_main(width_px=480, height_px=270), 2)
    picture = shade(view, room, evenly_lit(room))
    on_wall = picture.ids == 0
    luminance = picture.luminance_cd_m2()
    assert np.abs(luminance[on_wall] / FLAT_CD_M2 - 1).max() < 0.002
    ev100 = automatic_ev100([picture.of(view, ("main",))], WHITE)
    pixels = develop(picture, ev100)
    assert on_wall[70:240, 80:400].all()
    read = block_means(from_pixels(pixels, ev100)[70:240, 80:400])
    assert np.abs(read / FLAT_CD_M2 - 1).max() < 0.02


def test_a_textured_walls_mean_survives_the_pixels():
    room = box(main_wall(bumpy(), reflectance_map=stone()))
    grid = room.surfaces[0].grid
    lit = evenly_lit(room)
    # a graze: bright above, shadows of the bumps below
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    graze = 40 + 1500 * np.exp((v - 2.7) / 0.5) * (np.sin(37 * v + 3 * u) > -0.2)
    direct = {**lit.direct_lx, "main": graze[None].astype(np.float32)}
    lit = Lit(direct, {}, {}, lit.other_lx, lit.output, lit.white_rgb)
    view = draw(room, facing_main(width_px=480, height_px=270), 2)
    picture = shade(view, room, lit)
    where = picture.ids == 0
    ev100 = automatic_ev100([picture.of(view, ("main",))], WHITE)
    read = from_pixels(develop(picture, ev100), ev100)[where].mean()
    assert read == pytest.approx(picture.luminance_cd_m2()[where].mean(), rel=0.02)


def test_illuminance_is_linear_between_vertices():
    room = box()
    grid = room.surfaces[0].grid
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    ramp = (100 + 50 * u + 30 * v).astype(np.float32)
    lit = evenly_lit(room)
    lit = Lit(
        {**lit.direct_lx, "main": ramp[None]}, {}, {}, lit.other_lx, lit.output, lit.white_rgb
    )
    view = draw(room, facing_main(width_px=160, height_px=90), 1)
    picture = shade(view, room, lit)
    here = picture.ids == 0
    expected = (100 + 50 * view.u_m + 30 * view.v_m)[here] * 0.5 / np.pi
    assert picture.luminance_cd_m2()[here] == pytest.approx(expected, rel=1e-5)


def test_dim_and_colour_are_applied():
    room = box()
    warm = np.array([1.0, 0.5, 0.2])
    warm = warm / (warm @ [0.2126, 0.7152, 0.0722])
    view = draw(room, facing_main(width_px=64, height_px=36), 1)
    picture = shade(view, room, evenly_lit(room, 500.0, (0.25,), (tuple(warm),)))
    assert picture.rgb_cd_m2[20, 32] == pytest.approx(warm * FLAT_CD_M2 / 4, rel=1e-4)


@pytest.mark.parametrize("size", [(64, 64), (50, 77), (1, 9), (33, 2)])
def test_every_level_of_the_pyramid_keeps_the_mean(size):
    source = stone(*size)
    made = pyramid(source)
    mean = srgb_decode(source.encoded / 255).mean()
    assert tuple(made.sizes[0, 1:]) == size
    assert tuple(made.sizes[-1, 1:]) == (1, 1)
    for first, rows, columns in made.sizes:
        level = made.texels[first : first + rows * columns] / FULL
        assert level.mean() == pytest.approx(mean, rel=2e-4)


def test_a_map_seen_from_far_shows_its_mean_without_sparkle():
    checks = np.indices((256, 256)).sum(axis=0) % 2  # finer than any pixel here
    encoded = np.repeat(np.where(checks, 255, 0).astype(np.uint8)[..., None], 3, axis=2)
    room = box(main_wall(reflectance_map=ReflectanceMap(encoded, 0.8, 0.3, 0.3)))
    eye = np.array([0.15, 2.2, 1.4])  # slanted, along the wall
    forward = np.array([0.9, 0.44, 0.0]) / np.hypot(0.9, 0.44)
    view = draw(room, Camera("along", eye, forward, UP, 24.0, 0.0, 320, 180), 2)
    picture = shade(view, room, evenly_lit(room))
    luminance = picture.luminance_cd_m2()[picture.ids == 0]
    assert luminance.mean() == pytest.approx(0.8 * 0.5 * 500 / np.pi, rel=0.01)
    assert luminance.std() / luminance.mean() < 0.05


@pytest.mark.parametrize("mirror", [False, True])
def test_the_map_lies_on_the_wall_where_it_says(mirror):
    # one bright quarter: lower left of each copy, which mirrored copies turn around
    encoded = np.zeros((64, 64, 3), np.uint8)
    encoded[:32, :32] = 255
    room = box(main_wall(reflectance_map=ReflectanceMap(encoded, 1.0, 1.2, 1.2, mirror)))
    view = draw(room, facing_main(width_px=480, height_px=270), 1)
    picture = shade(view, room, evenly_lit(room))
    bright = picture.luminance_cd_m2() > 0.5 * 500 / np.pi
    u, v = view.u_m / 1.2, view.v_m / 1.2
    if mirror:
        u, v = (np.where(np.mod(x, 2) < 1, np.mod(x, 2), 2 - np.mod(x, 2)) for x in (u, v))
    expected = (np.mod(u, 1) < 0.5) & (np.mod(v, 1) < 0.5)
    here = picture.ids == 0
    assert np.mean(bright[here] != expected[here]) < 0.02


def test_an_opening_glows_as_its_distribution_says():
    room = with_opening(0.2)
    eye = np.array([2.4, 3.0, 0.4])  # straight below
    camera = Camera("up", eye, UP, np.array([0.0, 1.0, 0.0]), 24.0, 0.0, 320, 180)
    view = draw(room, camera, 1)
    picture = shade(view, room, evenly_lit(room, 0.0, (0.5,)))
    seen = picture.luminance_cd_m2()[view.ids == view.names.index("opening")]
    # I' = 1000 cos(gamma) cd/m over 0.2 m x cos(gamma), dimmed to a half: 2500 from anywhere
    assert seen.size > 1000
    assert np.median(seen) == pytest.approx(2500, rel=2e-3)
    assert seen.max() < 2500 * 1.01


def test_an_opening_seen_from_behind_is_dark():
    room = with_opening(0.2)
    eye = np.array([2.4, 3.0, 2.68])
    camera = Camera("down", eye, -UP, np.array([0.0, 1.0, 0.0]), 24.0, 0.0, 64, 36)
    view = draw(room, camera, 1)
    picture = shade(view, room, evenly_lit(room, 0.0))
    seen = picture.rgb_cd_m2[view.ids == view.names.index("opening")]
    assert seen.size
    assert seen.max() == 0


def test_a_face_in_an_evenly_lit_room_receives_what_its_walls_send():
    # all surfaces of one exitance M: E = M on any face anywhere (closure of form factors)
    surfaces = tuple(replace(s, reflectance_rgb=np.full(3, 0.5)) for s in box().surfaces)
    room = replace(box(), surfaces=surfaces)
    around = patches(room, evenly_lit(room, 200.0))
    for normal in ([0, 0, 1], [0, -1, 0], [0.6, 0.64, 0.48]):
        lx = around.received_lx(np.array([1.9, 1.4, 1.2]), np.array(normal, float))
        assert lx == pytest.approx(100.0, rel=0.03)


def test_a_housing_shows_what_the_room_reflects_to_it():
    corners = np.array([[1, 2, 0.5], [3, 2, 0.5], [3, 2, 2], [1, 2, 2]], float)
    board = Body("b", "housing", corners, np.array([[0, 1, 2], [0, 2, 3]]), np.full(3, 0.1))
    room = box(bodies=(board,))
    lit = evenly_lit(room, 200.0)
    view = draw(room, facing_main(width_px=64, height_px=36), 1)
    seen = shade(view, room, lit).luminance_cd_m2()[view.ids == view.names.index("b")]
    lx = patches(room, lit).received_lx(np.array([2.0, 2.0, 1.25]), np.array([0.0, -1.0, 0.0]))
    assert 0.2 * 200 < lx < 0.8 * 200
    assert np.median(seen) == pytest.approx(0.1 * lx / np.pi, rel=1e-4)
    dark = shade(view, room, evenly_lit(room, 0.0)).luminance_cd_m2()
    assert dark.max() == 0


def test_silhouettes_are_averaged_after_the_curve():
    room = with_opening(0.2)
    eye = np.array([2.4, 1.0, 0.6])
    forward = np.array([0.0, 0.7, 0.71]) / np.hypot(0.7, 0.71)
    up = np.array([0.0, -0.71, 0.7]) / np.hypot(0.7, 0.71)
    view = draw(room, Camera("up", eye, forward, up, 28.0, 0.0, 320, 180), 2)
    picture = shade(view, room, evenly_lit(room, 100.0, (0.5,)))
    ev100 = 6.0
    pixels = develop(picture, ev100, dither=False)
    k = np.argmax(picture.edge_shares.min(axis=1, initial=1, where=picture.edge_shares > 0))
    row, column = divmod(int(picture.edges[k]), 320)
    level = picture.edge_cd_m2[k] @ [0.2126, 0.7152, 0.0722] / peak_cd_m2(ev100)
    shown = (curve(level) * picture.edge_shares[k]).sum()
    assert pixels[row, column, 0] == pytest.approx(255 * srgb_encode(shown), abs=0.6)
    assert picture.edge_shares.sum(axis=1) == pytest.approx(1, abs=1e-5)


def test_bands_make_no_difference(monkeypatch):
    room = box(main_wall(bumpy(), reflectance_map=stone()))
    view = draw(room, facing_main(width_px=160, height_px=90), 2)
    lit = evenly_lit(room)
    whole = shade(view, room, lit, finishes(room))
    pixels = develop(whole, 8.0)
    monkeypatch.setattr(shade_module, "_BAND_SAMPLES", 320 * 13)
    banded = shade(view, room, lit)
    assert (whole.rgb_cd_m2 == banded.rgb_cd_m2).all()
    assert (whole.edge_cd_m2 == banded.edge_cd_m2).all()
    assert (pixels == develop(banded, 8.0)).all()


def test_reflectances_found_once_serve_every_picture_of_the_view():
    room = box(main_wall(bumpy(), reflectance_map=stone()))
    finish = finishes(room)
    backdrop = backdrop_of(room, facing_main(width_px=160, height_px=90), 2)
    seen = backdrop.seen
    kept = reflectances(seen.ids, seen.u, seen.v, room, finish)
    view = draw(room, facing_main(width_px=160, height_px=90), 2, backdrop=backdrop)
    for lux in (80.0, 300.0):
        lit = evenly_lit(room, lux)
        anew = shade(view, room, lit, finish)
        again = shade(view, room, lit, finish, reflectance=kept)
        assert (anew.rgb_cd_m2 == again.rgb_cd_m2).all()
        assert (anew.edge_cd_m2 == again.edge_cd_m2).all()
    assert np.ptp(kept[seen.ids == 0]) > 0.1 * kept.max()


def test_surfaces_that_share_a_map_share_its_pyramid():
    source = stone()
    room = box(main_wall(reflectance_map=source))
    twice = type(room)((room.surfaces[0], main_wall(reflectance_map=source)), ())
    assert len({id(p) for p in finishes(twice).values()}) == 1


def test_the_line_of_these_tests_is_what_it_says():
    down = np.array([[0.0, 0.0, -1.0]])
    assert cosine_line().candela_per_metre(down)[0] == pytest.approx(1000)


def test_a_meshs_top_stands_in_the_runs_light_and_its_underside_does_not():
    # a box under a run that shines down: 1000 cd/m cosine, closed form for a point under it
    line = cosine_line()
    low, high = np.array([2.2, 2.8, 0.8]), np.array([2.6, 3.2, 1.0])
    corners = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)], float)
    points = low + corners * (high - low)
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (1, 3, 7, 5), (3, 2, 6, 7), (2, 0, 4, 6)]
    faces = np.array([t for a, b, c, d in quads for t in ([a, b, c], [a, c, d])])
    crate = Body("mesh M1", "mesh", points, faces, np.full(3, 0.5))
    group = LightGroup((line,), 0.5, 1.0, np.ones(3), 4000.0)
    room = box(bodies=(crate,), groups=(group,))
    lit = evenly_lit(room, lx=0.0, output=(0.5,))
    eye = np.array([2.4, 0.6, 2.2])
    forward = np.array([2.4, 3.0, 0.95]) - eye
    forward /= np.linalg.norm(forward)
    up = UP - (UP @ forward) * forward
    camera = Camera("test", eye, forward, up / np.linalg.norm(up), 35.0, 0.0, 320, 200)
    view = draw(room, camera, 2)
    picture = shade(view, room, lit)
    face = view.u_m[::2, ::2][picture.ids == len(room.surfaces)].astype(int)
    shown = picture.luminance_cd_m2()[picture.ids == len(room.surfaces)]
    top = shown[np.isin(face, [2, 3])]
    assert top.size > 200
    # a line 4 m long, 1.6 m over the face, summed here
    u = (np.arange(4000) + 0.5) / 1000 - 2.0
    middles = points[faces[2:4]].mean(axis=1)
    for k, middle in zip((2, 3), middles, strict=True):
        away = np.stack([0.4 + 2.0 + u - middle[0], 0 * u + 3.0 - middle[1], 0 * u + 1.6], -1)
        far = np.linalg.norm(away, axis=1)
        lx = (1000 * (away[:, 2] / far) * (away[:, 2] / far) / far**2).sum() / 1000
        expected = 0.5 * lx * 0.5 / np.pi
        assert np.median(shown[face == k]) == pytest.approx(expected, rel=0.01)
    front = shown[np.isin(face, [4, 5])]
    assert front.size > 50
    assert np.median(front) < 0.02 * np.median(top)
