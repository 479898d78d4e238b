"""Box rooms with even light, for tests of bounced light: no runs, no photometry."""

import numpy as np

from rakelight.light.prepare import prepare
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit import Lit
from rakelight.scene.quality import Quality
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Body, Room, Surface

X, Y, Z = np.eye(3)
NAMES = ("main", "opposite", "left", "right", "floor", "ceiling")


def box_frames(w, d, h):
    """Frame, width and height of each surface; main wall at y = d."""
    return {
        "main": (Frame(np.array([0, d, 0.0]), X, Z, -Y), w, h),
        "opposite": (Frame(np.array([w, 0, 0.0]), -X, Z, Y), w, h),
        "left": (Frame(np.array([0, 0, 0.0]), Y, Z, X), d, h),
        "right": (Frame(np.array([w, d, 0.0]), -Y, Z, -X), d, h),
        "floor": (Frame(np.array([0, 0, 0.0]), X, Y, Z), w, d),
        "ceiling": (Frame(np.array([0, d, h]), X, -Y, -Z), w, d),
    }


def plain_surface(name, frame, width, height, rho, step=0.1, heights=None):
    """A rectangle; `heights` (rows, columns) makes it a relief."""
    grid = Grid.with_step(width, height, step)
    relief = None
    if heights is not None:
        heights = np.asarray(heights, np.float32)
        grid = Grid(*heights.shape, width, height)
        mask = np.ones(heights.shape, bool)
        relief = Relief(heights, grid, mask, float(heights.min()) - 0.01, (0.05, 0.05), name)
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    reflectance = np.broadcast_to(np.asarray(rho, float), 3).copy()
    return Surface(name, frame, corners, grid, reflectance, relief)


def box_room(w, d, h, rho, step=0.1, heights=None, bodies=()):
    """A closed box; rho: one number or one for each name; heights: relief of the main wall."""
    rho = rho if isinstance(rho, dict) else dict.fromkeys(NAMES, rho)
    surfaces = tuple(
        plain_surface(name, *place, rho[name], step, heights if name == "main" else None)
        for name, place in box_frames(w, d, h).items()
    )
    return Room(surfaces, (), tuple(bodies))


def prepared(room):
    return prepare(room, Quality())


def true_areas(surface):
    """Area of each vertex by a third of its triangles, shape (rows, columns)."""
    grid = surface.grid
    heights = (
        np.zeros((grid.rows, grid.columns))
        if surface.relief is None
        else (surface.relief.heights_m.astype(float))
    )
    du, dv = grid.step_u_m, grid.step_v_m
    along_u, along_v = np.diff(heights, axis=1) / du, np.diff(heights, axis=0) / dv
    out = np.zeros(heights.shape)
    rows, columns = heights.shape
    for slope_u, slope_v, corners in (
        (along_u[:-1], along_v[:, 1:], ((0, 0), (0, 1), (1, 1))),
        (along_u[1:], along_v[:, :-1], ((0, 0), (1, 1), (1, 0))),
    ):
        area = du * dv / 6 * np.sqrt(1 + slope_u**2 + slope_v**2)
        for r, c in corners:
            out[r : rows - 1 + r, c : columns - 1 + c] += area
    return out


def mean(surface, field):
    """Mean over true area."""
    weight = true_areas(surface)
    return float((weight * field).sum() / weight.sum())


def even_lit(room, lx, output=1.0, white=(1.0, 1.0, 1.0)):
    """The same direct illuminance all over each surface; lx: by name."""
    direct, flat, other = {}, {}, {}
    for surface in room.surfaces:
        shape = (surface.grid.rows, surface.grid.columns)
        value = lx.get(surface.name, 0.0)
        direct[surface.name] = np.full((1, *shape), value, np.float32)
        other[surface.name] = np.zeros(shape, np.float32)
        if surface.relief is not None:  # what the relief catches passes the mean plane
            plan = surface.grid.width_m * surface.grid.height_m
            passing = value * true_areas(surface).sum() / plan
            flat[surface.name] = np.full((1, *shape), passing, np.float32)
    return Lit(direct, flat, {}, other, np.array([output]), np.array([white]))


def block(low, high, rho=0.5):
    """A closed box that stands in the way."""
    low, high = np.asarray(low, float), np.asarray(high, float)
    points = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)], float)
    faces = np.array(
        [
            [0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4],
            [2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5],
        ]
    )  # fmt: skip
    return Body("block", "blocker", low + points * (high - low), faces, np.full(3, rho))


def waves(rows, columns, width, height, depth, length):
    """Rounded bumps, `depth` from lowest to highest."""
    u, v = np.meshgrid(np.linspace(0, width, columns), np.linspace(0, height, rows))
    return depth / 2 * np.cos(2 * np.pi * u / length) * np.cos(2 * np.pi * v / length)
