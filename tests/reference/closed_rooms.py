"""Whether surfaces close a space, and how much they hold."""

import numpy as np

from rakelight.build.faces import signed_area


def flux_through(surfaces):
    """Sum of area vectors: zero for anything closed."""
    total = np.zeros(3)
    for s in surfaces:
        area = signed_area(s.corners_uv_m) - sum(signed_area(h) for h in s.holes_uv_m)
        total += area * s.frame.n
    return total


def volume(surfaces):
    """Volume inside surfaces whose fronts face inward, by the divergence theorem. [m3]"""
    total = 0.0
    for s in surfaces:
        area = signed_area(s.corners_uv_m) - sum(signed_area(h) for h in s.holes_uv_m)
        total -= area * (s.frame.origin_m @ s.frame.n) / 3
    return total
