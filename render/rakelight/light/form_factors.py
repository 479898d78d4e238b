"""Diffuse form factors between points and polygons: analytic where nothing stands between.

A polygon is a list of corners, counter-clockwise seen from its lit side.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: Gauss points an edge in `polygon_to_polygon`: 1e-6 for polygons that share an edge.
EDGE_POINTS = 32
#: Each step of `balanced` leaves this share of the squares of what rows miss.
NEWTON_REST = 1e-4


def clip_to_front(corners_m: ArrayLike, point_m: ArrayLike, normal: ArrayLike) -> Floats:
    """The part of a polygon in front of a plane, shape (k, 3); empty if there is none.

    Parameters
    ----------
    corners_m : array_like, shape (n, 3)
        Polygon. [m]
    point_m, normal : array_like, shape (3,)
        A point of the plane [m] and its unit normal.
    """
    corners = np.asarray(corners_m, np.float64)
    height = (corners - np.asarray(point_m, np.float64)) @ np.asarray(normal, np.float64)
    kept = []
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        if height[i] > 0:
            kept.append(corners[i])
        if (height[i] > 0) != (height[j] > 0):
            f = height[i] / (height[i] - height[j])
            kept.append(corners[i] + f * (corners[j] - corners[i]))
    out: Floats = np.array(kept).reshape(-1, 3)
    return out


def polygon_normal(corners_m: ArrayLike) -> tuple[Floats, float]:
    """Unit normal and area [m2] of a planar polygon."""
    corners = np.asarray(corners_m, np.float64)
    turned = np.roll(corners, -1, axis=0)
    vector = np.cross(corners - corners[0], turned - corners[0]).sum(axis=0) / 2
    area = float(np.linalg.norm(vector))
    if area == 0:
        raise ValueError("a polygon without area has no normal")
    normal: Floats = vector / area
    return normal, area


def point_to_polygon(point_m: ArrayLike, normal: ArrayLike, corners_m: ArrayLike) -> float:
    """Form factor of a small plane to a polygon: its illuminance over the polygon's exitance.

    Parameters
    ----------
    point_m, normal : array_like, shape (3,)
        The receiving plane's place [m] and unit normal.
    corners_m : array_like, shape (n, 3)
        The polygon, counter-clockwise seen from its lit side. [m]

    Returns
    -------
    float
        0 for a receiver behind the polygon; what lies below the receiver's horizon is cut off.

    References
    ----------
    .. [1] J. H. Lambert, Photometria, 1760; P. D. Foote, Illumination from a radiating disk,
       Bulletin of the Bureau of Standards 12, 1915 (both from memory).
    """
    point = np.asarray(point_m, np.float64)
    corners = np.asarray(corners_m, np.float64)
    way, _ = polygon_normal(corners)
    if (point - corners[0]) @ way <= 0:
        return 0.0
    seen = clip_to_front(corners, point, normal) - point
    if len(seen) < 3:
        return 0.0
    after = np.roll(seen, -1, axis=0)
    cross = np.cross(seen, after)
    sine = np.linalg.norm(cross, axis=1)
    angle = np.arctan2(sine, np.einsum("ij,ij->i", seen, after))
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(sine > 0, cross @ np.asarray(normal, np.float64) * angle / sine, 0.0)
    return max(0.0, -float(part.sum()) / (2 * np.pi))


def polygon_to_polygon(first_m: ArrayLike, second_m: ArrayLike) -> float:
    """Form factor from one polygon to another, nothing in between.

    Parameters
    ----------
    first_m, second_m : array_like, shape (n, 3), (k, 3)
        Convex polygons, counter-clockwise seen from their lit sides. [m]

    Returns
    -------
    float
        Share of the first one's flux that reaches the second; what lies behind either's plane
        does not count.

    Notes
    -----
    Contour integral A1 F12 = 1 / (2 pi) sum over pairs of edges of (e1 . e2) times the double
    integral of ln r. The inner one in closed form, the outer one by Gauss-Legendre in a
    variable that flattens both ends, so that shared edges and corners cost no digits.

    References
    ----------
    .. [1] E. M. Sparrow, A new and simpler formulation for radiative angle factors, Journal of
       Heat Transfer 85, 1963 (from memory); checked against Howell's catalogue in the tests.
    """
    first, second = np.asarray(first_m, np.float64), np.asarray(second_m, np.float64)
    way, area = polygon_normal(first)
    other, _ = polygon_normal(second)
    one = clip_to_front(first, second[0], other)
    two = clip_to_front(second, first[0], way)
    if len(one) < 3 or len(two) < 3:
        return 0.0
    x, w = np.polynomial.legendre.leggauss(EDGE_POINTS)
    x, w = (x + 1) / 2, w / 2
    t = x**3 * (10 - 15 * x + 6 * x * x)
    weight = w * 30 * x * x * (1 - x) ** 2
    total = 0.0
    for a, b in zip(one, np.roll(one, -1, axis=0), strict=True):
        for c, d in zip(two, np.roll(two, -1, axis=0), strict=True):
            length = np.linalg.norm(d - c)
            if length == 0:
                continue
            along = (d - c) / length
            dot = float((b - a) @ along)
            if dot == 0:
                continue
            from_point = c - (a + t[:, None] * (b - a))
            start = from_point @ along
            away2 = np.maximum(0.0, np.einsum("ij,ij->i", from_point, from_point) - start * start)
            total += dot * float(
                weight @ (_log_part(start + length, away2) - _log_part(start, away2))
            )
    return max(0.0, total / (2 * np.pi * area))


def _log_part(y: Floats, away2: Floats) -> Floats:
    """Indefinite integral of ln sqrt(y^2 + d^2) over y."""
    r2 = y * y + away2
    away = np.sqrt(away2)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.where(r2 > 0, 0.5 * y * np.log(r2), 0.0)
    out: Floats = log - y + away * np.arctan2(y, away)
    return out


def balanced(
    flow_m2: NDArray[np.float32], areas_m2: Floats, passes: int = 60
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Scale a symmetric matrix of A F so that each row sums to its area, and stays symmetric.

    Parameters
    ----------
    flow_m2 : ndarray of float32, shape (n, n)
        Symmetric: area times form factor. [m2]
    areas_m2 : ndarray of float64, shape (n,)
        What the rows must sum to: closure of a closed room. [m2]
    passes : int
        Products with the matrix, at most; ends when every row is within 5e-6.

    Returns
    -------
    ndarray of float32, shape (n, n)
        d_i flow_ij d_j: reciprocity kept, closure met. Rows of zeros stay so.
    ndarray of float32, shape (n,)
        The scale d.

    Notes
    -----
    Newton's method for ln d, each step by conjugate gradients: S + D A D, S the rows' sums as a
    diagonal, is symmetric, and positive as long as patches do not merely see one another in pairs.
    Scaling each row by the root of what it misses instead takes two to three times as long.
    """
    scale = np.ones(len(areas_m2))
    done = 0

    def times(vector: Floats) -> Floats:
        nonlocal done
        done += 1
        product: Floats = scale * (flow_m2 @ (scale * vector).astype(np.float32))
        return product

    while done < passes:
        sums = times(np.ones_like(scale))
        some = sums > 0
        rest = np.where(some, areas_m2 - sums, 0.0)
        if (np.abs(rest) < 5e-6 * areas_m2).all():
            break
        per = np.divide(1.0, sums, out=np.zeros_like(sums), where=some)
        step = np.zeros_like(scale)
        way = per * rest
        size = first = float(rest @ way)
        while done < passes and size > NEWTON_REST * first:
            turned = sums * way + times(way)
            along = float(way @ turned)
            if along <= 0:
                break
            step += size / along * way
            rest -= size / along * turned
            before, size = size, float(rest @ (per * rest))
            way = per * rest + size / before * way
        scale *= np.exp(np.clip(step, -1.0, 1.0))
    narrow = scale.astype(np.float32)
    out: NDArray[np.float32] = flow_m2 * narrow[:, None] * narrow
    return out, narrow
