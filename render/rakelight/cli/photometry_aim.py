"""`rakelight photometry --setback`: one file placed beside a wall."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from rakelight.build.aim import Aim
    from rakelight.scene.intensity import Intensity
    from rakelight.units import LengthUnit


@dataclass(frozen=True, slots=True)
class Place:
    """Where a file is placed, in SI, and the unit that people get back."""

    setback_m: float
    ceiling_m: float
    drop_m: float
    tilt_rad: float
    turn_rad: float | None
    unit: "LengthUnit"

    @classmethod
    def of(
        cls,
        files: tuple[Path, ...],
        setback: str | None,
        height: str | None,
        drop: str | None,
        tilt: str | None,
        turn: str | None,
    ) -> "Place | None":
        """Read the options; None where none is given. Bare lengths are metres."""
        from rakelight.units import parse_angle

        if all(text is None for text in (setback, height, drop, tilt, turn)):
            return None
        if setback is None or height is None:
            raise click.UsageError(
                "to place a file beside a wall, give both --setback and --height."
            )
        if len(files) != 1:
            raise click.UsageError(f"--setback places one FILE; {len(files)} were given.")
        angles: list[float | None] = []
        for option, text in (("--tilt", tilt), ("--turn", turn)):
            try:
                angles.append(None if text is None else parse_angle(text))
            except ValueError as error:
                raise click.UsageError(f"{option}: {error}.") from None
        typed = " ".join(text for text in (setback, height, drop) if text is not None).lower()
        feet = any(word in typed for word in ("in", "ft", "feet", "foot"))
        return cls(
            setback_m=_length("--setback", setback),
            ceiling_m=_length("--height", height),
            drop_m=0.0 if drop is None else _length("--drop", drop),
            tilt_rad=angles[0] or 0.0,
            turn_rad=angles[1],
            unit="ft" if feet else "mm" if "mm" in typed else "m",
        )

    def aim(self, intensity: "Intensity") -> "Aim":
        """Place it; what cannot be is a fault of the options."""
        from rakelight.build.aim import aim

        try:
            return aim(
                intensity,
                setback_m=self.setback_m,
                ceiling_m=self.ceiling_m,
                drop_m=self.drop_m,
                tilt_rad=self.tilt_rad,
                turn_rad=self.turn_rad,
            )
        except ValueError as error:
            raise click.UsageError(f"{error}.") from None


def write_aim(found: "Aim", name: str, unit: "LengthUnit", draw: Path) -> str:
    """Draw the section and say so."""
    from rakelight.tell.aim_drawing import draw_aim
    from rakelight.tell.candela_chart import chart_bytes
    from rakelight.tell.files import write_whole

    figure = draw_aim(found, name, unit)
    write_whole(draw, chart_bytes(figure, "svg" if draw.suffix.lower() == ".svg" else "png"))
    return f"drew {draw}"


def aim_json(found: "Aim") -> dict[str, Any]:
    """Return the numbers of an aim for machines."""
    from rakelight.build.aim import aim_numbers

    return {
        "peak_on": found.peak.where,
        "numbers": [
            {
                "key": n.key,
                "value": n.value if math.isfinite(n.value) else None,
                "unit": n.unit,
                "says": n.says,
            }
            for n in aim_numbers(found)
        ],
    }


def _length(option: str, text: str) -> float:
    from rakelight.units import parse_length

    try:
        return parse_length(text)
    except ValueError as error:
        raise click.UsageError(f"{option}: {error}.") from None
