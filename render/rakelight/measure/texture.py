"""Texture and drama by height: how much light and shade the relief makes, and where.

Take the luminance that the relief would show with one even reflectance, seen square-on;
divide it by what a flat wall at the mean plane would show, so that the fall of the light
down the wall is not taken for texture; take off the local mean over one relief feature;
multiply back. What is left, in cd/m2, is the texture.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.bands import bands
from rakelight.measure.fields import Fields
from rakelight.measure.profile import level_around
from rakelight.measure.settings import MeasureSettings
from rakelight.measure.smooth import local_mean
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

# a point is in shadow where the relief leaves less than this of the flat wall's direct light
SHADOW = 0.1
# flat light under this share of its maximum is darkness: dividing by it says nothing
_DARK = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """Texture of one surface by height.

    Parameters
    ----------
    v_m : ndarray of float64, shape (bands,)
        Middle of each band, up from the foot. [m]
    modulation_cd_m2 : ndarray of float64, shape (bands,)
        Texture modulation S: standard deviation about the local mean. [cd/m2]
    contrast : ndarray of float64, shape (bands,)
        Local RMS contrast C: S over the local mean; 0 where there is no light.
    shadow : ndarray of float64, shape (bands,)
        Share of plan area in shadow; 0 where the flat wall gets no direct light.
    smoothed_cd_m2 : ndarray of float64, shape (bands,)
        S with its variance averaged over at least one relief feature: the drama zone is read
        from it, so that the courses of a coarse stone do not break it up. [cd/m2]
    mean_cd_m2 : float
        Mean luminance of the wall, over the parts that get light. [cd/m2]
    shadow_share : float
        Share in shadow of all plan area that the flat wall would have lit.
    band_m : float
        Height of a band. [m]
    window_m : float
        What S was averaged over for the zones: a band or a feature, whichever is taller. [m]
    """

    v_m: Floats
    modulation_cd_m2: Floats
    contrast: Floats
    shadow: Floats
    smoothed_cd_m2: Floats
    mean_cd_m2: float
    shadow_share: float
    band_m: float
    window_m: float

    @property
    def over_mean(self) -> Floats:
        """S over the lit wall's mean luminance, by height: what an adapted eye sees."""
        if not self.mean_cd_m2 > 0:
            return np.zeros_like(self.modulation_cd_m2)
        out: Floats = self.modulation_cd_m2 / self.mean_cd_m2
        return out

    @property
    def drama_centre_m(self) -> float:
        """S-weighted mean height; nan where there is no texture. [m]"""
        total = float(self.modulation_cd_m2.sum())
        return float(self.modulation_cd_m2 @ self.v_m) / total if total > 0 else float("nan")

    @property
    def drama_zones_m(self) -> tuple[tuple[float, float], ...]:
        """Heights where S is at least half its maximum, from the foot up. [m]"""
        return zones(self.v_m, self.smoothed_cd_m2, self.band_m, self.window_m)

    @property
    def zone_share(self) -> float:
        """Share of the height that the drama zones take; its complement is the flat part."""
        return sum(high - low for low, high in self.drama_zones_m) / (self.v_m.size * self.band_m)


def zones(
    v_m: Floats, values: Floats, band_m: float, apart_m: float = 0.0
) -> tuple[tuple[float, float], ...]:
    """Stretches where values, linear between bands, are at least half their maximum. [m]

    Stretches less than `apart_m` from each other are one.
    """
    top = float(values.max())
    if not top > 0:
        return ()
    above = values >= 0.5 * top
    out: list[tuple[float, float]] = []
    i = 0
    while i < values.size:
        if not above[i]:
            i += 1
            continue
        low, high = level_around(v_m, values, i, 0.5 * top, band_m)
        if out and low - out[-1][1] < apart_m:
            out[-1] = (out[-1][0], high)
        else:
            out.append((low, high))
        while i < values.size and above[i]:
            i += 1
    return tuple(out)


def texture(fields: Fields, *, band_m: float = 0.05) -> Texture:
    """Texture of a surface, found once for all that ask the same fields: see `texture_of`."""
    found = fields.found.get(("texture", band_m))
    if not isinstance(found, Texture):
        found = fields.found["texture", band_m] = texture_of(fields, band_m=band_m)
    return found


def texture_of(fields: Fields, *, band_m: float = 0.05) -> Texture:
    """Texture modulation, contrast and shadow by height.

    Parameters
    ----------
    fields : Fields
        The surface's light; a surface without relief has no texture at all.
    band_m : float
        Largest band. [m]

    Notes
    -----
    Reflectance is held at the surface's mean, so that a stone's own pattern does not count.
    Seen square-on, each vertex stands for its plan area. S is the root mean square of
    (L / L_flat - local mean) * L_flat over a band; the local mean is a Gaussian whose full
    width at half maximum is one relief feature along u and along v, which leaves 0.9716 of a
    sine of that wavelength.

    References
    ----------
    .. [1] E. Peli, "Contrast in complex images", J. Opt. Soc. Am. A 7, 2032-2040 (1990):
       RMS contrast, and contrast about a local mean.
    """
    strips = bands(fields.surface.grid, band_m)
    none = np.zeros(strips.count)
    weights = fields.plane_m2
    lit = fields.inside & (fields.flat_lx > _DARK * float(fields.flat_lx.max(initial=0.0)))
    mean = 0.0
    if lit.any():
        lit_m2 = np.where(lit, weights, 0.0)
        mean = fields.luminance_per_lx * float(np.sum(fields.total_lx * lit_m2) / lit_m2.sum())
    relief = fields.surface.relief
    if relief is None or not fields.has_relief or not lit.any():
        return Texture(
            strips.centres_m, none, none, none, none, mean, 0.0, strips.size_m, strips.size_m
        )

    grid = fields.surface.grid
    feature = (relief.feature_m[1], relief.feature_m[0])
    flat = fields.flat_lx
    # less 1: float32 keeps its digits for what differs, and no texture stays exactly 0
    ratio = np.divide(fields.total_lx - flat, flat, out=np.zeros_like(flat), where=lit)
    smooth = local_mean(ratio, lit, feature, (grid.step_v_m, grid.step_u_m))
    ratio -= smooth
    ratio *= flat
    ratio *= ratio
    lit_weights = np.where(lit, weights, 0.0)
    by_row = np.einsum("ij,ij->i", ratio, lit_weights)
    smooth += 1
    smooth *= flat
    local_sum = strips.sums(np.einsum("ij,ij->i", smooth, lit_weights))
    row_area = lit_weights.sum(axis=1)
    area = strips.sums(row_area)
    variance = np.divide(strips.sums(by_row), area, out=none.copy(), where=area > 0)
    local = np.divide(local_sum, area, out=none.copy(), where=area > 0)
    modulation = np.sqrt(variance)
    contrast = np.divide(modulation, local, out=none.copy(), where=local > 0)

    window = max(strips.size_m, min(relief.feature_m[1], 0.5 * grid.height_m))
    smoothed = np.sqrt(_smoothed(by_row, row_area, grid.v_m(), strips.centres_m, window))
    per_lx = fields.luminance_per_lx
    shadow, reached = _shadow(fields)
    reached_m2 = float(np.sum(weights[reached]))
    return Texture(
        v_m=strips.centres_m,
        modulation_cd_m2=per_lx * modulation,
        contrast=contrast,
        shadow=np.nan_to_num(
            strips.means(shadow.astype(np.float32), np.where(reached, weights, 0.0))
        ),
        smoothed_cd_m2=per_lx * smoothed,
        mean_cd_m2=mean,
        shadow_share=float(np.sum(weights[shadow])) / reached_m2 if reached_m2 > 0 else 0.0,
        band_m=strips.size_m,
        window_m=window,
    )


def _shadow(fields: Fields) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Points in shadow, and points that the runs would light on a flat wall."""
    flat = fields.flat_direct_lx
    reached = fields.inside & (flat > _DARK * float(flat.max(initial=0.0)))
    return reached & (fields.direct_lx < SHADOW * flat), reached


def _smoothed(by_row: Floats, area: Floats, v_m: Floats, at_m: Floats, window_m: float) -> Floats:
    """Area-weighted mean over `window_m` of height around each of `at_m`; less at the ends."""
    low, high = at_m - window_m / 2, at_m + window_m / 2
    # rows' borders, so that a window can take part of a row
    edges = np.concatenate([v_m[:1], 0.5 * (v_m[1:] + v_m[:-1]), v_m[-1:]])
    sums = np.concatenate([[0.0], np.cumsum(by_row)])
    areas = np.concatenate([[0.0], np.cumsum(area)])
    top = np.interp(high, edges, sums) - np.interp(low, edges, sums)
    below = np.interp(high, edges, areas) - np.interp(low, edges, areas)
    out: Floats = np.divide(top, below, out=np.zeros(at_m.size), where=below > 0)
    return out


def texture_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Drama, flatness, contrast and shadow of a surface with relief; nothing without one."""
    if fields.surface.relief is None:
        return ()
    name = fields.surface.name
    found = texture(fields, band_m=settings.band_m)
    strongest = float(found.modulation_cd_m2.max())
    over = float(found.over_mean.max())
    out = [
        Number(f"{name}.texture_cd_m2", strongest, "cd/m2", "strongest texture modulation"),
        Number(f"{name}.texture_over_mean", over, "1", "the same over the wall's mean luminance"),
        Number(f"{name}.mean_cd_m2", found.mean_cd_m2, "cd/m2", "mean luminance of the lit wall"),
        Number(f"{name}.drama_centre_m", found.drama_centre_m, "m", "mean height of the drama"),
        Number(f"{name}.drama_share", found.zone_share, "1", "share of the height with drama"),
        Number(f"{name}.flat_share", 1 - found.zone_share, "1", "share that looks flatter"),
        Number(f"{name}.contrast_max", float(found.contrast.max()), "1", "largest RMS contrast"),
        Number(f"{name}.shadow_share", found.shadow_share, "1", "share of the wall in shadow"),
    ]
    for i, (low, high) in enumerate(found.drama_zones_m, start=1):
        tag = "drama_zone" if i == 1 else f"drama_zone_{i}"
        out.append(Number(f"{name}.{tag}_low_m", low, "m", f"foot of drama zone {i}"))
        out.append(Number(f"{name}.{tag}_high_m", high, "m", f"top of drama zone {i}"))
    return tuple(out)
