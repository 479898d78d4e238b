"""The light on paintings, graphics and murals."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.grid import at_points
from rakelight.scene.lit import Lit
from rakelight.scene.number import Number
from rakelight.scene.painting import Painting
from rakelight.scene.surfaces import Room

#: Largest step between the places at which a painting's light is read. [m]
STEP_M = 0.01


def painting_numbers(paintings: Sequence[Painting], room: Room, lit: Lit) -> tuple[Number, ...]:
    """Average, least and greatest illuminance of each painting, on its plane.

    Parameters
    ----------
    paintings : sequence of Painting
        What hangs on walls, or is painted on them.
    room : Room
        Its surfaces.
    lit : Lit
        Its light.

    Returns
    -------
    tuple of Number
        ``painting TAG.average_lx`` and so on. A mural's are what its wall's mean plane
        receives, as a meter held to it would read.
    """
    out: list[Number] = []
    for one in paintings:
        lx = painting_lx(one, room, lit)
        name, what = f"painting {one.tag}", f"painting {one.tag} on {one.on}"
        out += [
            Number(f"{name}.average_lx", float(lx.mean()), "lx", f"average on {what}"),
            Number(f"{name}.min_lx", float(lx.min()), "lx", f"least on {what}"),
            Number(f"{name}.max_lx", float(lx.max()), "lx", f"greatest on {what}"),
        ]
    return tuple(out)


def painting_lx(painting: Painting, room: Room, lit: Lit) -> NDArray[np.float64]:
    """Illuminance at the middles of cells that cover a painting, shape (k,). [lx]"""
    surface = room.surface(painting.surface)
    (u0, v0), (u1, v1) = painting.low_m, painting.high_m
    across = max(2, int(np.ceil((u1 - u0) / STEP_M)))
    up = max(2, int(np.ceil((v1 - v0) / STEP_M)))
    u = u0 + (np.arange(across) + 0.5) * (u1 - u0) / across
    v = v0 + (np.arange(up) + 0.5) * (v1 - v0) / up
    at_v, at_u = (a.ravel() for a in np.meshgrid(v, u, indexing="ij"))
    return at_points(_plane_lx(painting.surface, lit), surface.grid, at_u, at_v)


def _plane_lx(name: str, lit: Lit) -> NDArray[np.float32]:
    """All light on a surface's mean plane, on its vertices."""
    total: NDArray[np.float32] = lit.flat_runs_lx(name) + lit.other_lx[name]
    if name in lit.flat_bounced_lx:
        total = total + lit.flat_bounced_lx[name]
    elif name in lit.bounced_lx:
        total = total + lit.indirect_lx(name)
    return total
