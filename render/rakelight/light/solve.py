"""The room's exchange of light, reflection by reflection, to a stated residual."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import EVEN, TERMS, fitted
from rakelight.light.hollow_wall import HollowWall

Floats32 = NDArray[np.float32]

#: A reflectance of 0.995 everywhere needs about this many reflections.
MOST_PASSES = 2000


def solve(
    factors: Floats32,
    source: Floats32,
    reflectance: Floats32,
    residual: float,
    walls: Sequence[HollowWall] = (),
    wall_sources: Sequence[Floats32] = (),
    beyond: Sequence[Floats32 | None] = (),
) -> tuple[Floats32, list[Floats32], float, int]:
    """Exitance of all patches.

    Parameters
    ----------
    factors : ndarray of float32, shape (patches, patches)
        Form factors.
    source : ndarray of float32, shape (patches, bands)
        Exitance of the first reflection; 0 for patches of `walls`. [lm/m2]
    reflectance : ndarray of float32, shape (patches, bands)
        Diffuse; 0 for patches of `walls`.
    residual : float
        Ends when all that is still to come is under this share of the largest exitance.
    walls : sequence of HollowWall
        Reliefs, whose exitance depends on direction.
    wall_sources : sequence of ndarray of float32, shape (own, TERMS, bands)
        Their exitance of the first reflection, by terms. [lm/m2]
    beyond : sequence of ndarray of float32, shape (patches, own, bands), or None
        What of their first reflection reaches each patch besides, from `Beyond.arriving`. [lx]

    Returns
    -------
    ndarray of float32, shape (patches, bands)
        Exitance of the diffuse patches [lm/m2],
    list of ndarray of float32, shape (own, TERMS, bands)
        that of the reliefs' patches,
    float, int
        the residual that was reached, and the reflections followed.

    Notes
    -----
    Each pass is at most the largest reflectance times the one before, so that all passes to
    come are under r / (1 - r) times the last one, r the ratio of the last two.
    """
    bands = source.shape[1]
    total = source.astype(np.float64)
    wall_totals = [part.astype(np.float64) for part in wall_sources]
    part, wall_parts = source, list(wall_sources)
    responses = [wall.response_rgb[..., :bands] for wall in walls]
    highest = max(
        float(reflectance.max(initial=0.0)),
        *(float(wall.apparent_rgb.max()) for wall in walls),
        0.0,
    )
    most = before = _largest(part, wall_parts)
    left, passes = 0.0, 0
    while most > 0 and passes < MOST_PASSES:
        passes += 1
        besides = beyond if passes == 1 else ()
        reached = arriving(factors, part, walls, wall_parts, besides)
        coming = [
            fitted(wall_moments(i, part, walls, wall_parts, besides)) for i in range(len(walls))
        ]
        part = reflectance * reached
        wall_parts = [
            np.einsum("nokb,knb->nob", response, light)
            for response, light in zip(responses, coming, strict=True)
        ]
        total += part
        for whole, more in zip(wall_totals, wall_parts, strict=True):
            whole += more
        now = _largest(part, wall_parts)
        ratio = min(now / before, highest)
        before = now
        left = now * ratio / (1 - ratio) / most if ratio < 1 else np.inf
        if left < residual or now == 0:
            break
    narrow = [whole.astype(np.float32) for whole in wall_totals]
    return total.astype(np.float32), narrow, left, passes


def arriving(
    factors: Floats32,
    exitance: Floats32,
    walls: Sequence[HollowWall],
    wall_exitance: Sequence[Floats32],
    beyond: Sequence[Floats32 | None] = (),
) -> Floats32:
    """Illuminance of every patch by all others, shape (patches, bands). [lx]"""
    out: Floats32 = factors @ exitance
    for wall, light in zip(walls, wall_exitance, strict=True):
        for k in range(TERMS):
            out += wall.given[k] @ light[:, k]
    for shown in beyond:
        if shown is not None:
            out += shown.sum(axis=1)
    return out


def wall_moments(
    number: int,
    exitance: Floats32,
    walls: Sequence[HollowWall],
    wall_exitance: Sequence[Floats32],
    beyond: Sequence[Floats32 | None] = (),
) -> Floats32:
    """Moments of the light that one relief's patches receive, shape (TERMS, own, bands). [lx]"""
    wall = walls[number]
    out: Floats32 = np.stack([wall.seen[k] @ exitance for k in range(TERMS)])
    for i, (other, light) in enumerate(zip(walls, wall_exitance, strict=True)):
        if other is wall:
            continue
        shown = np.zeros((wall.own.size, other.own.size, light.shape[2]), np.float32)
        for k in range(TERMS):
            shown += other.given[k][wall.own][:, :, None] * light[None, :, k]
        more = beyond[i] if beyond else None
        if more is not None:
            shown += more[wall.own]
        level = wall.seen[0][:, other.own]
        for k in range(TERMS):
            way = np.divide(
                wall.seen[k][:, other.own], level, out=np.zeros_like(level), where=level > 0
            )
            out[k] += np.einsum("pq,pqb->pb", way, shown)
    return out


def flux_per_area(wall_exitance: Floats32) -> Floats32:
    """Exitance of patches given by terms, shape (own, TERMS, bands) to (own, bands). [lm/m2]"""
    out: Floats32 = np.einsum("k,nkb->nb", EVEN.astype(np.float32), wall_exitance)
    return out


def _largest(exitance: Floats32, wall_exitance: Sequence[Floats32]) -> float:
    return max(
        float(exitance.max(initial=0.0)),
        *(float(flux_per_area(light).max()) for light in wall_exitance),
        0.0,
    )
