"""The smallest set of planes and angles that opens out to a whole distribution again."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.angle_grid import HARD_EDGE_RAD
from rakelight.scene.intensity import Intensity

Floats = NDArray[np.float64]
# Mirror images that agree to this share of the largest candela are one.
_SAME = 1e-9
# Angles are written to this many decimals: far finer than the hard edge. [deg]
_DECIMALS = 9


@dataclass(frozen=True, slots=True, eq=False)
class StoredPlanes:
    """What a file has to hold.

    Parameters
    ----------
    symmetry : str
        ``rotational``, ``quadrants``, ``C0-C180``, ``C90-C270`` or ``none``.
    c_deg, gamma_deg : ndarray of float64, shape (planes,), (angles,)
        The whole circle without C360, and the stored vertical angles. [deg]
    candela : ndarray of float64, shape (planes, angles)
        For all planes of `c_deg`. [cd]
    """

    symmetry: str
    c_deg: Floats
    gamma_deg: Floats
    candela: Floats

    def rows(self, first_deg: float, last_deg: float) -> tuple[Floats, Floats]:
        """Planes from `first_deg` to `last_deg` inclusive and their candela."""
        c = np.append(self.c_deg, 360.0)
        chosen = (c >= first_deg - 1e-9) & (c <= last_deg + 1e-9)
        table = np.concatenate([self.candela, self.candela[:1]])
        return c[chosen], table[chosen]


def stored_planes(intensity: Intensity) -> StoredPlanes:
    """Find the symmetry of a distribution from its values, and its vertical range.

    Parameters
    ----------
    intensity : Intensity
        Of type C.

    Returns
    -------
    StoredPlanes
        Reading them gives the same light.
    """
    c: Floats = np.rad2deg(intensity.c_rad).round(_DECIMALS)[:-1]
    gamma_rad, candela = _own_range(intensity.gamma_rad, intensity.candela)
    gamma: Floats = np.rad2deg(gamma_rad).round(_DECIMALS)
    candela = candela[:-1]
    tolerance = _SAME * float(candela.max())

    def alike(images: Floats) -> bool:
        order = np.argsort(images)
        return bool(
            np.abs(images[order] - c).max() < 1e-6
            and np.abs(candela[order] - candela).max() <= tolerance
        )

    about_c0 = alike(np.mod(-c, 360.0)) and bool((c == 180).any())
    about_c90 = alike(np.mod(180.0 - c, 360.0)) and bool((c == 90).any() and (c == 270).any())
    if np.abs(candela - candela[0]).max() <= tolerance:
        symmetry = "rotational"
    elif about_c0 and about_c90:
        symmetry = "quadrants"
    elif about_c0:
        symmetry = "C0-C180"
    elif about_c90:
        symmetry = "C90-C270"
    else:
        symmetry = "none"
    return StoredPlanes(symmetry, c, gamma, candela)


def _own_range(gamma_rad: Floats, candela: Floats) -> tuple[Floats, Floats]:
    """Leave out the half in which there is nothing, if the reader puts it back."""
    middle = np.flatnonzero(np.abs(gamma_rad - np.pi / 2) < 1e-12)
    if middle.size == 0:
        return gamma_rad, candela
    k = int(middle[0])
    for half, beside in ((slice(0, k + 1), k + 1), (slice(k, None), k - 1)):
        outside = np.ones(gamma_rad.size, bool)
        outside[half] = False
        hard = abs(gamma_rad[beside] - gamma_rad[k]) <= 2 * HARD_EDGE_RAD
        if not candela[:, outside].any() and (hard or not candela[:, k].any()):
            return gamma_rad[half], candela[:, half]
    return gamma_rad, candela


def number_text(value: float) -> str:
    """Shortest plain text that keeps nine digits."""
    text = f"{value:.9g}"
    return "0" if text == "-0" else text


def angle_text(value: float) -> str:
    """An angle to nine decimals without trailing zeros. [deg]"""
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def even_step(values: Floats) -> float:
    """Step of evenly spaced angles; 0 if they are uneven or a single one. [deg]"""
    steps = np.diff(values)
    return float(steps[0]) if steps.size and np.ptp(steps) < 1e-6 else 0.0
