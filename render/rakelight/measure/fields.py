"""One surface's light, gathered once for all measures."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.smooth import local_mean
from rakelight.measure.weights import cells_inside, vertex_areas
from rakelight.scene.grid import Grid
from rakelight.scene.lit import Lit
from rakelight.scene.relief import Relief
from rakelight.scene.surfaces import Surface

# Rec.709 luminance of linear RGB (ITU-R BT.709)
_LUMA = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True, slots=True, eq=False)
class Areas:
    """Areas that a surface's vertices stand for: they hang on its shape, not on its light.

    Parameters
    ----------
    grid, corners_uv_m, relief : Grid, ndarray of float64, Relief or None
        The shape.
    plane_m2, true_m2 : ndarray of float64, shape (rows, columns)
        As in `Fields`.
    found : dict
        What measures need that hangs on the shape alone, once one has found it.
    """

    grid: Grid
    corners_uv_m: NDArray[np.float64]
    relief: Relief | None
    plane_m2: NDArray[np.float64]
    true_m2: NDArray[np.float64]
    found: dict[Any, Any] = field(default_factory=dict, repr=False)

    def serve(self, surface: Surface) -> bool:
        """Whether they are those of another surface too."""
        one, other = self.relief, surface.relief
        if self.grid != surface.grid or not np.array_equal(self.corners_uv_m, surface.corners_uv_m):
            return False
        if one is None or other is None:
            return one is other
        return (
            one.heights_m is other.heights_m or np.array_equal(one.heights_m, other.heights_m)
        ) and (one.mask is other.mask or np.array_equal(one.mask, other.mask))


def areas_of(surface: Surface) -> Areas:
    """Areas of a surface's vertices; ValueError if nothing lies inside its polygon and mask."""
    grid, relief = surface.grid, surface.relief
    cells = cells_inside(grid, surface.corners_uv_m, None if relief is None else relief.mask)
    plane = vertex_areas(grid, cells)
    if not plane.any():
        raise ValueError(f"nothing of surface {surface.name!r} lies inside its polygon and mask")
    true = plane if relief is None else vertex_areas(grid, cells, relief.heights_m)
    return Areas(grid, surface.corners_uv_m, relief, plane, true)


@dataclass(frozen=True, slots=True, eq=False)
class Fields:
    """Illuminance of a surface and the areas that weigh it; all shapes (rows, columns).

    Parameters
    ----------
    surface : Surface
        Whose light it is.
    total_lx, direct_lx : ndarray of float32
        On the relief, per true area: all light, and the runs' alone. [lx]
    flat_lx, flat_direct_lx : ndarray of float32
        On the mean plane; the same arrays where there is no relief. [lx]
    plane_m2, true_m2 : ndarray of float64
        Area of each vertex on the mean plane and on the relief; 0 outside the polygon and
        off the relief's mask. [m2]
    reflectance : float
        Mean diffuse reflectance, weighted for luminance.
    found : dict
        What several measures need, once one has found it.
    of_shape : dict
        Likewise what hangs on the shape alone: it serves in other light too.
    """

    surface: Surface
    total_lx: NDArray[np.float32]
    direct_lx: NDArray[np.float32]
    flat_lx: NDArray[np.float32]
    flat_direct_lx: NDArray[np.float32]
    plane_m2: NDArray[np.float64]
    true_m2: NDArray[np.float64]
    reflectance: float
    found: dict[Any, Any] = field(default_factory=dict, repr=False)
    of_shape: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Vertices that count."""
        return self.plane_m2 > 0

    @property
    def has_relief(self) -> bool:
        """True where a relief of some depth is on the surface."""
        relief = self.surface.relief
        return relief is not None and relief.highest_m > relief.lowest_m

    @property
    def luminance_per_lx(self) -> float:
        """Luminance of a diffuse surface for each lux, reflectance / pi. [cd/m2/lx]"""
        return self.reflectance / np.pi


def fields(surface: Surface, lit: Lit, areas: Areas | None = None) -> Fields:
    """Gather what the measures of one surface need.

    Parameters
    ----------
    surface : Surface
        One of the room's.
    lit : Lit
        Its light; must hold `surface.name`.
    areas : Areas, optional
        From `areas_of`, where they are known.

    Raises
    ------
    ValueError
        If `lit` has no light for the surface, or of another shape than its grid.

    Notes
    -----
    The mean plane receives the runs' direct light and the stated other light in full, and of
    bounced light what `Lit.flat_bounced_lx` holds. Without that, the relief's own bounced
    light stands in, averaged over one feature: low by the relief's mean openness.
    """
    if surface.name not in lit.direct_lx:
        raise ValueError(f"no light computed for surface {surface.name!r}")
    grid, relief = surface.grid, surface.relief
    direct = _mixed(lit, lit.direct_lx[surface.name])
    total = direct + lit.other_lx[surface.name]
    if surface.name in lit.bounced_lx:
        total += lit.indirect_lx(surface.name)
    if total.shape != (grid.rows, grid.columns):
        raise ValueError(
            f"light of {surface.name!r} is {total.shape}; its grid is {(grid.rows, grid.columns)}"
        )
    areas = areas_of(surface) if areas is None else areas
    plane = areas.plane_m2
    if relief is None:
        luma = _luma(surface)
        return Fields(
            surface, total, direct, total, direct, plane, plane, luma, of_shape=areas.found
        )
    parts = lit.flat_lx.get(surface.name)
    flat_direct = direct if parts is None else _mixed(lit, parts)
    flat = flat_direct + np.float32(surface.other_light_lx)
    if surface.name in lit.flat_bounced_lx:
        flat = flat + lit.flat_bounced_lx[surface.name]
    elif surface.name in lit.bounced_lx:
        steps = (grid.step_v_m, grid.step_u_m)
        feature = (relief.feature_m[1], relief.feature_m[0])
        flat = flat + local_mean(lit.indirect_lx(surface.name), plane > 0, feature, steps)
    return Fields(
        surface, total, direct, flat, flat_direct, plane, areas.true_m2, _luma(surface),
        of_shape=areas.found,
    )  # fmt: skip


def _mixed(lit: Lit, parts: NDArray[np.float32]) -> NDArray[np.float32]:
    """All groups at their outputs: `Lit.runs_lx`, which a single group pays dearly for."""
    out: NDArray[np.float32]
    if len(parts) == 1:
        out = parts[0] * np.float32(lit.output[0])
    else:
        out = np.tensordot(lit.output.astype(np.float32), parts, axes=1)
    return out


def _luma(surface: Surface) -> float:
    return float(np.asarray(surface.reflectance_rgb, dtype=np.float64) @ _LUMA)
