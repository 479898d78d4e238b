"""Bounds of a search and other words of the command line, read into SI."""

import re

from rakelight.errors import InputError
from rakelight.read.toml import SceneFile
from rakelight.study.hardware import cove_of
from rakelight.study.reconcile import KNOBS, Knob
from rakelight.study.search import Bounds
from rakelight.units import LengthUnit, parse_angle, parse_length


def run_index(scene_file: SceneFile, tag: str | None) -> int:
    """Which run is meant; InputError where the scene has none, or none of that tag."""
    runs = scene_file.tables.run
    if not runs:
        raise InputError(f"{scene_file.label}: the scene has no [[run]] to work on.")
    if tag is None:
        return 0
    tags = [run.tag or f"L{k}" for k, run in enumerate(runs, 1)]
    if tag not in tags:
        raise InputError(f"--run {tag}: the scene has no such run; there is {', '.join(tags)}.")
    return tags.index(tag)


def bounds_of(
    scene_file: SceneFile,
    index: int,
    setback: str | None,
    below: str | None,
    tilt: str | None,
    files: str | None,
) -> Bounds:
    """Read all bounds, and say every fault at once.

    Raises
    ------
    InputError
        If a range is not two values from the lower to the higher, or there is nothing to search.
    """
    unit = scene_file.tables.units.length
    faults: list[str] = []

    def span(option: str, text: str | None, *, angle: bool = False) -> tuple[float, float] | None:
        if text is None:
            return None
        try:
            return _span(text, unit, angle=angle)
        except ValueError as error:
            faults.append(f'{option} "{text}": {error}.')
            return None

    bounds = Bounds(
        files=tuple(dict.fromkeys(f.strip() for f in (files or "").split(",") if f.strip())),
        setback_m=span("--setback", setback),
        tilt_rad=span("--tilt", tilt, angle=True),
        below_m=span("--below", below),
    )
    if below is not None:
        try:
            cove_of(scene_file, index)
        except ValueError as error:
            faults.append(f"--below: {error}.")
    if faults:
        raise InputError(*faults)
    if bounds == Bounds():
        raise InputError(
            "suggest: nothing to search. Give bounds, as --setback 60mm:400mm --tilt -20:40 "
            "--files graze-narrow,graze-medium."
        )
    return bounds


def _span(text: str, unit: LengthUnit, *, angle: bool) -> tuple[float, float]:
    parts = [part.strip() for part in text.split(":")]
    if len(parts) != 2 or not all(parts):
        raise ValueError("right is LEAST:LARGEST, as " + ("-20:40" if angle else "60mm:400mm"))
    if angle:
        low, high = (parse_angle(part) if _worded(part) else parse_angle(float(part))
                     for part in parts)  # fmt: skip
    else:
        # "60:400 mm": the first shares the second one's unit
        word = re.search(r"[a-z]+$", parts[1].lower())
        if word and not _worded(parts[0]):
            parts[0] = f"{parts[0]} {word[0]}"
        low, high = (parse_length(part, unit) for part in parts)
        if not low > 0:
            raise ValueError("must be above 0")
    if low > high:
        raise ValueError("is reversed; right is LEAST:LARGEST")
    return low, high


def _worded(text: str) -> bool:
    return re.search(r"[a-z°]", text.lower()) is not None


def parse_band(text: str | None, unit: LengthUnit) -> tuple[float | None, bool]:
    """Amount of a band, and whether it is a share; (None, False) where none is given.

    Raises
    ------
    InputError
        If it is neither a share nor a length.
    """
    if text is None:
        return None, False
    try:
        if text.strip().endswith("%"):
            return float(text.strip()[:-1]) / 100, True
        return parse_length(text, unit), False
    except ValueError:
        raise InputError(
            f'--band "{text}": right is a length or a share, as "100 mm", "10%".'
        ) from None


def parse_head(text: str, unit: LengthUnit) -> float:
    """Height of a meter's head; InputError unless it is a length from 0 to 200 mm. [m]"""
    try:
        value = parse_length(text, unit)
    except ValueError as error:
        raise InputError(f"--head: {error}.") from None
    if not 0 <= value <= 0.2:
        raise InputError(f'--head "{text}": must be from 0 to 200 mm.')
    return value


def parse_share(option: str, text: str) -> float:
    """A share such as "3%"; InputError unless it is above 0 and at most a half."""
    try:
        share = float(text.strip().removesuffix("%")) / 100
    except ValueError:
        raise InputError(f'{option} "{text}": right is a share such as "3%".') from None
    if not 0 < share <= 0.5:
        raise InputError(f'{option} "{text}": must be above 0 and at most 50%.')
    return share


def parse_fit(text: str) -> tuple[Knob, ...]:
    """What to fit: any of setback and tilt; InputError for anything else."""
    names = [part.strip() for part in text.split(",") if part.strip()]
    for name in names:
        if name not in KNOBS:
            raise InputError(f'--fit "{name}": right is setback, tilt, or setback,tilt.')
    return tuple(knob for knob in KNOBS if knob in names)
