"""Lines of a EULUMDAT file, one value each, checked as what they should be."""

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.numbers import (
    LARGEST_OPENING_M,
    MOST_ANGLES,
    MOST_VALUES,
    NUMBER,
    as_float,
    shown,
)

Floats = NDArray[np.float64]


class Lines:
    """A file's lines by their number, each checked as what it should be."""

    def __init__(self, text: str, name: str) -> None:
        self.lines = text.split("\n", MOST_VALUES + 2 * MOST_ANGLES)
        while self.lines and not self.lines[-1].strip():
            self.lines.pop()
        self._name = name
        self.blanks = 0

    def refuse(self, line: int, what: str, found: str, right: str) -> InputError:
        """The error that says what stands in a line and what would be right."""
        return InputError(f"{self._name}: line {line}, {what}: {found}. {right}")

    def text(self, line: int, what: str) -> str:
        """A line without blanks around it; InputError if the file is too short."""
        if line > len(self.lines):
            raise self.refuse(
                line, what, f"the file ends at line {len(self.lines)}",
                "No line may be missing; was it cut?",
            )  # fmt: skip
        return self.lines[line - 1].strip()

    def number(self, line: int, what: str, *, blank_is_0: bool = False) -> float:
        """A finite number, with decimal point or comma."""
        text = self.text(line, what)
        if not text and blank_is_0:
            self.blanks += 1
            return 0.0
        if NUMBER.fullmatch(plain := text.replace(",", ".")) is None or not np.isfinite(
            value := as_float(plain)
        ):
            raise self.refuse(
                line, what, f"found {shown(text)}, which is not a finite number",
                "Is a line missing or added above?",
            )  # fmt: skip
        return value

    def size(self, line: int, what: str) -> float:
        """A size in mm, to metres."""
        value = self.number(line, what, blank_is_0=True) / 1000
        if not 0 <= value <= LARGEST_OPENING_M:
            raise self.refuse(
                line, what, f"found {value * 1000:g} mm",
                f"Give 0 to {LARGEST_OPENING_M * 1000:g} mm.",
            )  # fmt: skip
        return value

    def whole(self, line: int, what: str, least: int, most: int) -> int:
        """A whole number within bounds."""
        value = self.number(line, what)
        if value != int(value) or not least <= value <= most:
            raise self.refuse(
                line, what, f"found {value:g}",
                f"Give a whole number from {least} to {most}; is a line missing above?",
            )  # fmt: skip
        return int(value)

    def numbers(self, first: int, count: int, what: str) -> Floats:
        """Numbers on `count` lines from line `first` on."""
        missing = first + count - 1 - len(self.lines)
        if missing > 0:
            raise self.refuse(
                len(self.lines), what, f"expected {count} lines, found {count - missing}",
                "No line may be missing; was the file cut?",
            )  # fmt: skip
        return np.array([self.number(first + k, f"{what} {k + 1}") for k in range(count)])
