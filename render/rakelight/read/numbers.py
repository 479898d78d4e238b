"""Text of a photometric file: bytes to text, and free-format numbers with their line."""

import re
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError

LARGEST_FILE_BYTES = 50_000_000
# More planes or angles than any goniometer gives; a slip in the counts is caught by this first.
MOST_ANGLES = 20_000
MOST_VALUES = 5_000_000
LARGEST_OPENING_M = 30.0
# Angles no further apart than this are one angle given twice. [deg]
LEAST_STEP_DEG = 1e-9

TOKEN = re.compile(r"[^\s,]+")
# D is how Fortran writes the exponent of a long number
NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eEdD][+-]?[0-9]+)?")
# A comma right between digits beside another number on the same line: perhaps a decimal comma
_DECIMAL_COMMA = re.compile(r"\d,\d+[ \t]+[+-]?\d|\d[ \t]+[+-]?\d+,\d")
_CONTROLS = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1a"))


def shown(text: str, most: int = 30) -> str:
    """Quote a piece of a file for a one-line message: printable and short."""
    printable = "".join(c if c.isprintable() else "?" for c in text[: most + 1])
    return f'"{printable[:most]}…"' if len(printable) > most else f'"{printable}"'


def plain_text(data: bytes, name: str) -> str:
    """Decode a file's text and give it one kind of line end.

    Parameters
    ----------
    data : bytes
        UTF-8 (with or without a byte-order mark), else code page 1252 or Latin-1, which only
        matters to the words in the header.
    name : str
        For messages.

    Returns
    -------
    str
        Lines end with a line feed.

    Raises
    ------
    InputError
        If the data are empty, too large or not text.
    """
    right = "Give an LM-63 (.ies) or EULUMDAT (.ldt) text file."
    if len(data) > LARGEST_FILE_BYTES:
        raise InputError(
            f"{name}: {len(data) / 1e6:.0f} MB; a photometric file has at most "
            f"{LARGEST_FILE_BYTES / 1e6:.0f} MB. {right}"
        )
    if not data.strip():
        raise InputError(f"{name}: the file is empty. {right}")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError(f"{name}: UTF-16 text. Save it as UTF-8 or plain ASCII.")
    controls = len(data) - len(data.translate(None, _CONTROLS))
    if b"\0" in data or controls * 100 > len(data):
        raise InputError(f"{name}: binary data, not text. {right}")
    text = ""
    for encoding in ("utf-8-sig", "cp1252", "latin-1"):
        try:
            text = data.decode(encoding)
            break
        except UnicodeDecodeError:
            continue
    # CR CR LF is what a text transfer makes of a file that had CR LF already
    for line_end in ("\r\r\n", "\r\n", "\r"):
        text = text.replace(line_end, "\n")
    return text


def as_float(token: str) -> float:
    """Value of what `NUMBER` matches."""
    try:
        return float(token)
    except ValueError:
        return float(token.upper().replace("D", "E"))


class Numbers:
    """Free-format numbers taken in order from a text: blank, tab, comma or line end between.

    Parameters
    ----------
    text : str
        With line feeds.
    start : int
        Where the numbers begin.
    name : str
        For messages.
    """

    def __init__(self, text: str, start: int, name: str) -> None:
        self._text = text
        self._start = self._at = start
        self._name = name
        self._line_at = start

    @property
    def line(self) -> int:
        """Line of the numbers taken last, from 1."""
        return self._text.count("\n", 0, self._line_at) + 1

    @property
    def rest(self) -> str:
        """What has not been taken yet."""
        return self._text[self._at :]

    @property
    def double_commas(self) -> bool:
        """True if commas stand side by side in what has been taken."""
        return re.search(r",\s*,", self._text[self._start : self._at]) is not None

    def refuse(self, what: str, found: str, right: str) -> InputError:
        """Word an error at the line of the numbers taken last; commas that may be decimal help."""
        if _DECIMAL_COMMA.search(self._text, self._start):
            right += " Decimal commas part numbers here: write points."
        return InputError(f"{self._name}: line {self.line}, {what}: {found}. {right}")

    def take(self, count: int, what: str) -> NDArray[np.float64]:
        """Take the next numbers.

        Parameters
        ----------
        count : int
            How many.
        what : str
            What they are, for messages.

        Returns
        -------
        ndarray of float64, shape (count,)
            Finite.

        Raises
        ------
        InputError
            If there are fewer, or one is not a finite number.
        """
        found = list(islice(TOKEN.finditer(self._text, self._at), count))
        for match in found:
            if NUMBER.fullmatch(match.group()) is None:
                self._line_at = match.start()
                raise self.refuse(
                    what, f"found {shown(match.group())}, which is not a finite number",
                    f"Give {count} number{'s' if count > 1 else ''} there.",
                )  # fmt: skip
        if len(found) < count:
            self._line_at = len(self._text.rstrip())
            raise self.refuse(
                what, f"expected {count}, found {len(found)} before the file ends",
                "Check the counts, or whether the file was cut.",
            )  # fmt: skip
        if found:
            self._line_at, self._at = found[0].start(), found[-1].end()
        values = np.array([as_float(match.group()) for match in found])
        if not np.isfinite(values).all():
            first = found[int(np.flatnonzero(~np.isfinite(values))[0])]
            self._line_at = first.start()
            raise self.refuse(
                what, f"{shown(first.group())} is too large to be a number here",
                "Give finite numbers.",
            )  # fmt: skip
        return values

    def whole(self, value: float, what: str, least: int, most: int) -> int:
        """Check a count among the numbers taken last."""
        if value != int(value) or not least <= value <= most:
            raise self.refuse(
                what, f"found {value:g}", f"Give a whole number from {least} to {most}."
            )
        return int(value)
