"""Photometric files, LM-63 or EULUMDAT, told apart by their content whatever their name."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from rakelight.errors import InputError
from rakelight.read.eulumdat import looks_like_eulumdat, parse_eulumdat
from rakelight.read.lm63 import FIRST_LINE, TILT_LINE, TiltReader, parse_lm63
from rakelight.read.numbers import LARGEST_FILE_BYTES, plain_text, shown
from rakelight.scene.intensity import Intensity, throw_azimuth

LARGEST_CANDELA = 1e9
LARGEST_LUMENS = 1e8
# Sides that differ by less say nothing about how the luminaire lay. [ratio]
_LONG = 1.05


def read_photometry(path: Path, folder: Path | None = None) -> Intensity:
    """Read a photometric file.

    Parameters
    ----------
    path : Path
        An LM-63 or EULUMDAT file; which, is decided by its content.
    folder : Path, optional
        Where else than beside the file a ``TILT=name`` line may lead: the scene's folder.

    Returns
    -------
    Intensity
        Every assumption and repair is in `notes`.

    Raises
    ------
    InputError
        If the file cannot be read or used, in one line: file, line or field, what was found,
        what would be right.
    """
    data = _bytes_of(path, path.name)

    known = _read_alone(data, path.name)
    if known is not None:
        return known

    def tilt_reader(tilt_name: str) -> str:
        return _tilt_text(path, folder, tilt_name)

    return parse_photometry(data, path.name, tilt_reader)


class _AsksForAnotherFile(Exception):
    """A file's lamp tilt stands in a file of its own."""


@lru_cache(maxsize=16)  # each step of a sweep reads the same few files
def _read_alone(data: bytes, name: str) -> Intensity | None:
    """What the bytes of a file hold; None if they lead to another file."""

    def refuse(tilt_name: str) -> str:
        raise _AsksForAnotherFile(tilt_name)

    try:
        return parse_photometry(data, name, refuse)
    except _AsksForAnotherFile:
        return None


def parse_photometry(data: bytes, name: str, tilt_reader: TiltReader | None = None) -> Intensity:
    """Read the bytes of a photometric file, without touching any file.

    Parameters
    ----------
    data : bytes
        The file's content.
    name : str
        The file's name, for messages and captions.
    tilt_reader : callable, optional
        Gives the text of the file named by an LM-63 ``TILT=name`` line.

    Returns
    -------
    Intensity
        Every assumption and repair is in `notes`.

    Raises
    ------
    InputError
        If the data cannot be used.
    """
    text = plain_text(data, name)
    start = text.lstrip()[:100]
    if TILT_LINE.search(text) is None and looks_like_eulumdat(text):
        intensity, expected, other = parse_eulumdat(text, name), ".ldt", ".ies"
    elif TILT_LINE.search(text) or FIRST_LINE.match(start) or start.startswith("["):
        intensity, expected, other = parse_lm63(text, name, tilt_reader), ".ies", ".ldt"
    else:
        second = [*text.split("\n", 2), ""][1].strip()
        raise InputError(
            f"{name}: neither LM-63 (no line starts with TILT=) nor EULUMDAT (line 2 is "
            f"{shown(second)}, lines 2 to 7 must be numbers). Give a photometric file."
        )
    largest, lumens = float(intensity.candela.max()), intensity.lumens
    if intensity.native is not None:
        largest = float(intensity.native.candela.max())
    if largest > LARGEST_CANDELA or not lumens <= LARGEST_LUMENS:
        raise InputError(
            f"{name}: candela: up to {largest:.3g} cd and {lumens:.3g} lm; at most "
            f"{LARGEST_CANDELA:.0e} cd and {LARGEST_LUMENS:.0e} lm are believed. Check the "
            "multiplier, the lumens and the units."
        )
    if not lumens > 0:
        raise InputError(
            f"{name}: candela: the distribution holds {lumens:.3g} lm. Give the measured values."
        )
    notes = list(intensity.notes)
    if name.lower().endswith(other):
        notes.insert(
            0, f"the content is {intensity.file_format} though the name ends in {other} (not "
            f"{expected}): read by content",
        )  # fmt: skip
    return replace(intensity, notes=(*notes, *_orientation_notes(intensity)))


def _orientation_notes(intensity: Intensity) -> tuple[str, ...]:
    """Where the longer side and the throw lie, against the format's rule."""
    if intensity.long_side_m <= _LONG * intensity.short_side_m:
        return ()
    notes = []
    along_c0 = intensity.long_side_c_rad == 0
    rule_c0 = intensity.file_format != "EULUMDAT"
    if along_c0 != rule_c0:
        there, rule = ("C0-C180", "C90-C270") if along_c0 else ("C90-C270", "C0-C180")
        notes.append(
            f"the opening's longer side lies along {there}; by the rule of "
            f"{'LM-63' if rule_c0 else 'EULUMDAT'} it lies along {rule}. The file's angles are kept"
        )
    throw = throw_azimuth(intensity)
    if np.isfinite(throw) and abs(np.cos(throw - intensity.long_side_c_rad)) > np.sin(np.pi / 4):
        notes.append(
            f"the light leans toward C{np.rad2deg(throw):.0f}, along the opening's longer side and "
            "not across it: one of the two is probably turned by 90 deg"
        )
    return tuple(notes)


def _bytes_of(path: Path, name: str) -> bytes:
    right = "Give an LM-63 (.ies) or EULUMDAT (.ldt) file."
    try:
        if path.is_dir():
            raise InputError(f"{name or path}: a folder, not a file. {right}")
        if not path.exists():
            raise InputError(f"{path}: no such file. {right}")
        if not path.is_file():
            raise InputError(f"{name}: a device or pipe, not a file. {right}")
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise InputError(f"{name}: cannot be read ({reason}). {right}") from None


def _tilt_text(path: Path, folder: Path | None, tilt_name: str) -> str:
    """Text of the tilt file beside `path`, in any letter case, and nowhere else."""
    line = f"{path.name}: TILT={shown(tilt_name, 60)}"
    right = "Put the file beside this one, or write TILT=NONE."
    beside = path.resolve().parent
    allowed = [beside] if folder is None else [beside, folder.resolve()]
    try:
        target = (beside / tilt_name.replace("\\", "/")).resolve()
        if not any(target.is_relative_to(root) for root in allowed):
            raise InputError(f"{line}: outside the folder of the file. {right}")
        if not target.is_file() and target.parent.is_dir():
            same = [p for p in target.parent.iterdir() if p.name.lower() == target.name.lower()]
            target = min(same, default=target)
        if not target.is_file():
            raise InputError(f"{line}: no such file. {right}")
        if not any(target.resolve().is_relative_to(root) for root in allowed):
            raise InputError(f"{line}: outside the folder of the file. {right}")
    except (OSError, ValueError):
        raise InputError(f"{line}: not a usable file name. {right}") from None
    return plain_text(_bytes_of(target, target.name), target.name)
