"""Invented rooms for the tests of pictures, made straight from the records."""

import numpy as np

from rakelight.scene.camera import Camera
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit import Lit
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Body, Room, Surface

WIDTH_M, DEPTH_M, HEIGHT_M = 4.8, 3.6, 2.7
UP = np.array([0.0, 0.0, 1.0])


def plane(name, origin, u, v, width_m, height_m, reflectance=0.5, **more):
    u, v = np.array(u, float), np.array(v, float)
    corners = np.array([[0, 0], [width_m, 0], [width_m, height_m], [0, height_m]], float)
    grid = more.pop("grid", None) or Grid.with_step(width_m, height_m, 0.05)
    frame = Frame(np.array(origin, float), u, v, np.cross(u, v))
    return Surface(name, frame, corners, grid, np.full(3, reflectance), **more)


def main_wall(relief=None, **more):
    grid = relief.grid if relief is not None else None
    return plane(
        "main", (0, DEPTH_M, 0), (1, 0, 0), (0, 0, 1), WIDTH_M, HEIGHT_M,
        relief=relief, grid=grid, **more,
    )  # fmt: skip


def box(main=None, bodies=(), groups=()):
    x, y, z = WIDTH_M, DEPTH_M, HEIGHT_M
    return Room(
        (
            main or main_wall(),
            plane("opposite", (x, 0, 0), (-1, 0, 0), (0, 0, 1), x, z),
            plane("left", (0, 0, 0), (0, 1, 0), (0, 0, 1), y, z),
            plane("right", (x, y, 0), (0, -1, 0), (0, 0, 1), y, z),
            plane("floor", (0, 0, 0), (1, 0, 0), (0, 1, 0), x, y, 0.2),
            plane("ceiling", (0, y, z), (1, 0, 0), (0, -1, 0), x, y, 0.8),
        ),
        groups,
        bodies,
    )


def bumpy(step_m=0.02, depth_m=0.02):
    grid = Grid.with_step(WIDTH_M, HEIGHT_M, step_m)
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    heights = (depth_m / 2 * np.sin(9 * u) * np.sin(23 * v)).astype(np.float32)
    mask = np.ones(heights.shape, bool)
    return Relief(heights, grid, mask, -depth_m, (0.7, 0.27), "bumps")


def evenly_lit(room, lx=500.0, output=(1.0,), white=((1.0, 1.0, 1.0),)):
    def full(value):
        return {
            s.name: np.full((s.grid.rows, s.grid.columns), value, np.float32) for s in room.surfaces
        }

    direct = {name: np.repeat(array[None], len(output), axis=0) for name, array in full(lx).items()}
    return Lit(direct, {}, {}, full(0.0), np.array(output, float), np.array(white, float))


def facing_main(lens_mm=18.0, shift_mm=0.0, width_px=1920, height_px=1080):
    eye = np.array([2.4, 0.3, 1.6])
    forward = np.array([0.0, 1.0, 0.0])
    return Camera("test", eye, forward, UP, lens_mm, shift_mm, width_px, height_px)


def cosine_line(peak_cd=1000.0, opening_width_m=0.02):
    c, gamma = np.linspace(0, 2 * np.pi, 5), np.linspace(0, np.pi, 181)
    candela = np.broadcast_to(np.maximum(peak_cd * np.cos(gamma), 0), (5, 181)).copy()
    candela[:, gamma >= np.pi / 2] = 0
    return LitLine(
        tag="A",
        lights="main",
        origin_m=np.array([0.4, 3.0, 2.6]),
        axis=np.array([1.0, 0.0, 0.0]),
        nadir=np.array([0.0, 0.0, -1.0]),
        across=np.array([0.0, 1.0, 0.0]),
        c0=np.array([1.0, 0.0, 0.0]),
        lit_m=np.array([[0.0, 4.0]]),
        opening_width_m=opening_width_m,
        intensity=Intensity(c, gamma, candela, 20.0, 1.0, 0.02, 0.0, "cosine"),
        per_metre=1.0,
        watts_per_metre=20.0,
    )


def with_opening(wide_m=0.2):
    """A room with a wide luminous opening that faces down, and its group of light."""
    line = cosine_line(opening_width_m=wide_m)
    low, high = 3.0 - wide_m / 2, 3.0 + wide_m / 2
    points = np.array([[0.4, low, 2.6], [0.4, high, 2.6], [4.4, high, 2.6], [4.4, low, 2.6]])
    faces = np.array([[0, 1, 2], [0, 2, 3]])
    opening = Body("opening", "opening", points, faces, np.zeros(3), 0)
    group = LightGroup((line,), 0.5, 1.0, np.ones(3), 4000.0)
    return box(bodies=(opening,), groups=(group,))
