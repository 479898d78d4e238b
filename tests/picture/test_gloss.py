"""The glossy lobe: energy, the mirror limit, and a sum by brute force."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.direct import plane_light, point_light
from rakelight.light.normals import vertex_normals
from rakelight.picture.draw import draw
from rakelight.picture.gloss import F0, gloss_of, lobe_albedo, roughness
from rakelight.picture.shade import shade
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.lit_line import LightGroup
from reference.picture_rooms import UP, box, bumpy, cosine_line, evenly_lit, main_wall


def lobe(ways, normal, eye, alpha):
    """D V F of Trowbridge-Reitz, Smith and Schlick, written out again. [1/sr]"""
    half = ways + eye
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    ni, no = ways @ normal, eye @ normal
    nh, ih = half @ normal, np.sum(ways * half, axis=-1)
    d = alpha**2 / (np.pi * (nh**2 * (alpha**2 - 1) + 1) ** 2)

    def smith(c):
        return (np.sqrt(1 + alpha**2 * (1 / c**2 - 1)) - 1) / 2

    with np.errstate(divide="ignore", invalid="ignore"):
        g = 1 / (1 + smith(ni) + smith(no))
        f = F0 + (1 - F0) * (1 - ih) ** 5
        return np.where((ni > 0) & (no > 0), d * g * f / (4 * ni * no), 0.0)


def with_gloss(room, **gloss):
    return replace(
        room,
        surfaces=tuple(replace(s, gloss=gloss.get(s.name, 0.0)) for s in room.surfaces),
    )


def lit_by(room, line, lx=0.0):
    group = LightGroup((line,), 1.0, 1.0, np.ones(3), 4000.0)
    room = replace(room, groups=(group,))
    even = evenly_lit(room, lx)
    direct = {s.name: plane_light(s, line, 64)[None] for s in room.surfaces}
    return room, Lit(direct, {}, {}, even.other_lx, even.output, even.white_rgb)


def downlight(width_m=0.02):
    line = cosine_line(opening_width_m=width_m)
    return replace(
        line,
        origin_m=np.array([1.4, 2.4, 2.6]),
        axis=np.array([1.0, 0, 0]),
        nadir=np.array([0, 0, -1.0]),
        across=np.array([0, 1.0, 0]),
        c0=np.array([0, 1.0, 0]),
        lit_m=np.array([[0.0, 2.0]]),
    )


def from_the_foot():
    forward = np.array([0.0, 0.8, -0.6])
    return Camera(
        "foot", np.array([2.4, 0.2, 1.6]), forward, np.array([0, 0.6, 0.8]), 24, 0, 480, 360
    )


@pytest.mark.parametrize("gloss", [0.1, 0.4, 0.7])
def test_the_lobes_share_is_its_integral_over_the_hemisphere(gloss):
    alpha = roughness(gloss)
    table = lobe_albedo(alpha)
    n = 1200
    z = (np.arange(n) + 0.5) / n
    phi = (np.arange(720) + 0.5) * np.pi / 720
    side = np.sqrt(1 - z**2)[:, None]
    ways = np.stack([side * np.cos(phi), side * np.sin(phi), z[:, None] + 0 * phi], -1)
    for k in (16, 32, 48, 64):
        c = k / 64
        eye = np.array([np.sqrt(1 - c * c), 0, c])
        there = lobe(ways, np.array([0, 0, 1.0]), eye, alpha) * z[:, None]
        assert table[k] == pytest.approx(2 * np.pi * there.mean(), rel=0.02)
    assert (table <= 1).all()
    assert table[64] <= F0  # square-on; rough facets shade each other


def test_a_mirrors_share_is_fresnels():
    cosine = np.linspace(0, 1, 65)[8:]
    expected = F0 + (1 - F0) * (1 - cosine) ** 5
    assert lobe_albedo(roughness(1.0))[8:] == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("gloss", [0.1, 0.5, 0.95])
def test_a_white_furnace_stays_white(gloss):
    room = box(main_wall(bumpy()))
    white = tuple(replace(s, gloss=gloss, reflectance_rgb=np.ones(3)) for s in room.surfaces)
    room = replace(room, surfaces=white)
    even = evenly_lit(room, 0.0)
    other = {name: np.full_like(lx, 300.0) for name, lx in even.other_lx.items()}
    lit = Lit(even.direct_lx, {}, {}, other, even.output, even.white_rgb)
    view = draw(room, from_the_foot(), 1)
    seen = shade(view, room, lit).luminance_cd_m2()
    assert np.abs(seen[view.ids >= 0] / (300 / np.pi) - 1).max() < 1e-4


def test_a_polished_floor_mirrors_the_opening_where_a_mirror_would():
    room, lit = lit_by(with_gloss(box(), floor=1.0), downlight(0.30))
    camera = from_the_foot()
    view = draw(room, camera, 2)
    seen = shade(view, room, lit).luminance_cd_m2()
    dull = shade(view, with_gloss(room), lit).luminance_cd_m2()
    shine = np.where(view.ids[::2, ::2] == view.names.index("floor"), seen - dull, 0.0)
    bright = shine > 0.5 * shine.max()
    y, x = np.nonzero(bright)
    image = np.array([[1.4, 2.25, -2.6], [3.4, 2.25, -2.6], [3.4, 2.55, -2.6], [1.4, 2.55, -2.6]])
    corners = camera.pixels(image)
    assert x.min() == pytest.approx(corners[:, 0].min(), abs=1.5)
    assert x.max() + 1 == pytest.approx(corners[:, 0].max(), abs=1.5)
    assert y.min() == pytest.approx(corners[:, 1].min(), abs=1.5)
    assert y.max() + 1 == pytest.approx(corners[:, 1].max(), abs=1.5)
    # in its middle: the opening's own luminance, 1000 cd/m cos / (0.3 m cos), times Fresnel's share
    middle = np.array([2.4, 2.4, -2.6])
    px, py = camera.pixels(middle)
    ray = middle - camera.eye_m
    cosine = -ray[2] / np.linalg.norm(ray)
    glow = lit_opening_cd_m2(room)
    fresnel = F0 + (1 - F0) * (1 - cosine) ** 5
    assert shine[int(py), int(px)] == pytest.approx(glow * fresnel, rel=0.05)


def lit_opening_cd_m2(room):
    line = room.lines()[0]
    down = np.array([[0.0, 0.0, -1.0]])
    return float(line.candela_per_metre(down)[0]) / line.opening_width_m


@pytest.mark.parametrize(("gloss", "width"), [(0.2, 0.02), (0.5, 0.02), (0.8, 0.05)])
def test_a_runs_reflection_is_the_sum_over_its_opening(gloss, width):
    line = downlight(width)
    room, lit = lit_by(with_gloss(box(), floor=gloss, main=gloss), line)
    camera = from_the_foot()
    view = draw(room, camera, 1)
    seen = shade(view, room, lit).luminance_cd_m2()
    dull = shade(view, with_gloss(room), lit).luminance_cd_m2()
    alpha, table = roughness(gloss), lobe_albedo(roughness(gloss))
    x = (np.arange(4000) + 0.5) / 2000
    q = ((np.arange(21) + 0.5) / 21 - 0.5) * width
    source = line.origin_m + x[:, None, None] * line.axis + q[None, :, None] * line.across
    for row, column in ((60, 240), (30, 120), (150, 200), (200, 240), (240, 300), (330, 400)):
        surface = room.surfaces[view.ids[row, column]]
        at = surface.frame.to_room(
            np.array([float(view.u_m[row, column]), float(view.v_m[row, column]), 0.0])
        )
        eye = camera.eye_m - at
        eye /= np.linalg.norm(eye)
        ray = source - at
        far = np.linalg.norm(ray, axis=-1)
        ways = ray / far[..., None]
        candela = line.candela_per_metre(-ways)
        ni = np.maximum(ways @ surface.frame.n, 0)
        cell = (2.0 / 4000) * (width / 21)
        each = lobe(ways, surface.frame.n, eye, alpha) * ni * candela / width / far**2 * cell
        share = np.interp(eye @ surface.frame.n, np.linspace(0, 1, 65), table)
        expected = dull[row, column] * (1 - share) + each.sum()
        assert seen[row, column] == pytest.approx(expected, rel=0.02)


def test_what_shades_the_floor_takes_its_reflection_too():
    room, lit = lit_by(with_gloss(box(), floor=0.9), downlight())
    dark = {**lit.direct_lx, "floor": 0 * lit.direct_lx["floor"]}
    lit = Lit(dark, {}, {}, lit.other_lx, lit.output, lit.white_rgb)
    view = draw(room, from_the_foot(), 1)
    assert shade(view, room, lit).of(view, ("floor",)).max() == 0


def test_dull_surfaces_are_left_alone():
    room, lit = lit_by(with_gloss(box(), floor=0.04), downlight())
    assert gloss_of(room.surface("floor"), room, lit) is None
    view = draw(room, from_the_foot(), 1)
    assert np.array_equal(
        shade(view, room, lit).rgb_cd_m2, shade(view, with_gloss(room), lit).rgb_cd_m2
    )


def test_a_relief_mirrors_by_its_own_slopes():
    # a wall that leans by 0.1 as a relief mirrors as a flat wall would that is turned
    line = downlight(0.2)
    line = replace(line, origin_m=np.array([1.4, 1.2, 2.6]))
    relief = bumpy()
    v = relief.grid.v_m()[:, None]
    tilted = np.broadcast_to(0.1 * (v - 1.35), relief.heights_m.shape).astype(np.float32)
    lean = type(relief)(tilted, relief.grid, relief.mask, -0.2, (1.0, 1.0), "lean")
    room, lit = lit_by(with_gloss(box(main_wall(lean)), main=1.0), line)
    black = tuple(replace(s, reflectance_rgb=np.zeros(3)) for s in room.surfaces)
    room = replace(room, surfaces=black)
    camera = Camera("in", np.array([2.4, 0.4, 1.2]), np.array([0, 1.0, 0]), UP, 18, 0, 320, 240)
    full = Lit(
        {**lit.direct_lx, "main": np.full_like(lit.direct_lx["main"], 1e6)},
        {}, {}, lit.other_lx, lit.output, lit.white_rgb,
    )  # fmt: skip
    view = draw(room, camera, 1)
    shine = shade(view, room, full).luminance_cd_m2()
    # mirror of the opening's middle in the leaning plane y = 3.6 - 0.1 (z - 1.35)
    normal = np.array([0, -1.0, -0.1]) / np.hypot(1, 0.1)
    middle = np.array([2.4, 1.2, 2.6])
    foot = np.array([2.4, 3.6, 1.35])
    image = middle - 2 * ((middle - foot) @ normal) * normal
    x, y = camera.pixels(image)
    row = np.argmax(shine[:, int(x)])
    assert row == pytest.approx(y, abs=4)
    assert shine[row, int(x)] > 20 * np.median(shine)


def test_the_unhindered_light_of_a_relief_is_that_of_its_points():
    line = downlight()
    relief = bumpy(step_m=0.05, depth_m=0.03)
    room, lit = lit_by(with_gloss(box(main_wall(relief)), main=0.5), line)
    surface = room.surface("main")
    normals = vertex_normals(relief.heights_m, relief.grid.step_u_m, relief.grid.step_v_m)
    axes = np.stack([surface.frame.u, surface.frame.v, surface.frame.n])
    u, v = np.meshgrid(relief.grid.u_m(), relief.grid.v_m())
    points = surface.frame.to_room(np.stack([u, v, relief.heights_m], -1).reshape(-1, 3))
    free = point_light(points, np.moveaxis(normals, 0, -1).reshape(-1, 3) @ axes, line, 128)
    half = Lit(
        {**lit.direct_lx, "main": free.reshape(1, *u.shape) / 2},
        {}, {}, lit.other_lx, lit.output, lit.white_rgb,
    )  # fmt: skip
    seen = gloss_of(surface, room, half).seen[0]
    bright = free.reshape(u.shape) > 1.0
    assert bright.mean() > 0.3
    assert np.abs(seen[bright] / 0.5 - 1).max() < 0.05
