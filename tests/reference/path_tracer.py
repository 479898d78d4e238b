"""A path tracer for bounced light: the tests' second way, with nothing in common with the first.

Imports nothing of `rakelight.light`. The mesh holds every surface's grid, reliefs in full, and
closed bodies; at each point that a path meets, the runs' light is sampled with shadow rays on
the triangle's own normal. Only what was reflected at least once is returned.
"""

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from reference.brute_force import relief_mesh

#: Rays start this far off the surface. [m]
LIFT_M = 5e-6
CHUNK = 400_000
LUMA = np.array([0.2126, 0.7152, 0.0722])


class PathTracer:
    """A room as triangles, each with a reflectance and an owner."""

    def __init__(self, room, bodies=(), light_of=None):
        """Light comes from the room's runs, or from light_of(points, normals, owners) in lx."""
        self.groups = room.groups
        corners, rho, owner = [], [], []
        for number, surface in enumerate(room.surfaces):
            grid, relief = surface.grid, surface.relief
            heights = np.zeros((grid.rows, grid.columns)) if relief is None else relief.heights_m
            vertices, faces = relief_mesh(heights, grid.step_u_m, grid.step_v_m)
            corners.append(surface.frame.to_room(vertices)[faces])
            rho.append(np.full(len(faces), surface.reflectance_rgb @ LUMA))
            owner.append(np.full(len(faces), number))
        for body in bodies:
            corners.append(body.points_m[body.faces])
            rho.append(np.full(len(body.faces), body.reflectance_rgb @ LUMA))
            owner.append(np.full(len(body.faces), -1))
        self.corners = np.concatenate(corners).astype(np.float32)
        self.rho, self.owner = np.concatenate(rho), np.concatenate(owner)
        edge = self.corners[:, 1:].astype(float) - self.corners[:, :1]
        normal = np.cross(edge[:, 0], edge[:, 1])
        self.areas = np.linalg.norm(normal, axis=1) / 2
        self.normals = normal / (2 * self.areas[:, None])
        self.scene = EmbreeScene()
        self.mesh = TriangleMesh(self.scene, np.ascontiguousarray(self.corners))
        self.light_of = self.runs_light if light_of is None else light_of

    def runs_light(self, points, normals, owners):
        """Direct light of all runs by one sample a lit length and point, even in angle."""
        total = np.zeros(len(points))
        for group in self.groups:
            for line in group.lines:
                away = points - line.origin_m
                x = away @ line.axis
                rho = np.linalg.norm(away - x[:, None] * line.axis, axis=1)
                for a, b in line.lit_m:
                    low, high = np.arctan((a - x) / rho), np.arctan((b - x) / rho)
                    psi = low + (high - low) * self.rng.random(len(points))
                    across = (self.rng.random(len(points)) - 0.5) * line.opening_width_m
                    source = line.origin_m + (x + rho * np.tan(psi))[:, None] * line.axis
                    way = source + across[:, None] * line.across - points
                    distance = np.linalg.norm(way, axis=1)
                    way /= distance[:, None]
                    cosine = np.maximum(0.0, np.einsum("ij,ij->i", way, normals))
                    light = line.candela_per_metre(-way) * cosine / distance**2
                    light *= (high - low) * rho / np.cos(psi) ** 2
                    some = light > 0
                    start = points[some] + LIFT_M * normals[some]
                    hit = self.scene.run(
                        start.astype(np.float32),
                        way[some].astype(np.float32),
                        dists=(distance[some] - 1e-4).astype(np.float32),
                        query="OCCLUDED",
                    )
                    light[some] *= np.asarray(hit) < 0
                    total += group.output * light
        return total

    def bounced(self, points_m, normals, paths, rng):
        """Reflected illuminance on points, and its standard error, both (points,). [lx]

        The facing cosine is sampled, stratified over the half-space; a path ends by chance
        (Russian roulette) with the reflectance as its share.
        """
        self.rng = rng
        side = max(1, round(paths**0.5))
        values = np.empty((len(points_m), side * side))
        per = max(1, CHUNK // side**2)
        for start in range(0, len(points_m), per):
            part = slice(start, start + per)
            count = len(points_m[part])
            index = np.tile(np.arange(side * side), count)
            square = np.stack([index % side, index // side], axis=1)
            square = (square + rng.random(square.shape)) / side
            place = np.repeat(points_m[part], side**2, axis=0)
            facing = np.repeat(normals[part], side**2, axis=0)
            values[part] = self._walk(place, facing, square).reshape(count, -1)
        return values.mean(axis=1), values.std(axis=1) / side

    def mean_over(self, triangles, paths, rng):
        """Mean reflected illuminance of triangles by true area, and its standard error. [lx]"""
        stop = np.cumsum(self.areas[triangles])
        stratum = (np.arange(paths) + rng.random(paths)) / paths * stop[-1]
        chosen = triangles[np.searchsorted(stop, stratum)]
        a, b = np.sqrt(rng.random(paths)), rng.random(paths)
        weights = np.stack([1 - a, a * (1 - b), a * b], axis=1)
        place = np.einsum("ij,ijk->ik", weights, self.corners[chosen].astype(float))
        light, _ = self.bounced(place, self.normals[chosen], 1, rng)
        return light.mean(), light.std() / np.sqrt(paths)

    def _walk(self, place, facing, square):
        gained = np.zeros(len(place))
        alive = np.arange(len(place))
        while alive.size:
            way = _cosine_directions(facing, square)
            start = (place + LIFT_M * facing).astype(np.float32)
            hit = self.scene.run(start, way.astype(np.float32), output=True)
            face = hit["primID"]
            met = face >= 0
            met[met] = np.einsum("ij,ij->i", way[met], self.normals[face[met]]) < 0
            # the share that goes on stands for the reflectance
            met[met] = self.rng.random(met.sum()) < self.rho[face[met]]
            alive, face, u, v = alive[met], face[met], hit["u"][met], hit["v"][met]
            weights = np.stack([1 - u - v, u, v], axis=1)
            place = np.einsum("ij,ijk->ik", weights, self.corners[face].astype(float))
            facing = self.normals[face]
            gained[alive] += self.light_of(place, facing, self.owner[face])
            square = self.rng.random((alive.size, 2))
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
