"""Illuminance as colour: dark blue to yellow, readable in grey and to colour-blind eyes.

The colours are those of `cividis`, made so that lightness rises evenly and that red-green
colour-blind eyes see the same order (Nunez, Anderton and Renslow 2018).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.buried import buried, uncovered
from rakelight.picture.kernels.shade import gather
from rakelight.picture.view import View
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Room

Floats = NDArray[np.floating]

NO_VALUE = (58, 58, 60)  # codes of what carries no illuminance: bodies and the void


@dataclass(frozen=True, slots=True)
class Scale:
    """Which illuminance gets which colour.

    Parameters
    ----------
    low_lx, high_lx : float
        Ends of the colours; beyond, the end colours hold. [lx], 0 <= low < high
    logarithmic : bool
        Equal steps of colour are equal ratios; `low_lx` must then be above 0.
    """

    low_lx: float
    high_lx: float
    logarithmic: bool

    def __post_init__(self) -> None:
        if not 0 <= self.low_lx < self.high_lx < math.inf:
            raise ValueError(f"a scale from {self.low_lx} to {self.high_lx} lx; low < high")
        if self.logarithmic and self.low_lx == 0:
            raise ValueError("a logarithmic scale cannot start at 0 lx")

    def share(self, illuminance_lx: Floats) -> Floats:
        """Place on the scale, 0 to 1, of any shape; NaN stays NaN."""
        low, high = self.low_lx, self.high_lx
        clipped = np.clip(illuminance_lx, low, high)
        out: Floats
        if self.logarithmic:
            out = np.log(clipped / low) / math.log(high / low)
        else:
            out = (clipped - low) / (high - low)
        return out

    def marks(self, per_unit_lx: float = 1.0) -> list[float]:
        """Round values within the scale, in units of `per_unit_lx`, for a bar's labels."""
        low, high = self.low_lx / per_unit_lx, self.high_lx / per_unit_lx
        if self.logarithmic:
            decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
            steps = (1, 2, 5) if math.log10(high / low) < 3.5 else (1,)
            values = [m * 10.0**d for d in decades for m in steps]
        else:
            rough = (high - low) / 6
            decade = 10.0 ** math.floor(math.log10(rough))
            step = min((m * decade for m in (1, 2, 5, 10)), key=lambda s: abs(s - rough))
            values = [k * step for k in range(math.floor(low / step), math.ceil(high / step) + 1)]
        inside = [value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9)]
        # fewer than two round values say nothing about a scale: then its ends do
        return inside if len(inside) >= 2 else [low, high]


def scale_of(pictures: Sequence[Floats], *, logarithmic: bool = True) -> Scale:
    """One scale for all the pictures that are compared, with round ends.

    Parameters
    ----------
    pictures : sequence of ndarray
        Illuminances, NaN where there is none. [lx]
    logarithmic : bool
        True: from the darkest 2 % up, three decades at most. False: from 0.

    Returns
    -------
    Scale
        The upper end is the brightest 0.2 % or a little more.
    """
    values = np.concatenate([p[np.isfinite(p)].ravel() for p in pictures])
    if values.size == 0 or not values.max() > 0:
        return Scale(0.1, 1.0, True) if logarithmic else Scale(0.0, 1.0, False)
    # order statistics, so that the pictures' order makes no difference
    high = _round_up(float(np.quantile(values, 0.998)))
    if not logarithmic:
        return Scale(0.0, high, False)
    low = max(float(np.quantile(values, 0.02)), high / 1000)
    return Scale(min(_round_down(low), high / 2), high, True)


def illuminance_lx(view: View, room: Room, lit: Lit) -> NDArray[np.float32]:
    """Illuminance of each pixel, shape (rows, columns); NaN where there is none. [lx]

    A pixel in which several things meet shows what its upper left sample belongs to.
    """
    s = view.supersample
    rows, columns = view.ids.shape
    out = np.full((rows // s, columns // s), np.nan, np.float32)
    present = view.present()
    for index, surface in enumerate(room.surfaces):
        if present[index]:
            grid = surface.grid
            steps = (1 / grid.step_u_m, 1 / grid.step_v_m)
            total = uncovered(lit.total_lx(surface.name), buried(surface, room.surfaces))
            gather(view.ids, view.u_m, view.v_m, 0, index, total, *steps, s, out)
    return out


def colours(illuminance: Floats, scale: Scale) -> NDArray[np.uint8]:
    """Codes of an illuminance picture, shape (rows, columns, 3); NaN becomes a dark grey."""
    table = palette()
    share = scale.share(illuminance)
    missing = np.isnan(share)
    place = np.where(missing, 0.0, share) * (len(table) - 1)
    out: NDArray[np.uint8] = table[np.round(place).astype(np.int64)]
    out[missing] = NO_VALUE
    return out


def isolines(
    codes: NDArray[np.uint8], illuminance: Floats, levels_lx: Sequence[float], width_px: float = 1.5
) -> NDArray[np.uint8]:
    """Draw lines of equal illuminance over a picture.

    Parameters
    ----------
    codes : ndarray of uint8, shape (rows, columns, 3)
        The picture.
    illuminance : ndarray, shape (rows, columns)
        Smooth, else the lines fray: on a relief use what its mean plane receives. [lx]
    levels_lx : sequence of float
        Where to draw.
    width_px : float
        Width of a line.

    Returns
    -------
    ndarray of uint8
        A new picture; lines are white over dark colours and black over light ones.
    """
    value = np.log(np.maximum(illuminance, 1e-6)).astype(np.float64)
    dv, du = np.gradient(value)
    steep = np.hypot(du, dv)
    cover = np.zeros(value.shape)
    for level in levels_lx:
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = np.abs(value - math.log(level)) / steep
        line = np.clip(width_px / 2 + 0.5 - distance, 0, 1)
        # where the surface changes the value jumps: no line there
        cover = np.maximum(cover, np.where((steep < 0.5) & np.isfinite(line), line, 0))
    ink = np.where(codes.mean(axis=-1, keepdims=True) > 110, 0.0, 255.0)
    out: NDArray[np.uint8] = np.round(
        codes + 0.85 * cover[..., None] * (ink - codes.astype(np.float64))
    ).astype(np.uint8)
    return out


def bar(scale: Scale, length_px: int, thickness_px: int) -> NDArray[np.uint8]:
    """The scale's colours from low at the left to high, shape (thickness, length, 3)."""
    table = palette()
    row = table[np.round(np.linspace(0, len(table) - 1, length_px)).astype(np.int64)]
    return np.repeat(row[None], thickness_px, axis=0)


@cache
def palette() -> NDArray[np.uint8]:
    """Codes from the scale's low end to its high one, shape (256, 3)."""
    from matplotlib import colormaps  # late: half a second to load

    out: NDArray[np.uint8] = colormaps["cividis"](np.linspace(0, 1, 256), bytes=True)[:, :3]
    out.setflags(write=False)
    return out


def _round_up(value: float) -> float:
    decade = 10.0 ** math.floor(math.log10(value))
    for m in (1, 1.5, 2, 3, 4, 5, 6, 8, 10):
        if m * decade >= value * (1 - 1e-9):
            return m * decade
    return 10 * decade


def _round_down(value: float) -> float:
    decade = 10.0 ** math.floor(math.log10(value))
    for m in (8, 6, 5, 4, 3, 2, 1.5):
        if m * decade <= value * (1 + 1e-9):
            return m * decade
    return decade
