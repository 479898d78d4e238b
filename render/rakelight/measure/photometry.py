"""What a photometric file's distribution amounts to, and the same optic at another size."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.angle_grid import NativeGrid, sine_integral
from rakelight.scene.intensity import Intensity, Peak, peak, throw_azimuth
from rakelight.scene.number import Number

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Candela in one vertical plane through the luminaire.

    Parameters
    ----------
    angle_rad : ndarray of float64, shape (k,)
        From nadir, positive toward `toward_c_rad`, -pi to pi. [rad]
    candela : ndarray of float64, shape (k,)
        [cd]
    toward_c_rad : float
        C angle of the positive side. [rad]
    """

    angle_rad: Floats
    candela: Floats
    toward_c_rad: float


def across_c_rad(intensity: Intensity) -> float:
    """C angle at right angles to the opening's longer side, on the side of the throw. [rad]"""
    across = intensity.long_side_c_rad + np.pi / 2
    throw = throw_azimuth(intensity)
    if np.isfinite(throw) and np.cos(throw - across) < -1e-6:
        across += np.pi
    return float(np.mod(across, 2 * np.pi))


def curve_in_plane(intensity: Intensity, toward_c_rad: float, step_deg: float = 0.25) -> Curve:
    """Candela around the luminaire in the plane C, C + 180 deg.

    Parameters
    ----------
    intensity : Intensity
        Any distribution.
    toward_c_rad : float
        The plane's positive side. [rad]
    step_deg : float
        Between samples; a divisor of 90. [deg]

    Returns
    -------
    Curve
        Sampled, ends included.
    """
    count = round(180 / step_deg)
    angle = np.deg2rad(np.arange(-count, count + 1) * step_deg)
    # cosine set to 0 where it is: the file's own value at horizontal, not what lies behind it
    cosine = np.where(np.abs(np.abs(angle) - np.pi / 2) < 1e-9, 0.0, np.cos(angle))
    sine = np.sin(angle)
    directions = np.stack(
        [sine * np.cos(toward_c_rad), sine * np.sin(toward_c_rad), -cosine], axis=-1
    )
    return Curve(angle, intensity.candela_toward(directions), toward_c_rad)


def beam_width_rad(curve: Curve) -> float:
    """Full width at half of the curve's maximum, around it.

    Parameters
    ----------
    curve : Curve
        In one plane.

    Returns
    -------
    float
        nan where the curve does not fall to a half on both sides. [rad]
    """
    top = int(curve.candela.argmax())
    half = curve.candela[top] / 2
    ends = []
    for step in (-1, 1):
        k = top
        while 0 < k < curve.candela.size - 1 and curve.candela[k] > half:
            k += step
        if curve.candela[k] > half:
            return float("nan")
        near, far = curve.candela[k - step], curve.candela[k]
        share = (near - half) / (near - far) if near > far else 0.0
        ends.append(
            curve.angle_rad[k - step] + share * (curve.angle_rad[k] - curve.angle_rad[k - step])
        )
    return float(ends[1] - ends[0])


def downward_share(intensity: Intensity) -> float:
    """Share of the flux that goes below the horizontal, 0 to 1."""
    c, gamma, candela = intensity.c_rad, intensity.gamma_rad, intensity.candela
    half = np.pi / 2
    if not (np.abs(gamma - half) < 1e-12).any():
        k = int(np.searchsorted(gamma, half))
        share = (half - gamma[k - 1]) / (gamma[k] - gamma[k - 1])
        middle = candela[:, k - 1] * (1 - share) + candela[:, k] * share
        gamma = np.insert(gamma, k, half)
        candela = np.insert(candela, k, middle, axis=1)
    low, high, start, end = candela[:, :-1], candela[:, 1:], gamma[:-1], gamma[1:]
    below = (start + end) / 2 < half
    down = np.trapezoid(sine_integral(low[:, below], high[:, below], start[below], end[below]), c)
    total = np.trapezoid(sine_integral(low, high, start, end), c)
    return float(np.clip(down / total, 0.0, 1.0)) if total > 0 else 0.0


def photometric_numbers(intensity: Intensity) -> tuple[Number, ...]:
    """Numbers of one luminaire; nan where the file does not give enough.

    Parameters
    ----------
    intensity : Intensity
        Any distribution.

    Returns
    -------
    tuple of Number
        Angles in degrees, as photometric files have them.
    """
    lumens, length = intensity.lumens, intensity.long_side_m
    per_metre = 1 / length if length > 0 else math.nan
    top: Peak = peak(intensity)
    across = across_c_rad(intensity)
    beam = beam_width_rad(curve_in_plane(intensity, across))
    return (
        Number("lumens", lumens, "lm", "light of one luminaire"),
        Number("watts", intensity.watts, "W", "input power of one luminaire"),
        Number("efficacy", lumens / intensity.watts, "lm/W", "light for each watt"),
        Number("lumens_per_metre", lumens * per_metre, "lm/m", "light for each lit metre"),
        Number("watts_per_metre", intensity.watts * per_metre, "W/m", "power for each lit metre"),
        Number("peak", top.candela, "cd", "largest intensity"),
        Number("peak_gamma", math.degrees(top.gamma_rad), "deg", "the peak from nadir"),
        Number("peak_c", math.degrees(top.c_rad), "deg", "plane of the peak"),
        Number("beam_across", math.degrees(beam), "deg", "beam across the run, at half the peak"),
        Number("throw_c", math.degrees(throw_azimuth(intensity)), "deg", "where the light leans"),
        Number("downward", downward_share(intensity), "1", "share of the light below horizontal"),
        Number("opening_long", intensity.long_side_m, "m", "longer side of the opening"),
        Number("opening_short", intensity.short_side_m, "m", "shorter side of the opening"),
        Number("opening_height", intensity.height_m, "m", "height of the opening's sides"),
    )


def scaled(
    intensity: Intensity, *, length_m: float | None = None, lumens: float | None = None
) -> Intensity:
    """Make the same optic at another length, or with another light output.

    Parameters
    ----------
    intensity : Intensity
        What to start from.
    length_m : float, optional
        New longer side of the opening; candela and watts follow in proportion. [m]
    lumens : float, optional
        New light output, after `length_m`; watts follow in proportion. [lm]

    Returns
    -------
    Intensity
        With what was done as an ``OTHER`` keyword and a note.

    Raises
    ------
    ValueError
        If a target is not above 0, or the file has no length to scale.
    """
    said: list[str] = []
    if length_m is not None:
        old = intensity.long_side_m
        if not 0 < length_m < math.inf:
            raise ValueError(f"the length is {length_m} m; it must be above 0 m")
        if not old > 0:
            raise ValueError("the file has no opening, so there is no length to scale")
        factor = length_m / old
        intensity = _multiplied(intensity, factor)
        if intensity.long_side_c_rad == 0:
            intensity = replace(intensity, length_m=length_m)
        else:
            intensity = replace(intensity, width_m=length_m)
        said.append(
            f"Scaled from {old:.6g} m to {length_m:.6g} m: candela and watts x {factor:.9g}"
        )
    if lumens is not None:
        if not 0 < lumens < math.inf:
            raise ValueError(f"the light output is {lumens} lm; it must be above 0 lm")
        old = intensity.lumens
        factor = lumens / old
        intensity = _multiplied(intensity, factor)
        said.append(
            f"Scaled from {old:.6g} lm to {lumens:.6g} lm: candela and watts x {factor:.9g}"
        )
    return replace(
        intensity,
        notes=(*intensity.notes, *said),
        keywords=(*intensity.keywords, *(("OTHER", words) for words in said)),
    )


def _multiplied(intensity: Intensity, factor: float) -> Intensity:
    native = intensity.native
    if native is not None:
        native = NativeGrid(
            native.photometric_type,
            native.horizontal_rad,
            native.vertical_rad,
            native.candela * factor,
        )
    return replace(
        intensity,
        candela=intensity.candela * factor,
        native=native,
        watts=intensity.watts * factor,
        lamp_lumens=intensity.lamp_lumens * factor,
    )
