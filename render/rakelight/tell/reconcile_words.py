"""What readings say, in words and as JSON."""

import json
import math
from typing import Any

from rakelight.read.readings import Readings
from rakelight.study.mockup import Meter
from rakelight.study.reconcile import Fitted, Reconciled
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.shown import Units
from rakelight.tell.suggest_words import table_text
from rakelight.units import say_illuminance, say_length


def reconcile_lines(
    found: Reconciled, readings: Readings, meter: Meter, units: Units, asked: tuple[str, ...]
) -> list[str]:
    """All that is printed.

    Parameters
    ----------
    found : Reconciled
        The fit.
    readings : Readings
        What was read.
    meter : Meter
        Where.
    units : Units
        The reader's.
    asked : tuple of str
        What was to be fitted beside the output.
    """
    lines = [f"Run {meter.plan.tag}, {meter.plan.file}: {len(readings.names)} readings."]
    if readings.unread:
        lines.append(f"Not read, left out: {', '.join(readings.unread)}.")
    if found.separable:
        lines += [fitted_line(one, meter, units) for one in found.fitted]
    else:
        lines += not_separable_lines(found, units, meter, asked)
    lines += ["", *table_text(_rows(found, readings, units)), "", scatter_line(found)]
    return [*lines, "", *CAUTIONS]


def fitted_line(one: Fitted, meter: Meter, units: Units) -> str:
    """One fitted value with its 95 % interval, and what it says."""
    if one.what == "factor":
        text = f"Output: {one.value:.3f} of the predicted (95 %: {one.low:.3f} to {one.high:.3f})"
        return f"{text}{_says(one, 1.0)}."
    if one.what == "setback":
        at = say_length(meter.plan.setback_m + one.value, units.length)
        text = (
            f"Setback: {_signed(one.value, units)} (95 %: {_signed(one.low, units)} to "
            f"{_signed(one.high, units)}), so {at}"
        )
        return f"{text}{_says(one, 0.0)}."
    value, low, high = (math.degrees(v) for v in (one.value, one.low, one.high))
    stands = math.degrees(meter.plan.tilt_rad) + value
    text = f"Tilt: {value:+.1f} deg (95 %: {low:+.1f} to {high:+.1f} deg), so {stands:.1f} deg"
    return f"{text}{_says(one, 0.0)}."


def _says(one: Fitted, drawn: float) -> str:
    if one.low <= drawn <= one.high:
        return "; as drawn, as far as the readings can tell"
    return ""


def not_separable_lines(
    found: Reconciled, units: Units, meter: Meter, asked: tuple[str, ...]
) -> list[str]:
    """Say that the causes cannot be told apart, which, and what still can be said."""
    together = " and ".join(found.confused) or " and ".join(("output", *asked))
    advice = (
        "Measure one of them and fit the other, or read more points where the light changes fastest"
    )
    return [
        f"Not separable: these readings cannot tell {together} apart. {advice}.",
        f"With setback and tilt as drawn, {_lower(fitted_line(found.factor_alone, meter, units))}",
    ]


def scatter_line(found: Reconciled) -> str:
    """Whether what is left is scatter."""
    if found.dof <= 0:
        return "Too few readings to say whether they scatter as expected."
    root = math.sqrt(found.chi2 / found.dof)
    if found.explained:
        return f"What is left is scatter as expected ({root:.1f} of it)."
    return (
        f"What is left is {root:.1f} times the expected scatter: something else is going on "
        "(another optic, another surface, light that is not in the scene). Intervals are widened."
    )


def _rows(found: Reconciled, readings: Readings, units: Units) -> list[list[str]]:
    rows = [["point", "up", "predicted", "read", "over fit", "in sd", "verdict"]]
    for k, name in enumerate(readings.names):
        rows.append(
            [
                name,
                say_length(float(readings.v_m[k]), units.length),
                say_illuminance(float(found.predicted_lx[k]), units.illuminance),
                say_illuminance(float(readings.measured_lx[k]), units.illuminance),
                f"{100 * found.residual[k]:+.0f} %",
                f"{found.off[k]:+.1f}",
                found.verdicts[k],
            ]
        )
    return rows


def reconcile_json(found: Reconciled, readings: Readings) -> str:
    """Everything in SI with every digit."""
    document: dict[str, Any] = {
        "separable": found.separable,
        "confused": list(found.confused),
        "fitted": [_fitted(one) for one in found.fitted],
        "factor_as_drawn": _fitted(found.factor_alone),
        "chi2": found.chi2,
        "degrees_of_freedom": found.dof,
        "scatter_as_expected": found.explained,
        "points": [
            {
                "point": name,
                "predicted_lx": float(found.predicted_lx[k]),
                "measured_lx": float(readings.measured_lx[k]),
                "over_fit": float(found.residual[k]),
                "in_sd": float(found.off[k]),
                "verdict": found.verdicts[k],
            }
            for k, name in enumerate(readings.names)
        ],
        "not_read": list(readings.unread),
        "cautions": list(CAUTIONS),
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)


def _fitted(one: Fitted) -> dict[str, Any]:
    unit = {"factor": "1", "setback": "m", "tilt": "rad"}[one.what]
    return {
        "what": one.what, "unit": unit, "value": one.value, "sd": one.sd,
        "low95": one.low, "high95": one.high,
    }  # fmt: skip


def _signed(value_m: float, units: Units) -> str:
    sign = "+" if value_m >= 0 else "-"
    return f"{sign}{say_length(abs(value_m), units.length)}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
