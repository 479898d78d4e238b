"""Exact section light on horizontal ridges under an endless line: a reference, no solver.

Every azimuth of an endless line gives the same section, so a point either sees the whole line
or none of it. Imports nothing of the light solver.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """Light on a ridged section; d runs down from the line. SI units."""

    below_m: Floats
    heights_m: Floats
    relief_lx: Floats
    flat_lx: Floats


def ridges(below_m: Floats, amplitude_m: float, wavelength_m: float) -> tuple[Floats, Floats]:
    """Heights of y = a cos(2 pi z / lambda), and their slope along d."""
    phase = 2 * np.pi * below_m / wavelength_m
    slope = -amplitude_m * 2 * np.pi / wavelength_m * np.sin(phase)
    return amplitude_m * np.cos(phase), slope


def section(
    below_m: Floats,
    setback_m: float,
    amplitude_m: float,
    wavelength_m: float,
    cd_per_m: float = 1e3,
) -> Section:
    """Illuminance per true area, with shadows; E = 2 I cos(i) / r across an endless line."""
    heights, slope = ridges(below_m, amplitude_m, wavelength_m)
    away = setback_m - heights
    # a ray from the line reaches a point if no point above it stands at a smaller angle;
    # relief between the line and the first point is not there
    angle = away / below_m
    seen = angle <= np.minimum.accumulate(angle) * (1 + 1e-12)
    # facing: normal (1, -dy/dd) in (y, d) against the way to the line (away, -d)
    cosine = (away + below_m * slope) / (np.hypot(1, slope) * np.hypot(away, below_m))
    relief = np.where(seen, 2 * cd_per_m * np.maximum(cosine, 0) / np.hypot(away, below_m), 0.0)
    flat = 2 * cd_per_m * setback_m / (setback_m**2 + below_m**2)
    return Section(below_m, heights, relief, flat)


def zone_and_centres(found: Section, wavelength_m: float) -> tuple[Floats, Floats, Floats]:
    """Per whole relief period: middle [m], S (std of E / E_flat, times E_flat), C = S / mean E."""
    n = int((found.below_m[-1] - found.below_m[0]) / wavelength_m)
    middles, s, c = [], [], []
    for k in range(n):
        low = found.below_m[0] + k * wavelength_m
        rows = (found.below_m >= low) & (found.below_m < low + wavelength_m)
        ratio = found.relief_lx[rows] / found.flat_lx[rows]
        middles.append(low + wavelength_m / 2)
        s.append(ratio.std() * found.flat_lx[rows].mean())
        c.append(s[-1] / found.relief_lx[rows].mean())
    return np.array(middles), np.array(s), np.array(c)
