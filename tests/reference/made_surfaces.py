"""Walls made for tests of the measures: a surface and its light from plain arrays."""

import numpy as np

from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit import Lit
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Surface


def made_surface(
    rows, columns, width_m, height_m, heights_m=None, feature_m=(0.06, 0.06), mask=None, **more
):
    grid = Grid(rows, columns, width_m, height_m)
    relief = None
    if heights_m is not None:
        heights = np.broadcast_to(np.asarray(heights_m, np.float32), (rows, columns)).copy()
        valid = np.ones((rows, columns), bool) if mask is None else mask
        relief = Relief(heights, grid, valid, float(heights.min()) - 0.01, feature_m, "made")
    corners = np.array([[0, 0], [width_m, 0], [width_m, height_m], [0, height_m]], float)
    settings = {
        "name": "main",
        "frame": Frame(np.zeros(3), *np.eye(3)),
        "corners_uv_m": corners,
        "grid": grid,
        "reflectance_rgb": np.full(3, 0.5),
        "relief": relief,
    }
    return Surface(**{**settings, **more})


def made_lit(surface, direct_lx, flat_lx=None, bounced_lx=None, output=1.0):
    shape = (surface.grid.rows, surface.grid.columns)

    def grown(values):
        return np.broadcast_to(np.asarray(values, np.float32), shape).copy()

    name = surface.name
    return Lit(
        direct_lx={name: grown(direct_lx)[None]},
        flat_lx={} if flat_lx is None else {name: grown(flat_lx)[None]},
        bounced_lx={} if bounced_lx is None else {name: grown(bounced_lx)},
        other_lx={name: np.full(shape, surface.other_light_lx, np.float32)},
        output=np.array([output]),
        white_rgb=np.ones((1, 3)),
    )
