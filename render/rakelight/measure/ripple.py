"""Ripple along a run: how much the gaps between lit lengths show at each height."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.fields import Fields
from rakelight.measure.grid import at_points
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

# samples along one pitch
_SAMPLES = 240


@dataclass(frozen=True, slots=True, eq=False)
class Ripple:
    """Ripple by height under one run.

    Parameters
    ----------
    v_m : ndarray of float64, shape (heights,)
        Up from the foot. [m]
    ripple : ndarray of float64, shape (heights,)
        Peak-to-trough over mean along the horizontal line at that height.
    pitch_m : float
        From the middle of a gap to the middle of the next. [m]
    tag : str
        The run's.
    """

    v_m: Floats
    ripple: Floats
    pitch_m: float
    tag: str

    @property
    def worst(self) -> tuple[float, float]:
        """Largest ripple and its height. [1, m]"""
        i = int(np.argmax(self.ripple))
        return float(self.ripple[i]), float(self.v_m[i])


def peak_to_trough(illuminance_lx: Floats, samples_a_pitch: int) -> float:
    """Peak-to-trough over mean along a line, with the slow fall toward the ends taken out.

    Parameters
    ----------
    illuminance_lx : ndarray of float64, shape (samples,)
        Evenly spaced along the line. [lx]
    samples_a_pitch : int
        Samples from gap to gap.

    Returns
    -------
    float
        0 for an even line; nan if it is shorter than one pitch or dark.

    Notes
    -----
    Divided by the moving mean over exactly one pitch: for an endless row that is the mean
    itself, for a short one it takes off the fall toward the ends, which is no ripple. A line
    under two pitches (one gap) is divided by its own mean.
    """
    half = samples_a_pitch // 2
    if illuminance_lx.size < samples_a_pitch:
        return float("nan")
    if illuminance_lx.size < 2 * samples_a_pitch:
        mean_lx = float(illuminance_lx.mean())
        return float(np.ptp(illuminance_lx)) / mean_lx if mean_lx > 0 else float("nan")
    kept = slice(half, illuminance_lx.size - half)
    from scipy.ndimage import uniform_filter1d  # late: slow to load

    mean = uniform_filter1d(np.asarray(illuminance_lx, dtype=np.float64), samples_a_pitch)[kept]
    if not mean.min() > 0:
        return float("nan")
    even = illuminance_lx[kept] / mean
    return float(even.max() - even.min())


def ripple(fields: Fields, line: LitLine, heights_m: Floats) -> Ripple | None:
    """Ripple on the mean plane under one run with gaps.

    Parameters
    ----------
    fields : Fields
        The lit surface's light, other runs and bounced light included.
    line : LitLine
        A run along the surface's u.
    heights_m : ndarray of float64, shape (heights,)
        Where to take it, up from the foot. [m]

    Returns
    -------
    Ripple or None
        None for a run without gaps, not along u, or beyond the surface. With a single gap the
        fall toward the run's ends counts as ripple too.
    """
    lit = line.lit_m
    frame = fields.surface.frame
    along = float(frame.direction_from_room(line.axis)[0])
    if lit.shape[0] < 2 or abs(along) < 0.999:
        return None
    pitch = float(lit[-1, 0] - lit[0, 0]) / (lit.shape[0] - 1)
    start = float(frame.from_room(line.origin_m)[0])
    # from the middle of the first length to that of the last: with the half pitch that the
    # moving mean takes, the first to the last gap, clear of the fall at the run's ends
    ends = np.sort(start + along * np.array([lit[0].mean(), lit[-1].mean()]))
    grid = fields.surface.grid
    low, high = max(0.0, float(ends[0])), min(grid.width_m, float(ends[1]))
    count = int((high - low) / pitch * _SAMPLES + 1e-6) + 1
    if count < _SAMPLES:
        return None
    u = low + np.arange(count) * (pitch / _SAMPLES)
    values = [
        peak_to_trough(at_points(fields.flat_lx, grid, u, np.full(count, v)), _SAMPLES)
        for v in heights_m
    ]
    return Ripple(np.asarray(heights_m, dtype=np.float64), np.array(values), pitch, line.tag)


def ripple_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Ripple where the wall is brightest and at mid-height, for each of its runs with gaps."""
    name, grid = fields.surface.name, fields.surface.grid
    out: list[Number] = []
    by_row = np.where(fields.inside, fields.flat_lx, 0).mean(axis=1)
    bright = float(grid.v_m()[int(np.argmax(by_row))])
    for group in settings.groups:
        for line in group.lines:
            if line.lights != name:
                continue
            found = ripple(fields, line, np.array([bright, 0.5 * grid.height_m]))
            if found is None:
                continue
            key = f"{name}.ripple.{line.tag}"
            out += [
                Number(
                    f"{key}.bright_band",
                    float(found.ripple[0]),
                    "1",
                    "peak to trough over mean at the gaps, where the wall is brightest",
                ),
                Number(
                    f"{key}.mid_height",
                    float(found.ripple[1]),
                    "1",
                    "peak to trough over mean at the gaps, half-way up",
                ),
                Number(f"{key}.pitch_m", found.pitch_m, "m", "from gap to gap"),
            ]
    return tuple(out)
