"""EULUMDAT files (Stockmar 1990) to intensity distributions.

One value a line, no line may be missing; sizes in millimetres, candela per 1000 lm of the lamps.
C0 lies across a linear luminaire and its length along C90-C270, the other way round than in
LM-63: the file's angles are kept, and its sizes are turned into the record's own
(`length_m` along C0, `width_m` along C90).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.read.eulumdat_lines import Lines
from rakelight.read.numbers import (
    LEAST_STEP_DEG,
    MOST_ANGLES,
    MOST_VALUES,
    NUMBER,
    shown,
)
from rakelight.read.planes import SYMMETRY_WORDS, Symmetry, open_out
from rakelight.scene.intensity import Intensity

Floats = NDArray[np.float64]
_SYMMETRIES: tuple[Symmetry, ...] = (
    "none",
    "rotational",
    "C0-C180",
    "C90-C270",
    "quadrants",
)
# Stored planes must be where the step says, within this. [deg]
_IN_LINE_DEG = 0.1
# Flux of the distribution against 10 x LORL per 1000 lm.
_LORL_AGREES = 0.05
_MOST_LAMP_SETS = 20


def looks_like_eulumdat(text: str) -> bool:
    """Whether lines 2 to 7 are the numbers that EULUMDAT has there, most of them at least."""
    lines = [line.strip().replace(",", ".") for line in text.split("\n", 8)[1:7]]
    return sum(NUMBER.fullmatch(line) is not None for line in lines) >= 5


def parse_eulumdat(text: str, name: str) -> Intensity:
    """Read the text of a EULUMDAT file.

    Parameters
    ----------
    text : str
        With line feeds, as `rakelight.read.numbers.plain_text` gives it.
    name : str
        The file's name, for messages and captions.

    Returns
    -------
    Intensity
        With every repair in `notes`; candela for the first lamp set.

    Raises
    ------
    InputError
        If the file cannot be used: the line, what was found, what would be right.

    References
    ----------
    .. [1] A. W. Stockmar, EULUMDAT, 1990 (from memory).
    """
    lines = Lines(text, name)
    notes: list[str] = []
    lines.whole(2, "type indicator Ityp", 0, 3)
    isym = lines.whole(3, "symmetry Isym", 0, 4)
    planes = lines.whole(4, "number of C planes Mc", 1, MOST_ANGLES)
    c_step = lines.number(5, "step of the C planes Dc")
    angles = lines.whole(6, "number of angles Ng", 2, MOST_ANGLES)
    gamma_step = lines.number(7, "step of the angles Dg")
    divisor = {2: 2, 3: 4, 4: 4}.get(isym, 1)
    if planes % divisor:
        raise lines.refuse(
            4, "number of C planes Mc", f"found {planes}",
            f"Isym {isym} needs a multiple of {divisor}.",
        )  # fmt: skip
    if isym == 0 and planes == 1:
        raise lines.refuse(
            4, "number of C planes Mc", "found 1 with Isym 0", "One plane for all is Isym 1."
        )
    if planes * angles > MOST_VALUES:
        raise lines.refuse(
            6, "number of angles Ng", f"{planes} x {angles} intensities",
            f"At most {MOST_VALUES} are read.",
        )  # fmt: skip
    for line, what in ((13, "length"), (14, "width"), (15, "height")):
        lines.size(line, f"{what} of the luminaire")
    along = lines.size(16, "length of the luminous area")
    across = lines.size(17, "width of the luminous area")
    height = max(lines.size(k, "height of the luminous area") for k in range(18, 22))
    lines.number(22, "downward flux fraction", blank_is_0=True)
    lorl = lines.number(23, "light output ratio", blank_is_0=True)
    conversion = lines.number(24, "conversion factor")
    if not conversion > 0:
        raise lines.refuse(
            24, "conversion factor", f"found {conversion:g}", "Give a number above 0, usually 1."
        )
    if tilt := lines.number(25, "tilt during measurement", blank_is_0=True):
        notes.append(f"measured at a tilt of {tilt:g} deg: not applied")
    sets = lines.whole(26, "number of lamp sets", 1, _MOST_LAMP_SETS)
    lamps, lumens, watts = _lamp_set(lines, notes)
    if sets > 1:
        notes.append(f"{sets} lamp sets: the first was used ({lumens:g} lm)")
    for k in range(10):
        lines.number(27 + 6 * sets + k, f"direct ratio {k + 1}", blank_is_0=True)

    at = 27 + 6 * sets + 10
    symmetry = _SYMMETRIES[isym]
    c_deg = lines.numbers(at, planes, "C angle")
    c_deg, rows = _planes(lines, at, c_deg, c_step, symmetry, notes)
    at += planes
    gamma_deg = lines.numbers(at, angles, "gamma angle")
    _check_gamma(lines, at, gamma_deg, gamma_step, notes)
    at += angles
    stored = lines.numbers(at, rows * angles, "intensity")
    if (stored < 0).any():
        first = int(np.flatnonzero(stored < 0)[0])
        raise lines.refuse(
            at + first, f"intensity {first + 1}", f"found {stored[first]:g}",
            "An intensity cannot be below 0.",
        )  # fmt: skip
    if not stored.any():
        raise lines.refuse(at, "intensities", "every value is 0", "Give the measured values.")
    _check_rest(lines, at + rows * angles, notes)
    if lines.blanks:
        notes.append(f"{lines.blanks} blank lines where numbers belong: read as 0")

    with np.errstate(over="ignore"):
        table = stored.reshape(rows, angles) * conversion * (lumens / 1000)
    if not np.isfinite(table).all():
        raise lines.refuse(24, "conversion factor", f"{conversion:g} makes the candela too large",
                           "Check it, and the lamps' lumens.")  # fmt: skip
    if symmetry == "none" and c_deg[-1] < 360:  # C360 is left out of the file, as it should be
        c_deg, table = np.append(c_deg, 360.0), np.concatenate([table, table[:1]])
    sphere = open_out(c_deg, gamma_deg, table, symmetry)
    shape = "rectangle"
    if along > 0 and across == 0:
        across, shape = along, "circle"
    elif along == across == 0:
        shape = "point"
        notes.append("the luminous area is a point (0 mm): its edges will look sharper than real")
    intensity = Intensity(
        c_rad=sphere.c_rad,
        gamma_rad=sphere.gamma_rad,
        candela=sphere.candela,
        watts=watts if watts > 0 else float("nan"),
        length_m=across,
        width_m=along,
        height_m=height,
        name=name,
        notes=(*notes, *sphere.notes),
        file_format="EULUMDAT",
        symmetry=SYMMETRY_WORDS[symmetry],
        lamp_lumens=float("nan") if lamps < 0 else lumens,
        opening_shape=shape,
        round_opening=shape == "circle",
        keywords=_keywords(lines),
    )
    return _with_output_ratio(intensity, lumens, lorl)


def _lamp_set(lines: Lines, notes: list[str]) -> tuple[int, float, float]:
    """Lamps, total lumens and watts of the first set."""
    lamps = lines.whole(27, "number of lamps", -10_000, 10_000)
    if lamps == 0:
        raise lines.refuse(
            27, "number of lamps", "found 0", "Give 1 or more, or -1 for absolute photometry."
        )
    lumens = lines.number(29, "total lumens of the lamps")
    if not 0 < lumens <= 1e8:
        raise lines.refuse(
            29, "total lumens of the lamps", f"found {lumens:g}", "Give a number above 0."
        )
    watts = lines.number(32, "watts", blank_is_0=True)
    if not 0 <= watts <= 1e6:
        raise lines.refuse(32, "watts", f"found {watts:g}", "Give 0 to 1000000 W.")
    if watts == 0:
        notes.append("the file says 0 W: lumens per watt cannot be given")
    return lamps, lumens, watts


def _planes(
    lines: Lines,
    at: int,
    c_deg: Floats,
    step: float,
    symmetry: Symmetry,
    notes: list[str],
) -> tuple[Floats, int]:
    """Angles of the stored planes, increasing, and how many planes are stored."""
    count, what = c_deg.size, "C angles"
    if symmetry == "rotational":
        return c_deg[:1], 1
    _increasing(lines, at, c_deg, what)
    if abs(c_deg[0]) > _IN_LINE_DEG or c_deg[-1] > 360 + _IN_LINE_DEG:
        raise lines.refuse(
            at, what, f"they run from {c_deg[0]:g} to {c_deg[-1]:g}",
            "They start at 0 and stay within 360.",
        )  # fmt: skip
    _in_line(lines, at, c_deg, step, "Dc", what)
    c_deg = c_deg.copy()
    c_deg[0] = 0.0
    if symmetry == "none":
        if abs(c_deg[-1] - 360) <= _IN_LINE_DEG:
            c_deg[-1] = 360.0
            notes.append("the plane C360 is stored too; it should be left out")
            _increasing(lines, at, c_deg, what)
        elif step != 0 and abs(c_deg[-1] + step - 360) > _IN_LINE_DEG:
            raise lines.refuse(
                at + count - 1, what, f"the last is {c_deg[-1]:g} and the step {step:g}",
                "Mc times Dc must make the whole circle.",
            )  # fmt: skip
        elif c_deg[-1] <= 180:
            raise lines.refuse(
                at + count - 1, what, f"the last is {c_deg[-1]:g}",
                "Isym 0 needs planes all round.",
            )  # fmt: skip
        return c_deg, count
    # the list holds all planes; the mirror planes have their fixed places in it
    quarters = {"C0-C180": (2,), "C90-C270": (1, 3), "quadrants": (1,)}[symmetry]
    for quarter in quarters:
        index = quarter * count // 4
        if abs(c_deg[index] - 90 * quarter) > _IN_LINE_DEG:
            raise lines.refuse(
                at + index, f"C angle {index + 1}", f"found {c_deg[index]:g}",
                f"With this Isym the plane C{90 * quarter} must stand here.",
            )  # fmt: skip
        c_deg[index] = 90.0 * quarter
    _increasing(lines, at, c_deg, what)  # still, with the corners put in place
    if symmetry == "C90-C270":
        # stored from C270 over C0 to C90
        c_deg = np.concatenate([c_deg[3 * count // 4 :], c_deg[: count // 4 + 1] + 360])
    else:
        c_deg = c_deg[: quarters[0] * count // 4 + 1]
    return c_deg, c_deg.size


def _increasing(lines: Lines, at: int, values: Floats, what: str) -> None:
    steps = np.diff(values)
    if (steps <= LEAST_STEP_DEG).any():
        index = int(np.flatnonzero(steps <= LEAST_STEP_DEG)[0])
        raise lines.refuse(
            at + index + 1, what, f"{values[index]:g} is followed by {values[index + 1]:g}",
            "They must increase; is a line missing or added above?",
        )  # fmt: skip


def _in_line(lines: Lines, at: int, values: Floats, step: float, step_name: str, what: str) -> None:
    if step == 0:
        return
    off = np.abs(values - values[0] - step * np.arange(values.size))
    if off.max() > _IN_LINE_DEG:
        index = int(np.flatnonzero(off > _IN_LINE_DEG)[0])
        raise lines.refuse(
            at + index, f"{what} {index + 1}", f"found {values[index]:g}",
            f"The step {step_name} = {step:g} asks for {values[0] + step * index:g} "
            f"(within {_IN_LINE_DEG} deg); uneven angles have {step_name} 0.",
        )  # fmt: skip


def _check_gamma(lines: Lines, at: int, gamma_deg: Floats, step: float, notes: list[str]) -> None:
    """Check the gamma angles and put their ends exactly on 0, 90 and 180, in place."""
    what = "gamma angles"
    _increasing(lines, at, gamma_deg, what)
    if gamma_deg[0] < -_IN_LINE_DEG or gamma_deg[-1] > 180 + _IN_LINE_DEG:
        raise lines.refuse(
            at, what, f"they run from {gamma_deg[0]:g} to {gamma_deg[-1]:g}",
            "They stay within 0 to 180.",
        )  # fmt: skip
    _in_line(lines, at, gamma_deg, step, "Dg", what)
    for index, ends in ((0, (0.0, 90.0)), (-1, (90.0, 180.0))):
        for end in ends:
            if abs(gamma_deg[index] - end) <= _IN_LINE_DEG:
                gamma_deg[index] = end
    _increasing(lines, at, gamma_deg, what)  # still, with the ends put in place
    first, last = gamma_deg[0], gamma_deg[-1]
    if first != 0 and last != 180:
        raise lines.refuse(
            at, what, f"they run from {first:g} to {last:g}", "Give 0-90, 0-180 or 90-180."
        )
    if (first, last) not in ((0, 90), (0, 180), (90, 180)):
        notes.append(f"gamma runs from {first:g} to {last:g}: 0 cd was taken beyond")


def _check_rest(lines: Lines, used: int, notes: list[str]) -> None:
    """Complain about numbers after the last intensity; note words."""
    surplus = [line.strip() for line in lines.lines[used - 1 :] if line.strip()]
    if not surplus:
        return
    if NUMBER.fullmatch(surplus[0].replace(",", ".")):
        raise lines.refuse(
            used, "intensities", f"{shown(surplus[0])} follows the last of them",
            "Check Mc, Ng and Isym; was a line added?",
        )  # fmt: skip
    notes.append(f"text after the last intensity, {shown(surplus[0])}: ignored")


def _keywords(lines: Lines) -> tuple[tuple[str, str], ...]:
    places = (
        ("MANUFAC", 1),
        ("TEST", 8),
        ("LUMINAIRE", 9),
        ("LUMCAT", 10),
        ("OTHER", 11),
        ("ISSUEDATE", 12),
        ("LAMP", 28),
        ("COLORTEMP", 30),
        ("CRI", 31),
    )
    return tuple((key, words) for key, line in places if (words := lines.lines[line - 1].strip()))


def _with_output_ratio(intensity: Intensity, lumens: float, lorl: float) -> Intensity:
    """Note where the flux of the distribution is not what LORL says."""
    ratio = 100 * intensity.lumens / lumens
    if lorl <= 0:
        note = "the light output ratio LORL is 0: not compared with the distribution"
    elif abs(ratio / lorl - 1) > _LORL_AGREES:
        note = (
            f"the distribution holds {ratio:.1f} % of the lamps' lumens, but the light output "
            f"ratio LORL says {lorl:g} %: the distribution was used"
        )
    else:
        return intensity
    return replace(intensity, notes=(*intensity.notes, note))
