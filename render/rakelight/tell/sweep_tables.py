"""Tables of a sweep: every measure of every step, curves, and all of it for machines."""

import csv
import io
import json
import math
from collections.abc import Sequence
from typing import Any

from rakelight.tell.caption import Exposed
from rakelight.tell.shown import by_key, state_of
from rakelight.tell.sweep_sentences import step_sentence, sweep_sentence
from rakelight.tell.sweep_story import Story, Told


def steps_csv(story: Story, told: Sequence[Told]) -> bytes:
    """Every measure of every step, one step a line, in SI with six digits."""
    ranges = story.sweep.ranges
    keys = list(dict.fromkeys(n.key for item in told for n in item.step.numbers))
    units = {n.key: n.unit for item in told for n in item.step.numbers}
    head = [one.knob.noun for one in ranges]
    head += [f"setback {tag} m" for tag in story.sweep.tags]
    head += [f"tilt {tag} deg" for tag in story.sweep.tags]
    head += [key if units[key] == "1" else f"{key} [{units[key]}]" for key in keys]
    rows = [head]
    for item in told:
        values = by_key(item.step.numbers)
        plans = [item.step.plans[index] for index in story.sweep.runs]
        row = list(item.wish.labels)
        row += [f"{plan.setback_m:.6g}" for plan in plans]
        row += [f"{math.degrees(plan.tilt_rad):.6g}" for plan in plans]
        row += [_six(values[key].value) if key in values else "" for key in keys]
        rows.append(row)
    return _csv(rows)


def curves_csv(story: Story, told: Sequence[Told]) -> bytes:
    """Light and texture by height, or light across a ceiling, of every step; SI, six digits."""
    rows: list[list[str]] = []
    for item in told:
        curves = {k: v for k, v in item.step.curves.items() if v.size > 1}
        if not rows and curves:
            rows.append([*(one.knob.noun for one in story.sweep.ranges), *curves])
        rows += [
            [*item.wish.labels, *(_six(float(v)) for v in values)]
            for values in zip(*curves.values(), strict=True)
        ]
    return _csv(rows) if rows else b""


def steps_json(
    story: Story, told: Sequence[Told], exposed: Exposed | None, lines: Sequence[str]
) -> bytes:
    """Every measure of every step in SI with every digit, one step a line."""
    return (json.dumps(document(story, told, exposed, lines), indent=1) + "\n").encode()


def document(
    story: Story, told: Sequence[Told], exposed: Exposed | None, lines: Sequence[str]
) -> dict[str, Any]:
    """The sweep for machines."""
    sweep = story.sweep
    said = {item.wish.index: step_sentence(sweep, item, story.units) for item in told}
    return {
        "scene": sweep.scene_file.name,
        "units": "SI; angles in rad where a key ends in _rad",
        "illuminance_is": state_of(sweep.base.runs),
        "swept": [
            {"key": one.knob.key, "noun": one.knob.noun, "asked": one.text} for one in sweep.ranges
        ],
        "runs": list(sweep.tags),
        "surface": sweep.surface,
        "re_aimed": sweep.re_aim,
        "keeps": sweep.keeps if sweep.turns_depth else None,
        "exposure": None
        if exposed is None
        else {"ev100": exposed.ev100, "automatic": exposed.automatic},
        "sentence": sweep_sentence(sweep, told, story.units) if len(sweep.ranges) == 1 else None,
        "steps": [
            {
                "values": [_plain(v) for v in item.wish.values],
                "labels": list(item.wish.labels),
                "sentence": said[item.wish.index],
                "runs": [
                    {
                        key: _plain(getattr(item.step.plans[index], key))
                        for key in ("tag", "file", "setback_m", "clear_gap_m", "backing_m",
                                    "drop_m", "tilt_rad", "beam_aim_rad", "gap_m", "dim")
                    }
                    for index in sweep.runs
                ],
                "numbers": {
                    n.key: {"value": _plain(n.value), "unit": n.unit} for n in item.step.numbers
                },
                "curves": {
                    key: [_plain(float(v)) for v in values]
                    for key, values in item.step.curves.items()
                },
            }
            for item in told
        ],
        "left_out": [
            {"labels": list(wish.labels), "why": story.faults[wish.index]}
            for wish in sweep.wishes
            if wish.index in story.faults
        ],
        "caption": list(lines),
    }  # fmt: skip


def _six(value: float) -> str:
    return f"{value:.6g}" if math.isfinite(value) else ""


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def _csv(rows: Sequence[Sequence[str]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()
