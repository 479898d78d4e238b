"""Exposure: EV at ISO 100, stated or from a log-average pooled over pictures."""

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

HIGHLIGHT = 0.98  # share of the lit surfaces that must not be brighter than white
KEY = 0.18  # share of L_max at which the log-average luminance is shown
SMALLEST_CD_M2 = 1e-4  # added before the logarithm, so that black counts but does not rule


def ev100_of(luminance_cd_m2: float) -> float:
    """EV at ISO 100 for which a meter reads this luminance: log2(100 L / K), K = 12.5.

    References
    ----------
    .. [1] ISO 2720, calibration constant K = 12.5.
    """
    if not luminance_cd_m2 > 0:
        raise ValueError(f"luminance is {luminance_cd_m2}; it must be above 0 cd/m2")
    return math.log2(luminance_cd_m2 * 100 / 12.5)


def peak_cd_m2(ev100: float) -> float:
    """Luminance L_max that display-linear 1 stands for: 1.2 x 2^EV100. [cd/m2]

    References
    ----------
    .. [1] ISO 12232, saturation-based speed, q = 0.65: 78 / (100 q) 2^EV.
    """
    return 1.2 * math.exp2(ev100)


def log_average_cd_m2(pictures: Iterable[NDArray[np.floating]]) -> float:
    """Log-average luminance over several pictures' readings, whatever their order.

    Parameters
    ----------
    pictures : iterable of ndarray, any shape
        Luminances of each picture's lit surfaces. [cd/m2]

    Returns
    -------
    float
        exp(mean(ln(L + 1e-4))), each picture with the weight of its readings. [cd/m2]

    Raises
    ------
    ValueError
        If there is no reading at all.

    References
    ----------
    .. [1] Reinhard et al., Photographic Tone Reproduction for Digital Images, 2002, eq. 1.
    """
    sums, counts = [], []
    for luminance in pictures:
        sums.append(float(np.sum(np.log(luminance.astype(np.float64) + SMALLEST_CD_M2))))
        counts.append(luminance.size)
    if sum(counts) == 0:
        raise ValueError("no lit surface is in any picture, so no exposure can be chosen")
    # fsum is exact before its one rounding: the same value in any order of pictures
    return math.exp(math.fsum(sums) / sum(counts))


def automatic_ev100(pictures: Iterable[NDArray[np.floating]], white: float = math.inf) -> float:
    """EV100 that shows the lit surfaces' middle as grey, and keeps their highlights.

    The pooled log-average is shown at 0.18 of L_max, unless that would make more than 2 % of
    the lit surfaces white: then the 98th percentile just becomes white. On a graze most of the
    stone is in shadow, and exposing for shadows would bleach what the light is there for.

    Parameters
    ----------
    pictures : iterable of ndarray, any shape
        Luminances of each picture's lit surfaces. [cd/m2]
    white : float
        Multiple of L_max that the tone curve shows as white (`tone.WHITE`); without it
        highlights are not looked at.

    Raises
    ------
    ValueError
        If there is no reading at all.
    """
    readings = list(pictures)
    grey = log_average_cd_m2(readings) / KEY
    # an order statistic of all readings together: the same in any order of pictures
    everything = np.sort(np.concatenate([np.ravel(reading) for reading in readings]))
    high = float(everything[min(everything.size - 1, math.floor(HIGHLIGHT * everything.size))])
    return math.log2(max(grey, high / white) / 1.2)
