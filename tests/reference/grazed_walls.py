"""Walls, optics and runs made for tests of the light."""

import numpy as np

from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Room, Surface

X, Y, Z = np.eye(3)


def distribution(function, step_deg=1.0, c_step_deg=5.0, length_m=1.0):
    """An `Intensity` sampled from candela as a function of unit vectors (C0 +x, nadir -z)."""
    c = np.radians(np.arange(0, 360 + c_step_deg / 2, c_step_deg))
    gamma = np.radians(np.arange(0, 180 + step_deg / 2, step_deg))
    at_c, at_gamma = np.meshgrid(c, gamma, indexing="ij")
    ring = np.sin(at_gamma)
    vectors = np.stack([ring * np.cos(at_c), ring * np.sin(at_c), -np.cos(at_gamma)], axis=-1)
    candela = np.asarray(function(vectors), float) * np.ones(at_c.shape)
    candela[:, [0, -1]] = candela[:, [0, -1]].mean(axis=0)
    return Intensity(c, gamma, candela, 20.0, length_m, 0.02, 0.0, "made")


def cosine_along(candela_per_m=1000.0):
    """I'(alpha) = I0' cos(alpha), the same all round the run's axis (C0)."""
    return distribution(lambda d: candela_per_m * np.sqrt(np.maximum(0, 1 - d[..., 0] ** 2)))


def grazing(d):
    """A narrow beam, 4 degrees off nadir toward C90, a little stronger toward C0."""
    across = np.degrees(np.arctan2(d[..., 1], -d[..., 2]))
    along = np.sqrt(np.maximum(0, 1 - d[..., 0] ** 2))
    beam = 3000 * np.exp(-(((across - 4) / 9) ** 2)) * along * (1 + 0.3 * d[..., 0])
    return np.where(d[..., 2] < 1e-6, beam + 60 * np.maximum(0, -d[..., 2]), 0)


def wall(width_m=4.8, height_m=2.7, step_m=0.0025, heights=None, name="main"):
    """A main wall at y = 3.6 of that size; `heights` is an array or a function of (u, v)."""
    grid = Grid.with_step(width_m, height_m, step_m)
    relief = None
    if heights is not None:
        u, v = np.meshgrid(grid.u_m(), grid.v_m())
        field = heights(u, v) if callable(heights) else heights
        field = np.ascontiguousarray(field, np.float32)
        relief = Relief(
            field, grid, np.ones(field.shape, bool), float(field.min()), (0.1, 0.1), "made"
        )
    corners = np.array([[0, 0], [width_m, 0], [width_m, height_m], [0, height_m]], float)
    frame = Frame(np.array([0, 3.6, 0.0]), X, Z, -Y)
    return Surface(name, frame, corners, grid, np.full(3, 0.5), relief)


def run(
    setback_m, lit_m=((0.0, 4.8),), *, top_m=2.7, tilt_rad=0.0, width_m=0.02, optic=None, tag="L1"
):
    """A run in front of `wall`, at height `top_m`, from the left end."""
    c, s = np.cos(tilt_rad), np.sin(tilt_rad)
    return LitLine(
        tag=tag,
        lights="main",
        origin_m=np.array([0, 3.6 - setback_m, top_m]),
        axis=X,
        nadir=np.array([0, s, -c]),
        across=np.array([0, c, s]),
        c0=X,
        lit_m=np.array(lit_m, float),
        opening_width_m=width_m,
        intensity=cosine_along() if optic is None else optic,
        per_metre=1.0,
        watts_per_metre=10.0,
    )


def room(surface, *lines, output=1.0):
    """A room of one wall, all runs in one group."""
    groups = (LightGroup(tuple(lines), output, 1.0, np.ones(3), 4000.0),) if lines else ()
    return Room((surface,), groups)


def ledgestone(rows, columns, step_m, depth_m=0.04, seed=1):
    """Rough courses with sharp steps: harsher than any shipped relief."""
    from scipy.ndimage import gaussian_filter

    rng = np.random.default_rng(seed)
    field = np.zeros((rows, columns))
    row = 0
    while row < rows:
        tall = int(rng.integers(30, 100) / 1000 / step_m)
        column = 0
        while column < columns:
            long = int(rng.integers(120, 550) / 1000 / step_m)
            field[row : row + tall, column : column + long] = rng.random()
            column += long
        row += tall
    field = gaussian_filter(field, 0.0025 / step_m)
    field += 0.45 * gaussian_filter(rng.standard_normal(field.shape), 0.0075 / step_m)
    field = (field - field.min()) / (field.max() - field.min()) * depth_m
    return (field - field.mean()).astype(np.float32)
