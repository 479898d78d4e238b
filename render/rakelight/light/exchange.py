"""How much of each patch's light reaches each other patch."""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.form_factors import balanced
from rakelight.light.kernels.polygon import patch_factors
from rakelight.light.patches import Patches
from rakelight.light.rays import FIRST, Blockers, separable, visible_share

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: A patch that sees less than this of its half-space lies against another and is left out.
SEALED = 0.2
#: A room counts as closed if the patches see, on average, all but this share.
OPEN_SHARE = 0.02


def patch_exchange(patches: Patches, what: Blockers) -> tuple[Floats32, bool]:
    """Form factors between all patches, and whether the room is closed.

    Parameters
    ----------
    patches : Patches
        Of the room and its bodies.
    what : Blockers
        What stands between.

    Returns
    -------
    ndarray of float32, shape (patches, patches)
        F[i, j]: share of i's light that reaches j = E at i for exitance 1 of j. A F is
        symmetric; in a closed room every row sums to 1 but those of sealed patches, which are
        0.
    bool
        True for a closed room.

    Notes
    -----
    Polygon formula averaged over points of the receiver, made symmetric. Rows then miss 1 by
    under 0.1 % without bodies and by some per cent beside them (4 rays a pair); scaling rows
    and columns alike takes that out in a closed room.
    """
    f32 = np.float32
    few, few_share = patches.samples(2)
    many, many_share = patches.samples(4)
    factors = np.empty((patches.count, patches.count), f32)
    patch_factors(
        patches.centres_m.astype(f32),
        patches.radii_m.astype(f32),
        patches.normals.astype(f32),
        patches.corners_m.astype(f32),
        patches.counts,
        few,
        few_share,
        many,
        many_share,
        factors,
    )
    areas = patches.areas_m2.astype(f32)
    flow: Floats32 = factors * areas[:, None]
    flow = (flow + flow.T) * f32(0.5)
    if what.scene is not None:
        wanted = np.triu(flow > 0, 1)
        on_bodies = patches.owner >= what.surfaces
        pairs = separable(what, patches.centres_m, patches.radii_m, patches, wanted, on_bodies)
        points = np.ascontiguousarray(patches.spread()[:, FIRST])
        share = visible_share(what, points, points, pairs)
        flow[pairs[:, 0], pairs[:, 1]] *= share
        flow[pairs[:, 1], pairs[:, 0]] *= share
    rows = flow.sum(axis=1, dtype=np.float64)
    sealed = rows < SEALED * patches.areas_m2
    hull = ~sealed & (patches.owner < what.surfaces)
    missed = 1 - rows[hull].sum() / patches.areas_m2[hull].sum() if hull.any() else 1.0
    closed = bool(abs(missed) < OPEN_SHARE)
    if closed:
        flow[sealed] = 0
        flow[:, sealed] = 0
        flow = balanced(flow, patches.areas_m2)
    factors = flow / areas[:, None]
    return factors, closed
