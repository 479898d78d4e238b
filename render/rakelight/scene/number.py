"""One measured value with its unit and its meaning: what JSON, CSV and captions print."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A value that a measure returns.

    Parameters
    ----------
    key : str
        Stable name in JSON and CSV, ``main.average_lx``.
    value : float
        In SI units; every digit.
    unit : str
        ``lx``, ``cd/m2``, ``m``, ``W``, ``1`` for a ratio.
    says : str
        What it is, in a client's words.
    """

    key: str
    value: float
    unit: str
    says: str
