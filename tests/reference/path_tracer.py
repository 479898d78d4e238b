"""A path tracer for bounced light: the tests' second way, with nothing in common with the first.

Imports nothing of `rakelight.light`. The mesh holds every surface's grid, reliefs in full, and
closed bodies; light comes in as a field of direct illuminance on the grids' vertices, so that
only the reflected part is compared.
"""

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from reference.brute_force import relief_mesh

#: Rays start this far off the surface. [m]
LIFT_M = 2e-6
CHUNK = 400_000


class PathTracer:
    """A room as triangles, with direct light and reflectance at their corners."""

    def __init__(self, room, direct_lx, bodies=()):
        """direct_lx: mapping of surface to (rows, columns); one band."""
        corners, light, rho, owner = [], [], [], []
        luma = np.array([0.2126, 0.7152, 0.0722])
        for number, surface in enumerate(room.surfaces):
            grid, relief = surface.grid, surface.relief
            heights = np.zeros((grid.rows, grid.columns)) if relief is None else relief.heights_m
            vertices, faces = relief_mesh(heights, grid.step_u_m, grid.step_v_m)
            corners.append(surface.frame.to_room(vertices)[faces])
            light.append(direct_lx[surface.name].reshape(-1)[faces])
            rho.append(np.full(len(faces), surface.reflectance_rgb @ luma))
            owner.append(np.full(len(faces), number))
        for body in bodies:
            corners.append(body.points_m[body.faces])
            light.append(np.zeros(body.faces.shape))
            rho.append(np.full(len(body.faces), body.reflectance_rgb @ luma))
            owner.append(np.full(len(body.faces), -1))
        self.corners = np.concatenate(corners).astype(np.float32)
        self.light = np.concatenate(light).astype(np.float32)
        self.rho = np.concatenate(rho)
        self.owner = np.concatenate(owner)
        edge = self.corners[:, 1:].astype(float) - self.corners[:, :1]
        normal = np.cross(edge[:, 0], edge[:, 1])
        self.normals = normal / np.linalg.norm(normal, axis=1, keepdims=True)
        self.areas = np.linalg.norm(normal, axis=1) / 2
        self.scene = EmbreeScene()
        self.mesh = TriangleMesh(self.scene, np.ascontiguousarray(self.corners))

    def bounced(self, points_m, normals, paths, rng, most_bounces=64):
        """Reflected illuminance on points, and its standard error, both (points,). [lx]

        The facing cosine is sampled, stratified over the half-space; a path ends by chance
        (Russian roulette) with the reflectance as its share.
        """
        side = max(1, round(paths**0.5))
        values = np.empty((len(points_m), side * side))
        for start in range(0, len(points_m), max(1, CHUNK // side**2)):
            part = slice(start, start + max(1, CHUNK // side**2))
            count = len(points_m[part])
            index = np.tile(np.arange(side * side), count)
            square = np.stack([index % side, index // side], axis=1)
            square = (square + rng.random(square.shape)) / side
            place = np.repeat(points_m[part], side**2, axis=0)
            facing = np.repeat(normals[part], side**2, axis=0)
            gained = self._walk(place, facing, square, rng, most_bounces)
            values[part] = gained.reshape(count, -1)
        return values.mean(axis=1), values.std(axis=1) / side

    def surface_mean(self, number, paths, rng):
        """Mean reflected illuminance of a surface by true area, and its standard error. [lx]"""
        own = np.flatnonzero(self.owner == number)
        stop = np.cumsum(self.areas[own])
        chosen = own[
            np.searchsorted(stop, (np.arange(paths) + rng.random(paths)) / paths * stop[-1])
        ]
        a, b = np.sqrt(rng.random(paths)), rng.random(paths)
        weights = np.stack([1 - a, a * (1 - b), a * b], axis=1)
        place = np.einsum("ij,ijk->ik", weights, self.corners[chosen].astype(float))
        light, _ = self.bounced(place, self.normals[chosen], 1, rng)
        return light.mean(), light.std() / np.sqrt(paths)

    def _walk(self, place, facing, square, rng, most_bounces):
        gained = np.zeros(len(place))
        alive = np.arange(len(place))
        for _ in range(most_bounces):
            way = _cosine_directions(facing, square)
            start = (place + LIFT_M * facing).astype(np.float32)
            hit = self.scene.run(start, way.astype(np.float32), output=True)
            face = hit["primID"]
            met = face >= 0
            alive, face = alive[met], face[met]
            u, v, way = hit["u"][met], hit["v"][met], way[met]
            front = np.einsum("ij,ij->i", way, self.normals[face]) < 0
            alive, face, u, v = alive[front], face[front], u[front], v[front]
            if alive.size == 0:
                break
            # the share that goes on stands for the reflectance
            goes = rng.random(alive.size) < self.rho[face]
            alive, face, u, v = alive[goes], face[goes], u[goes], v[goes]
            weights = np.stack([1 - u - v, u, v], axis=1)
            gained[alive] += np.einsum("ij,ij->i", weights, self.light[face])
            place = np.einsum("ij,ijk->ik", weights, self.corners[face].astype(float))
            facing = self.normals[face]
            square = rng.random((alive.size, 2))
        return gained


def _cosine_directions(normals, square):
    """Directions about normals with the cosine as density (Malley's disc)."""
    radius, turn = np.sqrt(square[:, 0]), 2 * np.pi * square[:, 1]
    least = np.eye(3)[np.abs(normals).argmin(axis=1)]
    u = np.cross(least, normals)
    u /= np.linalg.norm(u, axis=1, keepdims=True)
    v = np.cross(normals, u)
    across = radius[:, None] * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v)
    return across + np.sqrt(1 - square[:, :1]) * normals
