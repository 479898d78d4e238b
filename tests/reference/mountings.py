"""Runs in any place and direction, and things that stand in their light, made for tests."""

import dataclasses

import numpy as np

from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.surfaces import Room, Surface

X, Y, Z = np.eye(3)


def line_at(origin, axis, nadir, lit, optic, width_m=0.03, toward=Y, round_opening=False, tag="L1"):
    """A run with any axis; its nadir is made perpendicular, `across` points to `toward`."""
    axis = np.array(axis, float) / np.linalg.norm(axis)
    nadir = np.array(nadir, float) - axis * (np.array(nadir, float) @ axis)
    nadir /= np.linalg.norm(nadir)
    across = np.cross(nadir, axis)
    if across @ toward < 0:
        across = -across
    if round_opening:
        optic = dataclasses.replace(optic, round_opening=True)
    return LitLine(
        tag, "main", np.array(origin, float), axis, nadir, across, axis, np.array(lit, float),
        width_m, optic, 1.0, 10.0,
    )  # fmt: skip


def rectangle(name, origin, u, v, size_uv, step_m=0.1, blocks=True, holes=()):
    """A rectangle with its normal along u x v."""
    u, v = np.array(u, float), np.array(v, float)
    frame = Frame(np.array(origin, float), u, v, np.cross(u, v))
    w, h = size_uv
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    grid = Grid.with_step(w, h, step_m)
    return Surface(
        name, frame, corners, grid, np.full(3, 0.5), blocks=blocks,
        holes_uv_m=tuple(np.array(hole, float) for hole in holes),
    )  # fmt: skip


def box(name, low, high):
    """Six faces around a box, normals outward."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    w, d, h = x1 - x0, y1 - y0, z1 - z0
    return (
        rectangle(name + ".front", (x0, y0, z0), X, Z, (w, h)),
        rectangle(name + ".back", (x1, y1, z0), -X, Z, (w, h)),
        rectangle(name + ".left", (x0, y1, z0), -Y, Z, (d, h)),
        rectangle(name + ".right", (x1, y0, z0), Y, Z, (d, h)),
        rectangle(name + ".top", (x0, y0, z1), X, Y, (w, d)),
        rectangle(name + ".foot", (x0, y1, z0), X, -Y, (w, d)),
    )


def triangles_of(surfaces):
    """Triangles of rectangles, shape (n, 3, 3), for brute force."""
    out = []
    for surface in surfaces:
        flat = np.column_stack([surface.corners_uv_m, np.zeros(4)])
        a, b, c, d = surface.frame.to_room(flat)
        out += [[a, b, c], [a, c, d]]
    return np.array(out)


def lit_by(surfaces, *lines, bodies=()):
    """A room of these surfaces, each run a group of its own."""
    groups = tuple(LightGroup((line,), 1.0, 1.0, np.ones(3), 4000.0) for line in lines)
    return Room(tuple(surfaces), groups, tuple(bodies))
