"""One exposure for many pictures that are never in memory together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.exposure import HIGHLIGHT, KEY, SMALLEST_CD_M2

#: Octaves of luminance that are told apart, and classes in each: 0.2 % wide. [log2 cd/m2]
_LOW, _HIGH, _PER_OCTAVE = -14, 18, 360


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What an exposure needs of one picture's lit surfaces.

    Parameters
    ----------
    log_sum : float
        Sum of ln(L + 1e-4) over the pixels. [L in cd/m2]
    count : int
        Number of pixels.
    classes : ndarray of int64
        Pixels by luminance, in classes of equal ratio.
    """

    log_sum: float
    count: int
    classes: NDArray[np.int64]

    @staticmethod
    def of(luminance_cd_m2: NDArray[np.float32]) -> "Reading":
        """Read a picture's lit pixels, any shape. [cd/m2]"""
        values = np.ravel(luminance_cd_m2).astype(np.float64)
        logs = np.log2(np.maximum(values, 2.0**_LOW))
        index = np.clip(((logs - _LOW) * _PER_OCTAVE).astype(np.int64), 0, _classes() - 1)
        return Reading(
            float(np.sum(np.log(values + SMALLEST_CD_M2))),
            values.size,
            np.bincount(index, minlength=_classes()),
        )

    def plain(self) -> dict[str, Any]:
        """As plain values, only the classes that hold something."""
        filled = np.flatnonzero(self.classes)
        return {
            "log_sum": self.log_sum,
            "count": self.count,
            "classes": filled.tolist(),
            "pixels": self.classes[filled].tolist(),
        }

    @staticmethod
    def of_plain(found: dict[str, Any]) -> "Reading":
        """Back from `plain`."""
        classes = np.zeros(_classes(), np.int64)
        classes[np.array(found["classes"], np.int64)] = found["pixels"]
        return Reading(float(found["log_sum"]), int(found["count"]), classes)


def pooled_ev100(readings: Sequence[Reading], white: float = math.inf) -> float:
    """EV100 of all pictures together, as `picture.exposure.automatic_ev100` within 0.01 EV.

    Parameters
    ----------
    readings : sequence of Reading
        In any order.
    white : float
        Multiple of L_max that the tone curve shows as white.

    Raises
    ------
    ValueError
        If there is no reading at all.
    """
    count = sum(reading.count for reading in readings)
    if count == 0:
        raise ValueError("no lit surface is in any picture, so no exposure can be chosen")
    grey = math.exp(math.fsum(r.log_sum for r in readings) / count) / KEY
    pixels = np.sum([reading.classes for reading in readings], axis=0)
    place = min(count - 1, math.floor(HIGHLIGHT * count))
    middle = int(np.searchsorted(np.cumsum(pixels), place, side="right")) + 0.5
    high = 2.0 ** (_LOW + middle / _PER_OCTAVE)
    return math.log2(max(grey, high / white) / 1.2)


def _classes() -> int:
    return (_HIGH - _LOW) * _PER_OCTAVE
