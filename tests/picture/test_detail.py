"""Slopes finer than a relief's mesh, in pictures."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.normals import vertex_normals
from rakelight.light.prepare import prepare
from rakelight.picture.detail import slopes_of
from rakelight.picture.draw import draw
from rakelight.picture.shade import shade
from rakelight.scene.camera import Camera
from rakelight.scene.lit import EdgeLight, Lit
from rakelight.scene.lit_line import LightGroup
from rakelight.scene.quality import Quality
from rakelight.scene.relief import Detail
from rakelight.scene.surfaces import Room
from reference.grazed_walls import cosine_along, run, wall
from reference.picture_rooms import DEPTH_M, UP, box, bumpy, evenly_lit, main_wall

TILE_M, TEXELS, WAVES = 0.2, 40, 5  # texels of 5 mm, ripples of 40 mm
RISE_M = 0.0004


def ripples(mirror=False):
    """An image that varies along u alone: half a wave fits a mirrored tile's end."""
    at = (np.arange(TEXELS) + 0.5) / TEXELS
    wave = 0.5 + 0.5 * np.cos(2 * np.pi * WAVES * at)
    heights = np.repeat(wave[None], TEXELS, axis=0).astype(np.float32)
    return Detail(heights, RISE_M, TILE_M, TILE_M, (0.03, 0.01), mirror)


def slope_at(u_m):
    """Closed form of the ripples' slope, with what central differences lose of it."""
    k = 2 * np.pi * WAVES / TILE_M
    lost = np.sin(k * TILE_M / TEXELS) / (k * TILE_M / TEXELS)
    return -k * RISE_M / 2 * np.sin(k * (u_m - 0.03)) * lost


@pytest.mark.parametrize("mirror", [False, True])
def test_slopes_are_rise_over_run(mirror):
    detail = ripples(mirror)
    found = slopes_of(detail, 0.001)
    u = 0.03 + (np.arange(TEXELS) + 0.5) / TEXELS * TILE_M
    assert found.shape == (TEXELS, TEXELS, 2)
    assert found[7, :, 0] == pytest.approx(slope_at(u), abs=2e-5)
    assert np.abs(found[..., 1]).max() < 1e-7


def test_texels_finer_than_a_sample_are_averaged_and_keep_what_is_wide():
    found = slopes_of(ripples(), 0.0099)
    assert found.shape == (20, 20, 2)
    # four texels a wave, met at 45 degrees: mean over an eighth of a wave, differences over a half
    largest = 2 * np.pi * 25 * RISE_M / 2 * np.sinc(0.25) * np.sinc(0.5) * np.sqrt(0.5)
    assert np.abs(found[..., 0]).max() == pytest.approx(largest, rel=0.03)


@pytest.mark.parametrize("mirror", [False, True])
def test_a_graze_shows_ripples_that_the_mesh_has_not(mirror):
    bumps = bumpy(0.0125, 0.0)
    room = box(main_wall(replace(bumps, detail=ripples(mirror))))
    lit = evenly_lit(room, 0.0)
    # 1000 lx from 80 degrees off the wall's normal, and 20 lx from nowhere
    toward = np.zeros((1, 3, *bumps.heights_m.shape), np.float32)
    toward[0, 0], toward[0, 2] = 1000 * np.sin(np.radians(80)), 1000 * np.cos(np.radians(80))
    flat = toward[0, 2] + 20
    lit = Lit(
        {**lit.direct_lx, "main": flat[None]}, {}, {}, lit.other_lx, lit.output, lit.white_rgb,
        toward_lx={"main": toward},
    )  # fmt: skip
    eye = np.array([2.4, DEPTH_M - 0.3, 1.4])
    camera = Camera("near", eye, np.array([0.0, 1.0, 0.0]), UP, 36.0, 0.0, 300, 200)
    view = draw(room, camera, 1)
    here = view.ids == 0
    assert here.all()
    slope = slope_at(view.u_m.astype(float))
    falls = (toward[0, 2, 0, 0] - slope * toward[0, 0, 0, 0]) / np.sqrt(1 + slope**2)
    expected = (np.maximum(falls, 0) + 20) * 0.5 / np.pi
    found = shade(view, room, lit).luminance_cd_m2()
    assert expected.max() > 1.15 * expected.min()
    # linear between texels an eighth of a wave apart
    assert found == pytest.approx(expected, rel=0.03)
    # from afar a sample is wider than a ripple: the mesh's light stays
    far = replace(camera, eye_m=np.array([2.4, 0.3, 1.4]), width_px=60, height_px=40)
    seen = shade(draw(room, far, 1), room, lit).luminance_cd_m2()
    assert seen[15:25, 20:40] == pytest.approx(flat[0, 0] * 0.5 / np.pi, rel=1e-4)


@pytest.mark.parametrize("setback_m", [0.06, 0.4])
def test_what_arrives_falls_on_the_mesh_as_its_illuminance(setback_m):
    def stone(u, v):
        return 0.003 * np.sin(40 * u + 9 * v) * np.sin(55 * v)

    bare = wall(1.2, 0.9, 0.01, stone)
    relief = replace(bare.relief, detail=ripples())
    surface = replace(bare, relief=relief)
    line = run(setback_m, ((0.0, 1.2),), top_m=0.95, optic=cosine_along())
    group = LightGroup((line,), 1.0, 1.0, np.ones(3), 3000.0)
    room = Room((surface,), (group,))
    lit = direct(prepare(room, Quality(mesh_step_m=0.01)))
    normals = vertex_normals(relief.heights_m, relief.grid.step_u_m, relief.grid.step_v_m)
    falls = np.einsum("krc,krc->rc", normals, lit.toward_lx["main"][0])
    lx = lit.direct_lx["main"][0]
    lit_up = lx > 0.2 * lx.max()
    assert lit_up.mean() > 0.05
    assert falls[lit_up] == pytest.approx(lx[lit_up], rel=0.02)


@pytest.mark.parametrize("far", [False, True])
def test_a_shadows_edge_runs_where_its_points_say(far):
    flat = replace(bumpy(0.05, 0.0), detail=ripples())
    room = box(main_wall(flat))
    lit = evenly_lit(room, 0.0)
    rows, columns = flat.heights_m.shape
    # light on the right of one column of cells, and the edge of the shadow in its right half
    dark = 48
    lx = np.where(np.arange(columns) > dark, 100.0, 20.0) * np.ones((rows, 1))
    cells = np.full((rows - 1, columns - 1), -1, np.int32)
    cells[:, dark] = np.arange(rows - 1)
    half = np.arange(2 * rows - 1)
    whole = half[::2]  # rows of vertices
    # one point on each side between two cells, three in the middle of each cell's height
    at = [(j, 2 * dark + 1) for j in whole] + [
        (j, 2 * dark + i) for i in range(3) for j in half[1::2]
    ]
    n = rows - 1
    below = np.arange(n)
    around = np.stack([below, rows + below, rows + n + below, rows + 2 * n + below, below + 1], 1)
    row, column = np.array(at, np.int32).T
    points = np.where(column == 2 * dark + 2, 100.0, 20.0).astype(np.float32)
    edges = EdgeLight(
        cells, around.astype(np.int32), row, column, points[None],
        np.zeros((1, 3, points.size), np.float32),
    )  # fmt: skip
    lit = replace(
        lit,
        direct_lx={**lit.direct_lx, "main": lx[None].astype(np.float32)},
        toward_lx={"main": np.zeros((1, 3, rows, columns), np.float32)},
        edges={"main": edges},
    )
    eye = np.array([2.425, DEPTH_M - (2.0 if far else 0.2), 1.4])
    camera = Camera("near", eye, np.array([0.0, 1.0, 0.0]), UP, 36.0, 0.0, 300, 200)
    view = draw(room, camera, 1)
    found = shade(view, room, lit).luminance_cd_m2() / (0.5 / np.pi)
    expected = np.interp(view.u_m / 0.05, [dark, dark + 0.5, dark + 1], [20, 20, 100])
    here = view.ids == 0
    assert (np.abs(view.u_m / 0.05 - dark - 0.5) < 0.5).sum() > 200
    assert found[here] == pytest.approx(expected[here], rel=1e-3)
    plain = shade(view, room, replace(lit, edges={})).luminance_cd_m2() / (0.5 / np.pi)
    assert np.abs(plain - found)[here].max() > 30
