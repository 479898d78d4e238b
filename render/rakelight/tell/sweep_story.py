"""A sweep as it went: which steps are there, which could not be built, in the reader's units."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from rakelight.scene.run_plan import RunPlan
from rakelight.study.knobs import AGAINST, Knob, Value
from rakelight.study.step import Step
from rakelight.study.sweep import Outcome, Sweep, Wish
from rakelight.tell.shown import Units

_PER = {"m": 1.0, "mm": 0.001, "ft": 0.3048, "in": 0.0254}


@dataclass(slots=True)
class Story:
    """What became of every step, as outcomes come in.

    Parameters
    ----------
    sweep : Sweep
        What was asked for.
    keys : dict of int to str
        Key of each step that is there, by its place in the sweep.
    faults : dict of int to str
        Why a step is not there.
    reused : int
        How many steps were finished before.
    """

    sweep: Sweep
    keys: dict[int, str] = field(default_factory=dict)
    faults: dict[int, str] = field(default_factory=dict)
    reused: int = 0

    def add(self, outcome: Outcome) -> None:
        """Take an outcome in."""
        if outcome.fault:
            self.faults[outcome.wish.index] = outcome.fault
            return
        self.keys[outcome.wish.index] = outcome.key
        self.reused += outcome.files is None

    @property
    def units(self) -> Units:
        """Units in which the scene's reader thinks."""
        return Units(self.sweep.base.length_unit, self.sweep.base.illuminance_unit)

    def there(self) -> list[Wish]:
        """Steps that are there, in order."""
        return [wish for wish in self.sweep.wishes if wish.index in self.keys]


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """One finished step with its wish.

    Parameters
    ----------
    wish : Wish
        What was asked for.
    step : Step
        What came out.
    """

    wish: Wish
    step: Step

    @property
    def label(self) -> str:
        """Its values in words."""
        return ", ".join(self.wish.labels)


def plan_of(sweep: Sweep, step: Step) -> RunPlan:
    """The first turned run as it stands in a step."""
    return step.plans[sweep.runs[0]]


def said_value(knob: Knob, label: str) -> str:
    """A value with its noun: ``setback 6 in``, ``150 mm below the ceiling``."""
    if knob.key == "distance-below":
        return f"{label} below the ceiling"
    if knob.key == "dim":
        return f"dimmed to {label}"
    if knob.kind == "name":
        return label
    return f"{knob.noun} {label}"


def places(story: Story, told: Sequence[Told], which: int = 0) -> tuple[list[float], str]:
    """Where steps lie on an axis of one range, and that axis' words.

    Returns
    -------
    places : list of float
        In the unit of the axis; names lie at 0, 1, 2 and so on.
    words : str
        Noun and unit.
    """
    one = story.sweep.ranges[which]
    values = [item.wish.values[which] for item in told]
    if one.knob.kind == "name":
        order = list(dict.fromkeys(wish.values[which] for wish in story.sweep.wishes))
        return [float(order.index(value)) for value in values], one.knob.noun
    at = [
        plan_of(story.sweep, item.step).setback_m if value == AGAINST else _number(value)
        for value, item in zip(values, told, strict=True)
    ]
    if one.knob.kind == "length":
        return [value / _PER[one.unit] for value in at], f"{one.knob.noun}, {one.unit}"
    if one.knob.kind == "angle":
        return [math.degrees(value) for value in at], f"{one.knob.noun}, degrees"
    return [100 * value for value in at], f"{one.knob.noun}, % of the light output"


def _number(value: Value) -> float:
    return float("nan") if isinstance(value, str) else value
