"""A photometric file in words, for the terminal and for machines."""

import math

import numpy as np

from rakelight.measure.photometry import across_c_rad, downward_share, photometric_numbers
from rakelight.scene.intensity import Intensity, Peak, peak, throw_azimuth
from rakelight.units import say_length

# Nearer to an axis than this is said as the axis. [deg]
_ON_AXIS = 0.05


def direction_in_words(c_rad: float, gamma_rad: float) -> str:
    """Say a direction as people do.

    Parameters
    ----------
    c_rad, gamma_rad : float
        Type C. [rad]

    Returns
    -------
    str
        ``4 deg off nadir toward C90``; above horizontal ``15 deg above horizontal toward C90``;
        close to zenith ``20 deg off zenith toward C90``.
    """
    c, gamma = math.degrees(c_rad) % 360, math.degrees(gamma_rad)
    side = f" toward C{_short(c % 360)}"
    if gamma < _ON_AXIS:
        return "nadir"
    if gamma > 180 - _ON_AXIS:
        return "zenith"
    if gamma <= 60:
        return f"{_short(gamma)} deg off nadir{side}"
    if gamma >= 150:
        return f"{_short(180 - gamma)} deg off zenith{side}"
    if abs(gamma - 90) < _ON_AXIS:
        return f"horizontal{side}"
    above = "above" if gamma > 90 else "below"
    return f"{_short(abs(gamma - 90))} deg {above} horizontal{side}"


def peak_in_words(intensity: Intensity, top: Peak | None = None) -> str:
    """``6769 cd, 4 deg off nadir toward C90``, with its mirror image where it has one."""
    top = top or peak(intensity)
    words = f"{top.candela:.0f} cd, {direction_in_words(top.c_rad, top.gamma_rad)}"
    if intensity.symmetry.startswith("rotational") and "nadir" != words[-5:] != "enith":
        return words + ", and the same all round"
    return words


def throw_in_words(intensity: Intensity) -> str:
    """``toward C90, across the run``, or that the light leans to no side."""
    throw = throw_azimuth(intensity)
    if not np.isfinite(throw):
        return "to no side"
    words = f"toward C{_short(math.degrees(throw))}"
    if intensity.long_side_m <= 1.05 * intensity.short_side_m:
        return words
    across = abs(math.sin(throw - intensity.long_side_c_rad)) > math.sin(math.pi / 4)
    return words + (", across the run" if across else ", along the run")


def photometry_lines(intensity: Intensity) -> list[tuple[str, str]]:
    """Rows of label and text for one file, in reading order.

    Parameters
    ----------
    intensity : Intensity
        As read.

    Returns
    -------
    list of (str, str)
        Notes come last, one a row.
    """
    value = {n.key: n.value for n in photometric_numbers(intensity)}
    kind = f", type {intensity.native.photometric_type}" if intensity.native else ", type C"
    rows = [
        ("read as", intensity.file_format + kind),
        ("light", f"{value['lumens']:.0f} lm" + _and(value["lumens_per_metre"], "lm/m")),
        ("power", _power(value)),
        ("peak", peak_in_words(intensity)),
        ("beam", _beam(intensity, value["beam_across"])),
        ("throw", throw_in_words(intensity)),
        ("down / up", _down_up(downward_share(intensity))),
        ("opening", _opening(intensity)),
        ("symmetry", intensity.symmetry),
        (
            "photometry",
            "absolute"
            if intensity.absolute
            else f"relative to {intensity.lamp_lumens:.0f} lm of its lamps",
        ),
    ]
    rows.extend(("note", note) for note in intensity.notes)
    return rows


def photometry_json(intensity: Intensity) -> dict[str, object]:
    """The same for machines: every digit, null where the file does not say.

    Parameters
    ----------
    intensity : Intensity
        As read.

    Returns
    -------
    dict
        Plain values only.
    """
    tilt = intensity.lamp_tilt
    native = intensity.native
    return {
        "file": intensity.name,
        "format": intensity.file_format,
        "photometric_type": native.photometric_type if native else "C",
        "symmetry": intensity.symmetry,
        "absolute": intensity.absolute,
        "lamp_lumens": _number(intensity.lamp_lumens),
        "opening_shape": intensity.opening_shape,
        "opening_along_c0_m": intensity.length_m,
        "opening_along_c90_m": intensity.width_m,
        "round_opening": intensity.round_opening,
        "numbers": [
            {"key": n.key, "value": _number(n.value), "unit": n.unit, "says": n.says}
            for n in photometric_numbers(intensity)
        ],
        "peak": peak_in_words(intensity),
        "throw": throw_in_words(intensity),
        "lamp_tilt": None
        if tilt is None
        else {
            "geometry": tilt.geometry,
            "angles_deg": [math.degrees(v) for v in tilt.angles_rad],
            "multipliers": list(tilt.multipliers),
            "applied": False,
        },
        "keywords": [list(pair) for pair in intensity.keywords],
        "notes": list(intensity.notes),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _and(value: float, unit: str) -> str:
    return f", {value:.0f} {unit}" if math.isfinite(value) else ""


def _power(value: dict[str, float]) -> str:
    if not math.isfinite(value["watts"]):
        return "not in the file"
    metre = value["watts_per_metre"]
    per_metre = f", {metre:.1f} W/m" if math.isfinite(metre) else ""
    return f"{value['watts']:.1f} W{per_metre}, {value['efficacy']:.0f} lm/W"


def _beam(intensity: Intensity, beam_deg: float) -> str:
    plane = f"C{_short(math.degrees(across_c_rad(intensity)))}"
    if not math.isfinite(beam_deg):
        return f"no half-peak width in the plane of {plane}"
    return f"{_short(beam_deg)} deg at half the peak, in the plane of {plane}"


def _down_up(share: float) -> str:
    return f"{100 * share:.0f} % / {100 * (1 - share):.0f} %"


def _opening(intensity: Intensity) -> str:
    if intensity.long_side_m == 0:
        return intensity.opening_shape
    words = (
        f"{intensity.opening_shape}, {say_length(intensity.length_m, 'mm')} along C0 by "
        f"{say_length(intensity.width_m, 'mm')} along C90"
    )
    if intensity.height_m > 0:
        words += f", {say_length(intensity.height_m, 'mm')} high"
    return words
