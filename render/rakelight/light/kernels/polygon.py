"""Diffuse light of polygons on points: Lambert's polygon formula, many points and polygons."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt


@inline
def wide_angle(cross, dot):
    """Angle over its sine for |a x b| = cross and a . b = dot, divided by |a| |b|."""
    return math.atan2(cross, dot) / cross


@inline
def polygon_factor(x, y, z, n_x, n_y, n_z, corners, count, way, clipped):
    """Form factor of one small plane at (x, y, z) to one polygon, the back side taken as 0.

    corners (K, 3); count: corners used; way (3,): the polygon's normal; clipped (2 K + 2, 4)
    float64 scratch. Twice the angle formula's error of float64; corners behind the receiving
    plane are cut off first.
    """
    facing = (
        way[0] * (x - corners[0, 0]) + way[1] * (y - corners[0, 1]) + way[2] * (z - corners[0, 2])
    )
    if facing <= 0.0:
        return 0.0
    above = 0
    for i in range(count):
        a = corners[i, 0] - x
        b = corners[i, 1] - y
        c = corners[i, 2] - z
        clipped[i, 0], clipped[i, 1], clipped[i, 2] = a, b, c
        height = n_x * a + n_y * b + n_z * c
        clipped[i, 3] = height
        if height > 0.0:
            above += 1
    if above == 0:
        return 0.0
    used = count
    first = 0
    if above < count:  # write the cut polygon behind the whole one
        first = count
        used = 0
        for i in range(count):
            j = i + 1 if i + 1 < count else 0
            if clipped[i, 3] > 0.0:
                for k in range(3):
                    clipped[first + used, k] = clipped[i, k]
                used += 1
            if (clipped[i, 3] > 0.0) != (clipped[j, 3] > 0.0):
                f = clipped[i, 3] / (clipped[i, 3] - clipped[j, 3])
                for k in range(3):
                    clipped[first + used, k] = clipped[i, k] + f * (clipped[j, k] - clipped[i, k])
                used += 1
    for i in range(first, first + used):
        clipped[i, 3] = (
            clipped[i, 0] * clipped[i, 0]
            + clipped[i, 1] * clipped[i, 1]
            + clipped[i, 2] * clipped[i, 2]
        )
    total = 0.0
    for i in range(first, first + used):
        j = i + 1 if i + 1 < first + used else first
        a_x, a_y, a_z = clipped[i, 0], clipped[i, 1], clipped[i, 2]
        b_x, b_y, b_z = clipped[j, 0], clipped[j, 1], clipped[j, 2]
        g_x = a_y * b_z - a_z * b_y
        g_y = a_z * b_x - a_x * b_z
        g_z = a_x * b_y - a_y * b_x
        up = n_x * g_x + n_y * g_y + n_z * g_z
        if up == 0.0:
            continue
        dot = a_x * b_x + a_y * b_y + a_z * b_z
        cross2 = g_x * g_x + g_y * g_y + g_z * g_z
        product2 = clipped[i, 3] * clipped[j, 3]
        if dot > 0.0 and cross2 < 0.09 * product2:  # asin(s) / s by its series, to 4e-7
            s2 = cross2 / product2
            series = 1.0 + s2 * (1 / 6 + s2 * (3 / 40 + s2 * (15 / 336 + s2 * (105 / 3456))))
            total += up * series / math.sqrt(product2)
        else:
            total += up * wide_angle(math.sqrt(cross2), dot)
    factor = -total / (2.0 * math.pi)
    return factor if factor > 0.0 else 0.0


@inline
def far_factor(n_x, n_y, n_z, way, d_x, d_y, d_z, area):
    """Form factor to a patch that is far over its size, d away and wholly in front.

    Exact for a disc that faces the receiver; off by under 0.5 % at six radii.
    """
    square = d_x * d_x + d_y * d_y + d_z * d_z
    up = n_x * d_x + n_y * d_y + n_z * d_z
    back = -(way[0] * d_x + way[1] * d_y + way[2] * d_z)
    if back <= 0.0:
        return 0.0
    return up * back * area / (square * (math.pi * square + area))


@kernel
def point_factors(points, normals, corners, counts, ways, centres, radii, areas, out):
    """Form factors of every point to every polygon, nothing in between.

    points, normals (P, 3) float32; corners (Q, K, 3) float32 counter-clockwise seen from the
    front; counts (Q,) int32; ways (Q, 3) float32: the polygons' normals; centres (Q, 3), radii,
    areas (Q,) float32: theirs too; out (P, Q) float32.
    """
    for card in numba.prange(points.shape[0]):
        p = dealt(card, points.shape[0])
        scratch = np.empty((2 * corners.shape[1] + 2, 4), np.float64)
        for q in range(corners.shape[0]):
            d_x = centres[q, 0] - points[p, 0]
            d_y = centres[q, 1] - points[p, 1]
            d_z = centres[q, 2] - points[p, 2]
            up = normals[p, 0] * d_x + normals[p, 1] * d_y + normals[p, 2] * d_z
            if up <= -radii[q]:
                out[p, q] = 0.0
                continue
            reach = np.float32(6.0) * radii[q]
            if up >= radii[q] and d_x * d_x + d_y * d_y + d_z * d_z > reach * reach:
                out[p, q] = far_factor(
                    normals[p, 0], normals[p, 1], normals[p, 2], ways[q], d_x, d_y, d_z, areas[q]
                )
                continue
            out[p, q] = polygon_factor(
                points[p, 0], points[p, 1], points[p, 2],
                normals[p, 0], normals[p, 1], normals[p, 2],
                corners[q], counts[q], ways[q], scratch,
            )  # fmt: skip


@kernel
def listed_factors(points, normals, corners, counts, ways, pairs, out):
    """`point_factors` for listed pairs only: pairs (N, 2) int32 (point, polygon), out (N,)."""
    for i in numba.prange(pairs.shape[0]):
        scratch = np.empty((2 * corners.shape[1] + 2, 4), np.float64)
        p = pairs[i, 0]
        q = pairs[i, 1]
        out[i] = polygon_factor(
            points[p, 0], points[p, 1], points[p, 2],
            normals[p, 0], normals[p, 1], normals[p, 2],
            corners[q], counts[q], ways[q], scratch,
        )  # fmt: skip


@kernel
def patch_factors(
    centres, radii, ways, few, few_share, many, many_share, to_centres, to_radii, to_ways,
    corners, counts, out,
):  # fmt: skip
    """Form factor of every patch to every other of a second list, nothing in between.

    The mean of `polygon_factor` over points of the receiving patch: its centre for distant
    pairs, `few` points within six radii, `many` within two.

    centres, ways (P, 3), radii (P,) float32; few (P, S, 3), few_share (P, S), many (P, T, 3),
    many_share (P, T) float32: points of each receiver and their shares of its area, which sum to
    1; to_centres, to_ways (Q, 3), to_radii (Q,), corners (Q, K, 3) float32, counts (Q,) int32:
    of those seen; out (P, Q) float32. A patch never sees itself: it lies in its own plane.
    """
    for i in numba.prange(centres.shape[0]):
        scratch = np.empty((2 * corners.shape[1] + 2, 4), np.float64)
        n_x, n_y, n_z = ways[i, 0], ways[i, 1], ways[i, 2]
        for j in range(to_centres.shape[0]):
            d_x = to_centres[j, 0] - centres[i, 0]
            d_y = to_centres[j, 1] - centres[i, 1]
            d_z = to_centres[j, 2] - centres[i, 2]
            distance = math.sqrt(d_x * d_x + d_y * d_y + d_z * d_z)
            reach = radii[i] + to_radii[j]
            total = 0.0
            # nothing of it in front of the other's plane, by far
            if to_ways[j, 0] * d_x + to_ways[j, 1] * d_y + to_ways[j, 2] * d_z >= radii[i]:
                pass
            elif n_x * d_x + n_y * d_y + n_z * d_z <= -to_radii[j]:
                pass
            elif distance > 6.0 * reach:
                total = polygon_factor(
                    centres[i, 0], centres[i, 1], centres[i, 2], n_x, n_y, n_z,
                    corners[j], counts[j], to_ways[j], scratch,
                )  # fmt: skip
            elif distance > 2.0 * reach:
                for s in range(few.shape[1]):
                    if few_share[i, s] > 0.0:
                        total += few_share[i, s] * polygon_factor(
                            few[i, s, 0], few[i, s, 1], few[i, s, 2], n_x, n_y, n_z,
                            corners[j], counts[j], to_ways[j], scratch,
                        )  # fmt: skip
            else:
                for s in range(many.shape[1]):
                    if many_share[i, s] > 0.0:
                        total += many_share[i, s] * polygon_factor(
                            many[i, s, 0], many[i, s, 1], many[i, s, 2], n_x, n_y, n_z,
                            corners[j], counts[j], to_ways[j], scratch,
                        )  # fmt: skip
            out[i, j] = total
