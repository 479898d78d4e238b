"""Brute force for the tests: stratified samples over the opening, one shadow ray each.

Imports nothing of `rakelight.light`: mesh, normals, samples and visibility are its own; only
records (`LitLine`, `Relief`) come from the project.
"""

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

#: Shadow rays start this far off the surface: 0.2 mm reads 2-3 % too bright under a graze. [m]
LIFT_M = 0.000005


def relief_mesh(heights_m, step_u_m, step_v_m):
    """Vertices (n, 3) as (u, v, n) and triangles, cells cut lower left to upper right."""
    rows, columns = heights_m.shape
    u, v = np.meshgrid(np.arange(columns) * step_u_m, np.arange(rows) * step_v_m)
    vertices = np.stack([u, v, heights_m], axis=-1).reshape(-1, 3)
    index = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    low, right = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
    up, far = index[1:, :-1].ravel(), index[1:, 1:].ravel()
    faces = np.concatenate([np.stack([low, right, far], 1), np.stack([low, far, up], 1)])
    return vertices, faces


def mesh_normals(vertices, faces):
    """Area-weighted vertex normals of any mesh."""
    corner = vertices[faces]
    area = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normals = np.zeros_like(vertices)
    for i in range(3):
        for axis in range(3):
            normals[:, axis] += np.bincount(faces[:, i], area[:, axis], minlength=len(vertices))
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)


class BruteForce:
    """A mesh in room coordinates that shadows, and points on it that are lit."""

    def __init__(self, vertices_m, faces):
        self.scene = EmbreeScene()
        mesh = np.ascontiguousarray(vertices_m[faces], dtype=np.float32)
        self.mesh = TriangleMesh(self.scene, mesh)

    def add(self, triangles_m):
        """Let more triangles, shape (n, 3, 3), stand in the light."""
        TriangleMesh(self.scene, np.ascontiguousarray(triangles_m, dtype=np.float32))

    def hidden(self, starts, directions, distances=None):
        """Whether anything stands in the way of each ray, as far as the distances if given."""
        far = np.inf if distances is None else distances
        hit = self.scene.run(
            np.ascontiguousarray(starts, np.float32),
            np.ascontiguousarray(directions, np.float32),
            dists=np.ascontiguousarray(np.broadcast_to(far, len(starts)), np.float32),
            query="OCCLUDED",
        )
        return np.asarray(hit) >= 0  # embreex says 0 for hidden, -1 for clear

    def illuminance(self, points_m, normals, line, samples, seed=0, chunk=200_000, lift_m=None):
        """Illuminance of one run at full output, by samples stratified in angle and across.

        Along the run the strata are equal in the angle seen from the point, which makes their
        weights alike; across the opening they are equal in width. Rays start a little along the
        vertex normals, or `lift_m`, shape (3,), off: where a steep facet meets a gentle one a
        vertex normal can point under the other, but a height field is always left straight up.
        """
        rng = np.random.default_rng(seed)
        out = np.zeros(len(points_m))
        starts = points_m + (LIFT_M * normals if lift_m is None else np.asarray(lift_m))
        per = max(1, chunk // samples)
        for start in range(0, len(points_m), per):
            part = slice(start, start + per)
            out[part] = self._part(points_m[part], starts[part], normals[part], line, samples, rng)
        return out

    def _part(self, points, from_m, normals, line, samples, rng):
        count = len(points)
        total = np.zeros(count)
        x = (points - line.origin_m) @ line.axis
        down = (points - line.origin_m) @ line.nadir
        side = (points - line.origin_m) @ line.across
        rho = np.hypot(down, side)
        length = line.lit_m[:, 1] - line.lit_m[:, 0]
        angles = [(np.arctan((a - x) / rho), np.arctan((b - x) / rho)) for a, b in line.lit_m]
        share = np.maximum(2, np.round(samples * length / length.sum())).astype(int)
        for (low, high), n in zip(angles, share, strict=True):
            strata = (np.arange(n) + rng.random((count, n))) / n
            psi = low[:, None] + (high - low)[:, None] * strata
            across = (
                rng.permuted(np.tile(np.arange(n), (count, 1)), axis=1) + rng.random((count, n))
            ) / n - 0.5
            along = x[:, None] + rho[:, None] * np.tan(psi)
            source = (
                line.origin_m
                + along[..., None] * line.axis
                + (across * line.opening_width_m)[..., None] * line.across
            )
            ray = source - points[:, None]
            distance = np.linalg.norm(ray, axis=-1)
            ray /= distance[..., None]
            cosine = np.maximum(0.0, np.einsum("ijk,ik->ij", ray, normals))
            candela = line.candela_per_metre(-ray)
            weight = (high - low)[:, None] / n * rho[:, None] / np.cos(psi) ** 2
            light = candela * cosine / distance**2 * weight
            wanted = light > 0
            starts = from_m[:, None] + np.zeros_like(ray)
            hidden = np.zeros(light.shape, bool)
            if wanted.any():
                short = distance[wanted] * (1 - 1e-5)  # what lies behind the opening hides nothing
                hidden[wanted] = self.hidden(starts[wanted], ray[wanted], short)
            total += np.where(hidden, 0.0, light).sum(axis=1)
        return total
