"""From luminance to the screen's codes and back: tone curve, sRGB, dither.

The curve works on x = L / L_max, where L_max follows from the exposure. Up to middle grey it
is the identity, so shadows and mid-tones are shown as they are; above, a logarithmic shoulder
rolls off until `WHITE` times L_max is white. It is applied to luminance; R, G and B keep
their ratios, and a colour too bright for the screen loses saturation at nearly the same hue,
never luminance. So luminance can be read back from the codes.
"""

import math

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.exposure import peak_cd_m2

REC709 = np.array([0.2126, 0.7152, 0.0722])  # luminance of linear R, G, B; IEC 61966-2-1
KNEE = 0.18  # x up to which the curve is the identity
ROLL = 0.25  # display value that a factor e of luminance takes, far up the shoulder
WHITE = KNEE + ROLL * math.expm1((1 - KNEE) / ROLL)  # 6.57: the x that becomes white

Floats = NDArray[np.floating]


def srgb_encode(linear: Floats) -> Floats:
    """Encode linear values 0 to 1 for the screen (IEC 61966-2-1); beyond, they are clipped."""
    x = np.clip(linear, 0.0, 1.0)
    out: Floats = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    return out


def srgb_decode(encoded: Floats) -> Floats:
    """Linear values of encoded ones from 0 to 1 (IEC 61966-2-1)."""
    out: Floats = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return out


def curve(x: Floats) -> Floats:
    """Display value of relative luminance x >= 0: identity to the knee, then a shoulder.

    Notes
    -----
    y = x up to k = 0.18; above, y = k + c ln(1 + (x - k) / c) with c = 0.25: slope 1 at the
    knee, 1 at x = 6.57, and 1 beyond. Ours. High up the shoulder equal ratios of luminance
    take equal steps, so that half an 8-bit code is under 2 % of luminance up to code 254.
    """
    above = np.clip(x, KNEE, WHITE) - KNEE
    shoulder = np.minimum(KNEE + ROLL * np.log1p(above / ROLL), 1.0)
    out: Floats = np.where(x <= KNEE, np.maximum(x, 0.0), shoulder)
    return out


def inverse_curve(y: Floats) -> Floats:
    """Relative luminance of a display value from 0 to 1: the inverse of `curve`."""
    above = ROLL * np.expm1((np.clip(y, KNEE, 1.0) - KNEE) / ROLL)
    out: Floats = np.where(y <= KNEE, np.maximum(y, 0.0), KNEE + above)
    return out


def display_linear(rgb_cd_m2: Floats, ev100: float) -> Floats:
    """Screen's linear R, G, B from 0 to 1 of scene-linear ones, shape (..., 3).

    Parameters
    ----------
    rgb_cd_m2 : ndarray, shape (..., 3)
        Linear Rec.709, luminance 0.2126 R + 0.7152 G + 0.0722 B. [cd/m2]
    ev100 : float
        Exposure.

    Returns
    -------
    ndarray, shape (..., 3)
        Its luminance is `curve` of the relative luminance.
    """
    dtype = rgb_cd_m2.dtype
    x = rgb_cd_m2 / np.asarray(peak_cd_m2(ev100), dtype)
    luminance = x @ REC709.astype(dtype)
    y = curve(luminance)
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = np.where(luminance > 0, y / luminance, 0).astype(dtype)
    shown = x * gain[..., None]
    red, green, blue = shown[..., 0], shown[..., 1], shown[..., 2]
    over = np.maximum(np.maximum(red, green), blue)
    low = np.minimum(np.minimum(red, green), blue)
    if np.any((over > 1) | (low < 0)):
        # toward grey of the same luminance until the colour fits the screen
        with np.errstate(divide="ignore", invalid="ignore"):
            keep = np.minimum(
                np.where(over > 1, (1 - y) / (over - y), 1),
                np.where(low < 0, y / (y - low), 1),
            )
        keep = np.clip(np.nan_to_num(keep, nan=0.0), 0, 1).astype(dtype)
        shown = y[..., None] + (shown - y[..., None]) * keep[..., None]
        _hold_hue(shown, y, keep)
    out: Floats = np.clip(shown, 0, 1).astype(dtype)
    return out


def _hold_hue(shown: Floats, y: Floats, keep: Floats) -> None:
    """Let the weakest channel of what was brought to the screen's edge follow later, in place.

    On a straight way to grey, orange light turns pink before it is white: from 66 to 57 degrees of
    hue in Oklab (B. Ottosson 2020, from memory) for lamps of 3000 K. With the weakest channel's
    distance from grey shrunk by keep^(3/4) it stays within 6 degrees over most of the way, and
    more of its colour lasts. The middle channel gives what keeps the luminance.
    """
    where = np.nonzero((keep < 1) & (keep > 0))
    if not where[0].size:
        return
    weights = REC709.astype(shown.dtype)
    found = shown[where]
    order = np.argsort(found, axis=1, kind="stable")
    rows = np.arange(len(found))
    low, middle, high = (found[rows, order[:, k]] for k in range(3))
    share = keep[where]
    # keep^(3/4) of the whole distance, where the straight way has left keep of it
    more = (y[where] - low) * (1 / np.sqrt(np.sqrt(share)) - 1)
    # a pure red, green or blue has no weakest channel: nothing may jump where two change places
    spread = np.maximum(high - low, np.finfo(shown.dtype).tiny)
    more *= np.minimum(3 * (middle - low) / spread, 1)
    gives = weights[order[:, 0]] / weights[order[:, 1]]
    more = np.minimum(np.minimum(more, low), (high - middle) / gives)
    more = np.maximum(more, 0)
    found[rows, order[:, 0]] = low - more
    found[rows, order[:, 1]] = middle + more * gives
    shown[where] = found


def to_codes(shown: Floats, *, dither: bool = True, first_row: int = 0) -> NDArray[np.uint8]:
    """8-bit codes of the screen's linear R, G, B.

    Parameters
    ----------
    shown : ndarray, shape (rows, columns, 3)
        From 0 to 1.
    dither : bool
        Add a fixed pattern of plus or minus half a code before rounding, so that slow
        gradients show no bands and an area's mean stays what it is.
    first_row : int
        Row of the picture that `shown` starts with, for pictures made in bands.

    Returns
    -------
    ndarray of uint8, same shape
    """
    codes = srgb_encode(shown) * shown.dtype.type(255)
    if dither:
        rows, columns = shown.shape[:2]
        codes = codes + dither_pattern(rows, columns, first_row)[..., None].astype(shown.dtype)
    out: NDArray[np.uint8] = np.clip(np.floor(codes + shown.dtype.type(0.5)), 0, 255).astype(
        np.uint8
    )
    return out


def dither_pattern(rows: int, columns: int, first_row: int = 0) -> NDArray[np.float64]:
    """Evenly spread values from -0.5 to 0.5, shape (rows, columns), without clumps.

    Notes
    -----
    Fractional part of a1 column + a2 row, a1 = 1/p, a2 = 1/p^2 with p^3 = p + 1: the plastic
    number's low-discrepancy lattice, (from memory) M. Roberts 2018, folded to a triangle so
    that the wrap makes no lines.
    """
    p = 1.32471795724474602596
    ramp = (np.arange(columns) / p)[None, :] + (np.arange(first_row, first_row + rows) / p**2)[
        :, None
    ]
    fraction = np.mod(ramp, 1.0)
    out: NDArray[np.float64] = np.where(fraction < 0.5, 2 * fraction, 2 - 2 * fraction) - 0.5
    return out


def to_pixels(rgb_cd_m2: Floats, ev100: float, *, dither: bool = True) -> NDArray[np.uint8]:
    """Codes of a scene-linear picture, shape (rows, columns, 3), at an exposure."""
    return to_codes(display_linear(rgb_cd_m2, ev100), dither=dither)


def from_pixels(codes: NDArray[np.uint8], ev100: float) -> NDArray[np.float64]:
    """Luminance read back from codes.

    Parameters
    ----------
    codes : ndarray of uint8, shape (..., 3)
        As `to_pixels` made them. Below code 48 half a code is more than 2 %: average an
        area there. 255 is clipped and carries no reading.
    ev100 : float
        The exposure they were made at.

    Returns
    -------
    ndarray of float64, shape (...)
        Luminance. [cd/m2]
    """
    y = srgb_decode(codes.astype(np.float64) / 255) @ REC709
    out: NDArray[np.float64] = np.asarray(inverse_curve(y) * peak_cd_m2(ev100), np.float64)
    return out
