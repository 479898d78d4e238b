"""LM-63 files (ANSI/IES LM-63 of 1986, 1991, 1995, 2002 and 2019) to intensity distributions.

Details of the editions before 2002 are from memory. What a file breaks but leaves clear is
repaired and said in `Intensity.notes`; anything else is refused.
"""

import re
from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.numbers import (
    LARGEST_OPENING_M,
    LEAST_STEP_DEG,
    MOST_ANGLES,
    MOST_VALUES,
    TOKEN,
    Numbers,
    shown,
)
from rakelight.read.openings import opening
from rakelight.read.planes import (
    SYMMETRY_WORDS,
    Symmetry,
    open_out,
    open_out_native,
    seen_in_type_c,
)
from rakelight.scene.intensity import Intensity, LampTilt

Floats = NDArray[np.float64]
# Text of the file that a TILT=name line names, or InputError
TiltReader = Callable[[str], str]

TILT_LINE = re.compile(r"^[ \t]*TILT[ \t]*=[ \t]*([^\n]*)", re.IGNORECASE | re.MULTILINE)
# IESNA91; IESNA:LM-63-1995 and later; any other first line is a label, as in 1986
FIRST_LINE = re.compile(
    r"IES(?:NA)?[ :-]*LM-?63[ -]*(?P<year>\d{4}|\d{2})?|IESNA ?(?P<short>\d{4}|\d{2})\b",
    re.IGNORECASE,
)
_KEYWORD = re.compile(r"\[([^\]]{1,60})\][ \t]?(.*)")
_EDITIONS = (1986, 1991, 1995, 2002, 2019)
# Angles closer than this to the end of an allowed range are that end. [deg]
_SNAP_DEG = 1e-3


def parse_lm63(text: str, name: str, tilt_reader: TiltReader | None = None) -> Intensity:
    """Read the text of an LM-63 file.

    Parameters
    ----------
    text : str
        With line feeds, as `rakelight.read.numbers.plain_text` gives it.
    name : str
        The file's name, for messages and captions.
    tilt_reader : callable, optional
        Gives the text of the file named by ``TILT=name``; None refuses such files.

    Returns
    -------
    Intensity
        With every repair in `notes`.

    Raises
    ------
    InputError
        If the file cannot be used: the line or field, what was found, what would be right.

    References
    ----------
    .. [1] ANSI/IES LM-63-2019 and ANSI/IESNA LM-63-2002; older editions from memory.
    """
    notes: list[str] = []
    tilt_line = TILT_LINE.search(text)
    if tilt_line is None:
        raise InputError(
            f"{name}: no line starts with TILT=. Write TILT=NONE between the keywords and the "
            "numbers."
        )
    edition = _edition(text, notes)
    keywords = _keywords(text[: tilt_line.start()])
    numbers = Numbers(text, tilt_line.end(), name)
    lamp_tilt = _tilt(tilt_line, numbers, name, tilt_reader, notes)

    def number(what: str) -> float:
        return float(numbers.take(1, what)[0])

    lamps = number("number of lamps")
    if lamps != int(lamps) or not 0 <= lamps <= 10_000:
        raise numbers.refuse("number of lamps", f"found {lamps:g}", "Give a whole number from 1.")
    lumens = number("lumens per lamp")
    if not (0 < lumens <= 1e8 or lumens == -1):
        raise numbers.refuse(
            "lumens per lamp", f"found {lumens:g}",
            "Give the rated lumens, or -1 for absolute photometry.",
        )  # fmt: skip
    if lamps == 0:
        notes.append("the file says 0 lamps: read as 1")
    multiplier = number("candela multiplier")
    if not multiplier > 0:
        raise numbers.refuse(
            "candela multiplier", f"found {multiplier:g}", "Give a number above 0, usually 1."
        )
    angles = numbers.whole(
        number("number of vertical angles"), "number of vertical angles", 1, MOST_ANGLES
    )
    planes = numbers.whole(
        number("number of horizontal angles"), "number of horizontal angles", 1, MOST_ANGLES
    )
    if angles * planes > MOST_VALUES:
        raise numbers.refuse(
            "number of angles", f"{angles} x {planes} candela", f"At most {MOST_VALUES} are read."
        )
    kind = {1.0: "C", 2.0: "B", 3.0: "A"}.get(found := number("photometric type"))
    if kind is None:
        raise numbers.refuse(
            "photometric type", f"found {found:g}", "Give 1 (type C), 2 (type B) or 3 (type A)."
        )
    unit_m = {1.0: 0.3048, 2.0: 1.0}.get(found := number("units"))
    if unit_m is None:
        raise numbers.refuse("units", f"found {found:g}", "Give 1 (feet) or 2 (metres).")
    sizes = np.array([number(f"{side} of the opening") for side in ("width", "length", "height")])
    if np.abs(sizes * unit_m).max() > LARGEST_OPENING_M:
        raise numbers.refuse(
            "luminous opening", f"{np.abs(sizes * unit_m).max():.4g} m",
            f"Give at most {LARGEST_OPENING_M:g} m; are the units (feet 1, metres 2) right?",
        )  # fmt: skip
    width, length, height, shape = opening(sizes, edition, notes)
    factor = multiplier * _ballast(numbers, number, edition, notes)
    watts = number("input watts")
    if not 0 <= watts <= 1e6:
        raise numbers.refuse("input watts", f"found {watts:g}", "Give 0 to 1000000 W.")
    if watts == 0:
        notes.append("the file says 0 W: lumens per watt cannot be given")

    v_deg = _vertical(numbers, angles, kind)
    h_deg, symmetry = _horizontal(numbers, planes, kind, notes)
    candela = numbers.take(angles * planes, f"candela ({planes} planes x {angles} angles)")
    if (candela < 0).any():
        at = int(np.flatnonzero(candela < 0)[0])
        raise numbers.refuse(
            f"candela value {at + 1}", f"found {candela[at]:g}", "Candela cannot be below 0."
        )
    if not candela.any():
        raise numbers.refuse(
            "candela", "every value is 0", "Give the measured values; there is no light to draw."
        )
    _check_rest(numbers, angles * planes, notes)
    if numbers.double_commas:
        notes.append("two commas side by side: read as one break between numbers")
    with np.errstate(over="ignore"):
        table = candela.reshape(planes, angles) * factor
    if not np.isfinite(table).all():
        raise numbers.refuse("candela", "too large", "Check the multiplier and the ballast factor.")

    native = None
    if kind == "C":
        if symmetry == "none" and h_deg[-1] < 360:
            h_deg, table = np.append(h_deg, 360.0), np.concatenate([table, table[:1]])
        sphere = open_out(h_deg, v_deg, table, symmetry)
        words = SYMMETRY_WORDS[symmetry]
    else:
        frame: Literal["A", "B"] = "A" if kind == "A" else "B"
        native, native_notes = open_out_native(frame, h_deg, v_deg, table)
        notes.extend(native_notes)
        sphere = seen_in_type_c(native)
        words = f"type {kind}, " + ("mirrored at H 0" if h_deg[0] == 0 else "no mirror in H")
    notes.extend(sphere.notes)
    return Intensity(
        c_rad=sphere.c_rad,
        gamma_rad=sphere.gamma_rad,
        candela=sphere.candela,
        watts=watts if watts > 0 else float("nan"),
        length_m=length * unit_m,
        width_m=width * unit_m,
        height_m=height * unit_m,
        name=name,
        notes=tuple(notes),
        native=native,
        file_format=f"LM-63-{edition}",
        symmetry=words,
        lamp_lumens=float("nan") if lumens == -1 else lumens * max(lamps, 1),
        opening_shape=shape,
        round_opening=bool((sizes < 0).any()),
        lamp_tilt=lamp_tilt,
        keywords=keywords,
    )


def _edition(text: str, notes: list[str]) -> int:
    first = text.lstrip().split("\n", 1)[0].strip()
    match = FIRST_LINE.match(first)
    if match is None:
        return 1986
    digits = match["year"] or match["short"] or ""
    for edition in _EDITIONS:
        if digits and str(edition).endswith(digits):
            return edition
    notes.append(f"edition {shown(first)} is not known: read as LM-63-2002")
    return 2002


def _keywords(header: str) -> tuple[tuple[str, str], ...]:
    """Keyword lines in order; label lines without a keyword keep an empty one."""
    pairs: list[tuple[str, list[str]]] = []
    for raw in header.split("\n"):
        line = raw.strip()
        if not line or (not pairs and FIRST_LINE.match(line)):
            continue
        match = _KEYWORD.match(line)
        if match is None:
            pairs.append(("", [line]))
        elif match[1].strip().upper() == "MORE" and pairs:
            pairs[-1][1].append(match[2].strip())
        else:
            pairs.append((match[1].strip(), [match[2].strip()]))
    return tuple((keyword, " ".join(words).strip()) for keyword, words in pairs)


def _tilt(
    line: re.Match[str],
    numbers: Numbers,
    name: str,
    tilt_reader: TiltReader | None,
    notes: list[str],
) -> LampTilt | None:
    value = line[1].strip()
    word, _, more = value.partition(" ")
    if word.upper() in ("NONE", "INCLUDE") and more and "." not in more:
        notes.append(f"words after TILT={word.upper()}, {shown(more.strip())}: ignored")
        value = word
    elif line[0].rstrip() != f"TILT={value}" or (
        value.upper() in ("NONE", "INCLUDE") and not value.isupper()
    ):
        notes.append(f"the line {shown(line[0].strip())} should read TILT={value.upper()}")
    if value.upper() == "NONE":
        return None
    if value.upper() == "INCLUDE":
        tilt = _tilt_block(numbers)
    elif not value:
        raise numbers.refuse("TILT=", "nothing after it", "Write TILT=NONE.")
    elif tilt_reader is None:
        raise numbers.refuse(
            "TILT=", f"names another file, {shown(value)}, which is not at hand",
            "Write TILT=NONE, or read it as a file with its tilt file beside it.",
        )  # fmt: skip
    else:
        tilt = _tilt_block(Numbers(tilt_reader(value), 0, f"{name}: tilt file {shown(value)}"))
    notes.append(
        f"lamp output against tilt ({len(tilt.angles_rad)} angles, factors "
        f"{min(tilt.multipliers):g} to {max(tilt.multipliers):g}): read, not applied"
    )
    return tilt


def _tilt_block(numbers: Numbers) -> LampTilt:
    what = "TILT block, lamp-to-luminaire geometry"
    geometry = numbers.whole(float(numbers.take(1, what)[0]), what, 1, 3)
    what = "TILT block, number of angles"
    count = numbers.whole(float(numbers.take(1, what)[0]), what, 1, 1000)
    angles = numbers.take(count, "TILT block, angles")
    if (np.diff(angles) <= LEAST_STEP_DEG).any() or np.abs(angles).max() > 180:
        raise numbers.refuse(
            "TILT block, angles", "they do not increase within -180 to 180",
            "Give them in increasing order.",
        )  # fmt: skip
    multipliers = numbers.take(count, "TILT block, multipliers")
    if (multipliers < 0).any():
        raise numbers.refuse(
            "TILT block, multipliers", f"found {multipliers.min():g}", "Give 0 or more."
        )
    return LampTilt(geometry, tuple(np.deg2rad(angles).tolist()), tuple(multipliers.tolist()))


def _ballast(
    numbers: Numbers, number: Callable[[str], float], edition: int, notes: list[str]
) -> float:
    ballast = number("ballast factor")
    if not ballast > 0:
        raise numbers.refuse(
            "ballast factor", f"found {ballast:g}", "Give a number above 0, usually 1."
        )
    if edition >= 1995:
        what = "future use" if edition < 2019 else "file-generation type"
        second = number(what)
        if second < 0:
            raise numbers.refuse(what, f"found {second:g}", "Give 1.")
        return ballast
    lamp = number("ballast-lamp photometric factor")
    if lamp < 0:
        raise numbers.refuse(
            "ballast-lamp photometric factor",
            f"found {lamp:g}",
            "Give a number above 0, usually 1.",
        )
    if lamp == 0:
        notes.append("the ballast-lamp photometric factor is 0: read as 1")
        return ballast
    if lamp != 1:
        notes.append(f"the ballast-lamp photometric factor {lamp:g} was applied")
    return ballast * lamp


def _increasing(numbers: Numbers, values: Floats, what: str) -> None:
    steps = np.diff(values)
    if (steps <= LEAST_STEP_DEG).any():
        at = int(np.flatnonzero(steps <= LEAST_STEP_DEG)[0])
        raise numbers.refuse(
            what, f"{values[at]:g} is followed by {values[at + 1]:g}",
            "Give each angle once, in increasing order.",
        )  # fmt: skip


def _snapped(values: Floats, ends: tuple[float, float]) -> bool:
    """Put the first and last value on `ends` exactly if that is what they mean."""
    if max(abs(values[0] - ends[0]), abs(values[-1] - ends[1])) > _SNAP_DEG:
        return False
    values[0], values[-1] = ends
    return True


def _vertical(numbers: Numbers, count: int, kind: str) -> Floats:
    what = "vertical angles"
    values = numbers.take(count, what)
    least, most = (0, 180) if kind == "C" else (-90, 90)
    outside = (values < least - _SNAP_DEG) | (values > most + _SNAP_DEG)
    if outside.any():
        raise numbers.refuse(
            what, f"found {values[outside][0]:g}",
            f"Type {kind} has {least} to {most} deg.",
        )  # fmt: skip
    _increasing(numbers, values, what)
    ranges = ((0, 90), (90, 180), (0, 180)) if kind == "C" else ((-90, 90), (0, 90))
    if count < 2 or not any(_snapped(values, ends) for ends in ranges):
        right = ", ".join(f"{a}-{b}" if a >= 0 else f"{a} to {b}" for a, b in ranges)
        raise numbers.refuse(
            what, f"they run from {values[0]:g} to {values[-1]:g}",
            f"Type {kind} allows {right} deg.",
        )  # fmt: skip
    _increasing(numbers, values, what)  # still, with the ends put in place
    return values


def _horizontal(
    numbers: Numbers, count: int, kind: str, notes: list[str]
) -> tuple[Floats, Symmetry]:
    what = "horizontal angles"
    values = numbers.take(count, what)
    _increasing(numbers, values, what)
    found = f"they run from {values[0]:g} to {values[-1]:g}"
    if kind != "C":
        if count < 2 or not any(_snapped(values, ends) for ends in ((-90, 90), (0, 90))):
            raise numbers.refuse(what, found, f"Type {kind} allows -90 to 90 or 0-90 deg.")
        _increasing(numbers, values, what)
        return values, "none"
    if count == 1 and abs(values[0]) <= _SNAP_DEG:
        return values, "rotational"
    sets: tuple[tuple[tuple[float, float], Symmetry], ...] = (
        ((0, 90), "quadrants"),
        ((0, 180), "C0-C180"),
        ((90, 270), "C90-C270"),
        ((0, 360), "none"),
    )
    for ends, symmetry in sets:
        if count > 1 and _snapped(values, ends):
            _increasing(numbers, values, what)
            return values, symmetry
    # a full circle in even steps that leaves out the closing plane; 0-270 stays ambiguous
    if count > 4 and abs(values[0]) <= _SNAP_DEG and 270 < values[-1] < 360:
        steps = np.append(np.diff(values), 360 - values[-1])
        if np.ptp(steps) <= 0.1:
            values[0] = 0.0
            notes.append(
                f"the horizontal angles end at {values[-1]:g}: the plane C360 was added as a "
                "repeat of C0"
            )
            return values, "none"
    raise numbers.refuse(what, found, "Type C allows 0 alone, 0-90, 0-180, 90-270 or 0-360 deg.")


def _check_rest(numbers: Numbers, expected: int, notes: list[str]) -> None:
    rest = numbers.rest
    first = TOKEN.search(rest)
    if first is None:
        if rest.count("\n") > 1 or rest.strip("\n"):
            notes.append("blanks after the last candela: ignored")
        return
    try:
        float(first.group())
    except ValueError:
        words = " ".join(rest[first.start() : first.start() + 200].split())
        notes.append(f"text after the last candela, {shown(words)}: ignored")
        return
    raise numbers.refuse(
        "candela", f"expected {expected}, but {shown(first.group())} follows them",
        "Check the counts of angles, or take the surplus out.",
    )  # fmt: skip
