"""Illuminance by height: where the bright band sits, on the flat plane and on the relief."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.bands import bands
from rakelight.measure.fields import Fields
from rakelight.measure.lie_words import lie_words
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.number import Number

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Mean illuminance in bands of height.

    Parameters
    ----------
    v_m : ndarray of float64, shape (bands,)
        Middle of each band, up from the foot. [m]
    flat_lx, relief_lx : ndarray of float64, shape (bands,)
        Mean across the surface on the mean plane, and on the relief by true area. [lx]
    band_m : float
        Height of a band. [m]
    """

    v_m: Floats
    flat_lx: Floats
    relief_lx: Floats
    band_m: float

    def bright_band_m(self) -> tuple[float, float, float]:
        """Peak height of the flat profile, and the heights around it with half as much. [m]

        Returns
        -------
        peak_m, low_m, high_m : float
        """
        lx = np.nan_to_num(self.flat_lx)
        top = int(np.argmax(lx))
        low, high = level_around(self.v_m, lx, top, 0.5 * lx[top], self.band_m)
        return float(self.v_m[top]), low, high


def level_around(
    v_m: Floats, values: Floats, peak: int, level: float, band_m: float
) -> tuple[float, float]:
    """Heights on both sides of a peak where values, linear between bands, cross a level.

    Where they never fall below it the outermost band's own edge is given.
    """
    low = float(v_m[0] - band_m / 2)
    for i in range(peak, 0, -1):
        if values[i - 1] < level:
            part = (values[i] - level) / (values[i] - values[i - 1])
            low = float(v_m[i] + part * (v_m[i - 1] - v_m[i]))
            break
    high = float(v_m[-1] + band_m / 2)
    for i in range(peak, values.size - 1):
        if values[i + 1] < level:
            part = (values[i] - level) / (values[i] - values[i + 1])
            high = float(v_m[i] + part * (v_m[i + 1] - v_m[i]))
            break
    return low, high


def profile(fields: Fields, *, band_m: float = 0.05) -> Profile:
    """Mean illuminance by height in bands of at most `band_m`.

    Parameters
    ----------
    fields : Fields
        The surface's light.
    band_m : float
        Largest band. [m]
    """
    found = fields.found.get(("profile", band_m))
    if isinstance(found, Profile):
        return found
    strips = bands(fields.surface.grid, band_m)
    flat = strips.means(fields.flat_lx, fields.plane_m2)
    relief = strips.means(fields.total_lx, fields.true_m2)
    out = Profile(strips.centres_m, flat, relief, strips.size_m)
    fields.found["profile", band_m] = out
    return out


def profile_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Where the bright band is, and how much light is left at top and foot."""
    name = fields.surface.name
    curve = profile(fields, band_m=settings.band_m)
    peak, low, high = curve.bright_band_m()
    lx = curve.flat_lx[np.isfinite(curve.flat_lx)]
    words = lie_words(fields.surface)
    upright = words.start == "the foot"
    lower, upper = ("lower", "upper") if upright else ("nearer", "farther")
    place = "height" if upright else f"place {words.along}"
    return (
        Number(f"{name}.bright_band_at_m", peak, "m", f"its brightest band, {words.along}"),
        Number(f"{name}.bright_band_low_m", low, "m", f"{lower} {place} with half as much light"),
        Number(f"{name}.bright_band_high_m", high, "m", f"{upper} {place} with half as much light"),
        Number(f"{name}.bright_band_lx", float(lx.max()), "lx", "mean across the brightest band"),
        Number(f"{name}.foot_lx", float(lx[0]), "lx", f"mean across the band at {words.start}"),
        Number(f"{name}.top_lx", float(lx[-1]), "lx", f"mean across the band at {words.end}"),
    )
