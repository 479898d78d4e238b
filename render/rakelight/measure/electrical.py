"""Electrical figures of the runs: watts, lumens, and both for each metre and area."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rakelight.measure.fields import Fields
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.lit_line import LightGroup
from rakelight.scene.number import Number


@dataclass(frozen=True, slots=True)
class Electrical:
    """Power and flux of some runs.

    Parameters
    ----------
    lit_length_m : float
        Sum of the lit lengths. [m]
    watts : float
        Connected load at full output; nan if a file does not say. [W]
    lumens : float
        Flux at full output, from the distributions. [lm]
    lumens_given : float
        Flux with dim and maintenance. [lm]
    watts_dimmed : float
        Load if power follows the light; drivers draw somewhat more when dimmed. [W]
    """

    lit_length_m: float
    watts: float
    lumens: float
    lumens_given: float
    watts_dimmed: float

    @property
    def watts_per_m(self) -> float:
        """Of lit length, at full output. [W/m]"""
        return self.watts / self.lit_length_m if self.lit_length_m > 0 else math.nan

    @property
    def lumens_per_m(self) -> float:
        """At full output. [lm/m]"""
        return self.lumens / self.lit_length_m if self.lit_length_m > 0 else math.nan

    @property
    def lumens_per_watt(self) -> float:
        """Luminous efficacy; nan if the watts are not known. [lm/W]"""
        return self.lumens / self.watts if self.watts > 0 else math.nan


def electrical(groups: Sequence[LightGroup], lights: str | None = None) -> Electrical:
    """Sum over all runs, or over those that light one surface.

    Parameters
    ----------
    groups : sequence of LightGroup
        Runs by dim and maintenance.
    lights : str, optional
        Name of the lit surface.
    """
    length = watts = lumens = given = dimmed = 0.0
    for group in groups:
        for line in group.lines:
            if lights is not None and line.lights != lights:
                continue
            load = line.watts_per_metre * line.lit_length_m
            length += line.lit_length_m
            watts += load
            dimmed += load * group.dim
            lumens += line.lumens
            given += line.lumens * group.output
    return Electrical(length, watts, lumens, given, dimmed)


def electrical_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """Electrical figures of the runs that light this surface; nothing if none does."""
    name = fields.surface.name
    found = electrical(settings.groups, lights=name)
    if not found.lit_length_m > 0:
        return ()
    area = float(fields.plane_m2.sum())
    unknown = "" if math.isfinite(found.watts) else "; not in the photometric file"
    return (
        Number(f"{name}.lit_length_m", found.lit_length_m, "m", "lit length of its runs"),
        Number(f"{name}.watts", found.watts, "W", f"connected load of its runs{unknown}"),
        Number(
            f"{name}.watts_dimmed",
            found.watts_dimmed,
            "W",
            f"load if power follows the light{unknown}",
        ),
        Number(f"{name}.watts_per_m", found.watts_per_m, "W/m", f"for each lit metre{unknown}"),
        Number(f"{name}.watts_per_m2", found.watts / area, "W/m2", f"on the lit surface{unknown}"),
        Number(f"{name}.lumens", found.lumens, "lm", "flux of its runs at full output"),
        Number(f"{name}.lumens_given", found.lumens_given, "lm", "with dim and maintenance"),
        Number(f"{name}.lumens_per_m", found.lumens_per_m, "lm/m", "for each lit metre"),
        Number(f"{name}.lumens_per_watt", found.lumens_per_watt, "lm/W", f"efficacy{unknown}"),
    )
