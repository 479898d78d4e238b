"""Clean LM-63-2019 files from a distribution."""

import textwrap

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity
from rakelight.tell.stored_planes import angle_text, number_text, stored_planes

Floats = NDArray[np.float64]
_REQUIRED = ("TEST", "TESTLAB", "ISSUEDATE", "MANUFAC")
# LM-63-2002 and later: lines of at most 256 characters
_WIDEST = 240
_RANGES = {
    "rotational": (0.0, 0.0),
    "quadrants": (0.0, 90.0),
    "C0-C180": (0.0, 180.0),
    "C90-C270": (90.0, 270.0),
    "none": (0.0, 360.0),
}
# Signs of width, length, height by shape, LM-63-2002 and 2019
_SIGNS = {
    "circle": (-1, -1, 1),
    "ellipse": (-1, -1, 1),
    "rounded": (-1, -1, 1),
    "vertical cylinder": (-1, -1, 1),
    "sphere": (-1, -1, -1),
    "ellipsoid": (-1, -1, -1),
    "horizontal cylinder along C0": (-1, 1, -1),
    "horizontal cylinder along C90": (1, -1, -1),
    "vertical circle": (-1, 1, -1),
}


def lm63_bytes(intensity: Intensity) -> bytes:
    """Write a distribution as an LM-63-2019 file.

    Parameters
    ----------
    intensity : Intensity
        Types A and B keep their own grid.

    Returns
    -------
    bytes
        Reading them gives the same light to better than 1e-6; lines end in CR LF.

    References
    ----------
    .. [1] ANSI/IES LM-63-2019; file-generation type 1.00001, undefined, from memory.
    """
    native = intensity.native
    if native is None:
        stored = stored_planes(intensity)
        kind, vertical = 1, stored.gamma_deg
        horizontal, candela = stored.rows(*_RANGES[stored.symmetry])
    else:
        kind = 3 if native.photometric_type == "A" else 2
        vertical = np.rad2deg(native.vertical_rad)
        horizontal, candela = np.rad2deg(native.horizontal_rad), native.candela
        half = horizontal.size // 2
        if horizontal[half] == 0 and np.array_equal(candela, candela[::-1]):
            horizontal, candela = horizontal[half:], candela[half:]
    signs = _SIGNS.get(intensity.opening_shape, (1, 1, 1))
    sizes = (intensity.width_m, intensity.length_m, intensity.height_m)
    opening = " ".join(number_text(s * v) for s, v in zip(signs, sizes, strict=True))
    lumens = "-1" if intensity.absolute else number_text(intensity.lamp_lumens)
    watts = "0" if np.isnan(intensity.watts) else number_text(intensity.watts)
    lines = ["IES:LM-63-2019", *_keyword_lines(intensity), *_tilt_lines(intensity)]
    lines.append(f"1 {lumens} 1 {vertical.size} {horizontal.size} {kind} 2 {opening}")
    lines.append(f"1 1.00001 {watts}")
    lines.extend(_wrapped([angle_text(v) for v in vertical]))
    lines.extend(_wrapped([angle_text(v) for v in horizontal]))
    for plane in candela:
        lines.extend(_wrapped([number_text(v) for v in plane]))
    return ("\r\n".join(lines) + "\r\n").encode()


def _keyword_lines(intensity: Intensity) -> list[str]:
    have = {keyword.upper() for keyword, _ in intensity.keywords}
    pairs = [(keyword, "not stated") for keyword in _REQUIRED if keyword not in have]
    pairs.extend((keyword or "OTHER", words) for keyword, words in intensity.keywords)
    lines = []
    for keyword, words in pairs:
        pieces = textwrap.wrap(words, _WIDEST - len(keyword)) or [""]
        lines.append(f"[{keyword}] {pieces[0]}".rstrip())
        lines.extend(f"[MORE] {piece}" for piece in pieces[1:])
    return lines


def _tilt_lines(intensity: Intensity) -> list[str]:
    tilt = intensity.lamp_tilt
    if tilt is None:
        return ["TILT=NONE"]
    return [
        "TILT=INCLUDE",
        str(tilt.geometry),
        str(len(tilt.angles_rad)),
        *_wrapped([angle_text(float(np.rad2deg(v))) for v in tilt.angles_rad]),
        *_wrapped([number_text(v) for v in tilt.multipliers]),
    ]


def _wrapped(words: list[str], most: int = 12) -> list[str]:
    return [" ".join(words[k : k + most]) for k in range(0, len(words), most)]
