"""How much of each patch's light reaches each other patch."""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.form_factors import balanced
from rakelight.light.kernels.polygon import patch_factors
from rakelight.light.patches import Patches

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: A patch that sees less than this of its half-space lies against another and is left out.
SEALED = 0.2
#: A room counts as closed if the patches see, on average, all but this share.
OPEN_SHARE = 0.02


def open_flow(one: Patches, other: Patches) -> Floats32:
    """Area times form factor between patches of two lists, nothing in between. [m2]

    Parameters
    ----------
    one, other : Patches
        Of p and of q patches; may be the same.

    Returns
    -------
    ndarray of float32, shape (p, q)
        The mean of both ways, so that it is the same from either side.
    """
    there = _factors(one, other) * one.areas_m2.astype(np.float32)[:, None]
    back = there if one is other else _factors(other, one)
    if one is not other:
        back *= other.areas_m2.astype(np.float32)[:, None]
    out: Floats32 = (there + back.T) * np.float32(0.5)
    return out


def _factors(one: Patches, other: Patches) -> Floats32:
    f32 = np.float32
    few, few_share = one.samples(2)
    many, many_share = one.samples(4)
    out = np.empty((one.count, other.count), f32)
    patch_factors(
        one.centres_m.astype(f32),
        one.radii_m.astype(f32),
        one.normals.astype(f32),
        few,
        few_share,
        many,
        many_share,
        other.centres_m.astype(f32),
        other.radii_m.astype(f32),
        other.normals.astype(f32),
        other.corners_m.astype(f32),
        other.counts,
        out,
    )
    return out


def exchange_factors(
    flow_m2: Floats32, patches: Patches, surfaces: int
) -> tuple[Floats32, Floats32 | None]:
    """Form factors between all patches, and how they were scaled if the room is closed.

    Parameters
    ----------
    flow_m2 : ndarray of float32, shape (patches, patches)
        Area times form factor, symmetric; what stands between taken out. [m2]
    patches : Patches
        Of the room and its bodies.
    surfaces : int
        Number of surfaces; patches of higher owners lie on bodies, and may lie outside.

    Returns
    -------
    ndarray of float32, shape (patches, patches)
        F[i, j]: share of i's light that reaches j = E at i for exitance 1 of j. A F is
        symmetric; in a closed room every row sums to 1 but those of sealed patches, which are
        0.
    ndarray of float32, shape (patches,), or None
        What each patch's factors were scaled by, from either end, in a closed room; None for an
        open one. A patch that a body half covers sends all its light from the other half.

    Notes
    -----
    Polygon formula averaged over points of the receiver, made symmetric. Rows then miss 1 by
    under 0.1 % without bodies and by some per cent beside them (4 rays a pair); scaling rows
    and columns alike takes that out in a closed room.
    """
    rows = flow_m2.sum(axis=1, dtype=np.float64)
    sealed = rows < SEALED * patches.areas_m2
    hull = ~sealed & (patches.owner < surfaces)
    missed = 1 - rows[hull].sum() / patches.areas_m2[hull].sum() if hull.any() else 1.0
    scale: Floats32 | None = None
    if abs(missed) < OPEN_SHARE:
        flow_m2 = np.where(sealed | sealed[:, None], np.float32(0), flow_m2)
        flow_m2, scale = balanced(flow_m2, patches.areas_m2)
    factors: Floats32 = flow_m2 / patches.areas_m2.astype(np.float32)[:, None]
    return factors, scale
