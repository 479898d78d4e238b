"""A path tracer for bounced light: the tests' second way, with nothing in common with the first.

Imports nothing of `rakelight.light`. The mesh holds every surface's grid, reliefs in full, and
closed bodies; at each point that a path meets, the runs' light is sampled with shadow rays on
the triangle's own normal. Only what was reflected at least once is returned, in linear Rec.709
weighted for luminance: a warm stone under warm light reflects more of it than its grey would.

`traced_scenes.py` compares whole scenes.
"""

from itertools import pairwise

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from reference.brute_force import mesh_normals, relief_mesh

#: Rays start this far off the surface: four times what single precision tells apart in rooms of
#: some metres, about their middle. At the bottom of a joint, where what a vertex sees of its own
#: facets is at no distance, 5e-6 brought 2 % more light. [m]
LIFT_M = 2e-6
#: A body nearer to a surface than this touches it. [m]
TOUCH_M = 1e-4
CHUNK = 250_000
LUMA = np.array([0.2126, 0.7152, 0.0722])
#: A path that carries less than this goes on by chance.
FAINT = 0.1


class PathTracer:
    """A room as triangles, each with a reflectance and an owner."""

    def __init__(self, room, bodies=(), light_of=None):
        """Light comes from the room's runs, or from light_of(points, normals, owners) in lx."""
        self.groups = room.groups
        corners, rho, owner = [], [], []
        for number, surface in enumerate(room.surfaces):
            triangles = self.triangles_of(surface)
            corners.append(triangles)
            rho.append(np.tile(surface.reflectance_rgb, (len(triangles), 1)))
            owner.append(np.full(len(triangles), number))
            for rim, finish in self.rims_of(surface, room.surfaces):
                corners.append(rim)
                rho.append(np.tile(finish, (len(rim), 1)))
                owner.append(np.full(len(rim), -1))
        for body in bodies:
            corners.append(body.points_m[body.faces])
            rho.append(np.tile(body.reflectance_rgb, (len(body.faces), 1)))
            owner.append(np.full(len(body.faces), -1))
        corners = np.concatenate(corners)
        self.middle = (corners.min(axis=(0, 1)) + corners.max(axis=(0, 1))) / 2
        self.corners = (corners - self.middle).astype(np.float32)
        self.rho, self.owner = np.concatenate(rho), np.concatenate(owner)
        edge = self.corners[:, 1:].astype(float) - self.corners[:, :1]
        normal = np.cross(edge[:, 0], edge[:, 1])
        self.areas = np.linalg.norm(normal, axis=1) / 2
        self.normals = normal / (2 * self.areas[:, None])
        self.scene = EmbreeScene()
        self.mesh = TriangleMesh(self.scene, np.ascontiguousarray(self.corners))
        self.light_of = self.runs_light if light_of is None else light_of

    @staticmethod
    def vertices_of(surface):
        """Vertices in the room, their normals, both (n, 3), and triangles of a surface."""
        grid, relief = surface.grid, surface.relief
        heights = np.zeros((grid.rows, grid.columns)) if relief is None else relief.heights_m
        vertices, faces = relief_mesh(heights, grid.step_u_m, grid.step_v_m)
        axes = np.stack([surface.frame.u, surface.frame.v, surface.frame.n])
        return surface.frame.to_room(vertices), mesh_normals(vertices, faces) @ axes, faces

    @staticmethod
    def triangles_of(surface):
        """Triangles (k, 3, 3) of a surface in the room: of its grid, or of its polygon."""
        whole = len(surface.corners_uv_m) == 4 and not surface.holes_uv_m
        if whole or surface.relief is not None:
            points, _, faces = PathTracer.vertices_of(surface)
            return points[faces]
        # strips between corners, in which every edge of the outline and of holes runs straight
        loops = (surface.corners_uv_m, *surface.holes_uv_m)
        edges = np.concatenate([np.stack([p, np.roll(p, -1, axis=0)], axis=1) for p in loops])
        edges = np.take_along_axis(edges, edges[..., :1].argsort(axis=1), axis=1)
        places = np.unique(np.round(edges[..., 0], 9))
        corners = []
        for a, b in pairwise(places):
            (u0, u1), (v0, v1) = edges[(edges[:, 0, 0] < b - 1e-9) & (edges[:, 1, 0] > a + 1e-9)].T
            slope = (v1 - v0) / (u1 - u0)
            ends = np.sort(np.stack([v0 + slope * (a - u0), v0 + slope * (b - u0)]), axis=1)
            for (v_a, v_b), (up_a, up_b) in zip(ends.T[::2], ends.T[1::2], strict=True):
                corners += [[(a, v_a), (b, v_b), (b, up_b)], [(a, v_a), (b, up_b), (a, up_a)]]
        corners = np.array(corners)
        side, other = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        corners = corners[side[:, 0] * other[:, 1] - side[:, 1] * other[:, 0] > 1e-12]
        flat = np.concatenate([corners, np.zeros((*corners.shape[:2], 1))], axis=2)
        return surface.frame.to_room(flat.reshape(-1, 3)).reshape(-1, 3, 3)

    @staticmethod
    def rims_of(surface, surfaces):
        """Triangles and finishes of what closes a relief's rim where it lies behind its mean plane.

        The surfaces beside it end at that plane; built, they run on to the stone.
        """
        if surface.relief is None:
            return
        grid, frame, heights = surface.grid, surface.frame, np.minimum(surface.relief.heights_m, 0)
        u, v = np.arange(grid.columns) * grid.step_u_m, np.arange(grid.rows) * grid.step_v_m
        for inward, at, low in (
            ((0, 1, 0), (u, 0 * u), heights[0]),
            ((0, -1, 0), (u, v[-1] + 0 * u), heights[-1]),
            ((1, 0, 0), (0 * v, v), heights[:, 0]),
            ((-1, 0, 0), (u[-1] + 0 * v, v), heights[:, -1]),
        ):
            facing = np.array(inward) @ np.stack([frame.u, frame.v, frame.n])
            sunk, plane = (frame.to_room(np.stack([*at, n], axis=1)) for n in (low, 0 * low))
            beside = [
                other
                for other in surfaces
                if other.relief is None
                and other.frame.n @ facing > 1 - 1e-9
                and abs((plane.mean(axis=0) - other.frame.to_room(np.zeros((1, 3)))[0]) @ facing)
                < 1e-6
            ]
            if not beside:
                continue
            a, b, c, d = sunk[:-1], sunk[1:], plane[1:], plane[:-1]
            rim = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
            normal = np.cross(rim[:, 1] - rim[:, 0], rim[:, 2] - rim[:, 0])
            rim[normal @ facing < 0] = rim[normal @ facing < 0][:, ::-1]
            yield rim[np.linalg.norm(normal, axis=1) > 1e-9], beside[0].reflectance_rgb

    def runs_light(self, points, normals, owners):
        """Direct light of all runs, (points, 3), by one sample a lit length, even in angle."""
        total = np.zeros((len(points), 3))
        for group in self.groups:
            for line in group.lines:
                for a, b in line.lit_m:
                    light = self._of_length(line, a, b, points, normals)
                    total += group.output * light[:, None] * group.white_rgb
        return total

    def _of_length(self, line, a, b, points, normals):
        away = points - line.origin_m
        x = away @ line.axis
        rho = np.linalg.norm(away - x[:, None] * line.axis, axis=1)
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
        start = points[some] - self.middle + LIFT_M * normals[some]
        hit = self.scene.run(
            start.astype(np.float32),
            way[some].astype(np.float32),
            dists=(distance[some] - 1e-4).astype(np.float32),
            query="OCCLUDED",
        )
        light[some] *= np.asarray(hit) < 0
        return light

    def bounced(self, points_m, normals, paths, rng, lift=None):
        """Reflected illuminance on points, and its standard error, both (points,). [lx]

        The facing cosine is sampled, stratified over the half-space: so the standard error, of
        samples as if they were unrelated, is if anything too large. Rays leave along `lift`,
        (3,) or (points, 3), if given: a height field's vertex normal may point under a facet.
        """
        self.rng = rng
        side = max(1, round(paths**0.5))
        values = np.empty((len(points_m), side * side))
        lift = np.broadcast_to(normals if lift is None else lift, normals.shape)
        flat, square = values.reshape(-1), np.arange(side * side)
        for start in range(0, flat.size, CHUNK):
            number = np.arange(start, min(flat.size, start + CHUNK))
            point, index = number // side**2, square[number % side**2]
            at = np.stack([index % side, index // side], axis=1)
            at = (at + rng.random(at.shape)) / side
            place = points_m[point] - self.middle + LIFT_M * lift[point]
            flat[number] = self._walk(place, normals[point], at)
        return values.mean(axis=1), values.std(axis=1) / side

    def covered(self, points_m, normals):
        """Whether places of surfaces lie under a body that touches the surface there.

        A place just off the surface is then inside the body: sideways, its side is met from within.
        """
        start = points_m - self.middle + TOUCH_M * normals
        way = np.cross(np.eye(3)[np.abs(normals).argmin(axis=1)], normals)
        face = self.scene.run(start.astype(np.float32), way.astype(np.float32), output=True)
        face = face["primID"]
        return (face >= 0) & (np.einsum("ij,ij->i", self.normals[face], way) > 0)

    def mean_over(self, triangles, paths, rng, *, bare=False):
        """Mean reflected illuminance of triangles by true area, and its standard error. [lx]

        With `bare`, of those places alone that no body covers.
        """
        stop = np.cumsum(self.areas[triangles])
        stratum = (np.arange(paths) + rng.random(paths)) / paths * stop[-1]
        chosen = triangles[np.searchsorted(stop, stratum)]
        place = self._within(chosen, np.sqrt(rng.random(paths)), rng.random(paths)) + self.middle
        facing = self.normals[chosen]
        if bare:
            there = ~self.covered(place, facing)
            place, facing = place[there], facing[there]
        light, _ = self.bounced(place, facing, 1, rng)
        return light.mean(), light.std() / np.sqrt(len(light))

    def _within(self, faces, a, b):
        weights = np.stack([1 - a, a * (1 - b), a * b], axis=1)
        return np.einsum("ij,ijk->ik", weights, self.corners[faces].astype(float))

    def _walk(self, place, facing, square):
        """Luminance-weighted light that one path each brings to places, from the middle, off it."""
        gained = np.zeros(len(place))
        alive, carried = np.arange(len(place)), np.ones((len(place), 3))
        while alive.size:
            way = _cosine_directions(facing, square)
            hit = self.scene.run(place.astype(np.float32), way.astype(np.float32), output=True)
            face = hit["primID"]
            met = face >= 0
            met[met] = np.einsum("ij,ij->i", way[met], self.normals[face[met]]) < 0
            face, carried, alive = face[met], carried[met] * self.rho[face[met]], alive[met]
            u, v = hit["u"][met].astype(float), hit["v"][met].astype(float)
            place = np.einsum(
                "ij,ijk->ik", np.stack([1 - u - v, u, v], axis=1), self.corners[face].astype(float)
            )
            facing = self.normals[face]
            light = np.asarray(self.light_of(place + self.middle, facing, self.owner[face]))
            light = light[:, None] if light.ndim == 1 else light
            gained[alive] += (carried * light) @ LUMA
            goes_on = np.minimum(carried.max(axis=1) / FAINT, 1.0)
            kept = self.rng.random(alive.size) < goes_on
            carried = carried[kept] / goes_on[kept, None]
            alive, facing = alive[kept], facing[kept]
            place = place[kept] + LIFT_M * facing
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
