"""White point: what an eye that has settled in this light calls white."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.shade import Picture
from rakelight.picture.tone import REC709
from rakelight.scene.lit_line import LightGroup

Floats = NDArray[np.float64]

#: Linear Rec.709 to CIE XYZ, white D65 (IEC 61966-2-1).
TO_XYZ = np.array(
    [
        [0.4123908, 0.3575843, 0.1804808],
        [0.2126390, 0.7151687, 0.0721923],
        [0.0193308, 0.1191948, 0.9505322],
    ]
)
#: XYZ to the sharpened cone responses of the Bradford transform (ICC.1:2022, annex E).
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
#: Degree of adaptation for dim interiors: D = 1 - exp(-(L_A + 42) / 92) / 3.6 at an adapting
#: luminance of 20 cd/m2 (CIE 159:2004, CIECAM02, surround factor 1): a warm lamp stays a
#: little warm.
DEGREE = 1.0 - np.exp(-(20.0 + 42.0) / 92.0) / 3.6


def adaptation(white_rgb: Floats, degree: float = 1.0) -> Floats:
    """Matrix on linear Rec.709 that turns a light's colour toward the screen's white.

    Parameters
    ----------
    white_rgb : ndarray of float64, shape (3,)
        Colour of the light, linear Rec.709.
    degree : float
        1 turns it into the screen's white itself, 0 changes nothing.

    Returns
    -------
    ndarray of float64, shape (3, 3)
        For column vectors.

    References
    ----------
    .. [1] Bradford transform, ICC.1:2022 annex E; degree of adaptation as in CIE 159:2004.
    """
    to_cone = BRADFORD @ TO_XYZ
    source = to_cone @ (white_rgb / float(REC709 @ white_rgb))
    screen = to_cone @ np.ones(3)
    gain = degree * screen / source + (1.0 - degree)
    out: Floats = np.linalg.inv(to_cone) @ np.diag(gain) @ to_cone
    return out


def white_of(groups: Iterable[LightGroup]) -> Floats:
    """Colour of all the runs' light together, weighted by their lumens; luminance 1."""
    total = np.zeros(3)
    for group in groups:
        for line in group.lines:
            total += group.output * line.lumens * group.white_rgb
    if not total.any():
        return np.ones(3)
    out: Floats = total / float(REC709 @ total)
    return out


def balanced(picture: Picture, matrix: Floats) -> Picture:
    """Picture in another white; every pixel keeps its luminance, so that it can be read back."""
    return replace(
        picture,
        rgb_cd_m2=_turned(picture.rgb_cd_m2, matrix),
        edge_cd_m2=_turned(picture.edge_cd_m2, matrix),
    )


def _turned(rgb: NDArray[np.float32], matrix: Floats) -> NDArray[np.float32]:
    turned = np.maximum(rgb @ matrix.T.astype(np.float32), 0)
    luma = REC709.astype(np.float32)
    before, after = rgb @ luma, turned @ luma
    scale = np.divide(before, after, out=np.ones_like(before), where=after > 0)
    out: NDArray[np.float32] = turned * scale[..., None]
    return out
