"""Which charts a sweep gets, from its finished steps."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.figure import Figure

from rakelight.measure.ceiling_profile import ENDS_M
from rakelight.tell.charts import (
    Axis,
    bytes_of,
    drama_map,
    profiles,
    value_map,
    values_chart,
)
from rakelight.tell.shown import Units, state_of
from rakelight.tell.sweep_sentences import average_key, is_level, ratio_key, zones_of
from rakelight.tell.sweep_story import Story, Told, places
from rakelight.tell.throw_words import SAME_M
from rakelight.units import LX_PER_FC, say_illuminance, say_length, say_ratio

_FT_M = 0.3048


def charts(story: Story, told: Sequence[Told], stem: str) -> Iterator[tuple[str, bytes]]:
    """Charts of a sweep over one range, PNG and SVG, by file name."""
    if not told:
        return
    at, words = places(story, told)
    named = story.sweep.ranges[0].knob.kind == "name"
    axis = Axis(at, words, [item.label for item in told], named)
    made: dict[str, Figure] = {}
    if is_level(story.sweep.surface):
        if any("distance_m" in item.step.curves for item in told):
            made["profile"] = _across(story, told, axis)
        made["values"] = _level_values(story, told, axis)
    else:
        if all("over_mean" in item.step.curves for item in told) and not named:
            made["drama"] = _drama(story, told, axis)
        made["profile"] = _by_height(story, told, axis)
        made["values"] = _wall_values(story, told, axis)
    for name, figure in made.items():
        yield f"{stem}.{name}.png", bytes_of(figure, "png")
        yield f"{stem}.{name}.svg", bytes_of(figure, "svg")


def maps(story: Story, told: Sequence[Told], stem: str) -> Iterator[tuple[str, bytes]]:
    """Maps of a sweep over two ranges: average, max:min, and where the drama or throw is."""
    name, units = story.sweep.surface, story.units
    firsts, seconds = (
        list(dict.fromkeys(wish.labels[k] for wish in story.sweep.wishes)) for k in (0, 1)
    )
    across, up = (
        Axis(range(len(labels)), one.knob.noun, labels)
        for labels, one in zip((firsts, seconds), story.sweep.ranges, strict=True)
    )
    wanted = [("average", average_key(name, told[0].step), f"Average, {units.illuminance}")]
    wanted.append(("max-min", ratio_key(story.sweep, told[0].step), "Max:min"))
    throw = f"run.{story.sweep.tags[0]}.ceiling.half_m"
    if any(math.isfinite(item.step.value(f"{name}.drama_centre_m")) for item in told):
        words = f"Drama centre, height in {_long(units)}"
        wanted.append(("drama-centre", f"{name}.drama_centre_m", words))
    elif any(math.isfinite(item.step.value(throw)) for item in told):
        wanted.append(("throw", throw, f"Where half of the peak is left, {_long(units)} out"))
    of = f"{story.sweep.base.title}: {name}, {state_of(story.sweep.base.runs)}"
    for file, key, title in wanted:
        more = f"{of}, {_band(story, told[0])}" if file == "max-min" else of
        values = np.full((len(seconds), len(firsts)), np.nan)
        said = [[""] * len(firsts) for _ in seconds]
        for item in told:
            row, column = seconds.index(item.wish.labels[1]), firsts.index(item.wish.labels[0])
            values[row, column] = item.step.value(key)
            said[row][column] = _cell(key, values[row, column], units)
            if key == throw:
                said[row][column] = _half_cell(item, throw, units)
        for kind in ("png", "svg"):
            figure = value_map(
                across, up, values, title, said, more=more, by_factors=file == "max-min"
            )
            yield f"{stem}.{file}.{kind}", bytes_of(figure, kind)


def _band(story: Story, item: Told) -> str:
    """Where max:min is looked for."""
    name, unit = story.sweep.surface, story.units.length
    if is_level(name):
        return f"less {say_length(ENDS_M, unit)} at both walls"
    low, high = (item.step.value(f"{name}.max_to_min_{end}_m") for end in ("low", "high"))
    return f"from {say_length(low, unit)} to {say_length(high, unit)} up"


def _cell(key: str, value: float, units: Units) -> str:
    if key.endswith("_lx"):
        return say_illuminance(value, units.illuminance).split()[0]
    if key.endswith("max_to_min"):
        # a tenth tells nothing in hundreds
        return f"{value:.0f}:1" if 100 <= value < math.inf else say_ratio(value)
    per = _FT_M if _feet(units) else 1.0
    return f"{value / per:.2f}"


def _half_cell(item: Told, key: str, units: Units) -> str:
    """Where half is left; or that it is nowhere, or no more than a narrow line's edge."""
    half, first = item.step.value(key), item.step.value(key.replace("half_m", "half_first_m"))
    if not math.isfinite(half):
        return "nowhere"
    at_line = math.isfinite(first) and half - first < SAME_M
    return _cell(key, half, units) + ("\nnarrow line" if at_line else "")


def _feet(units: Units) -> bool:
    return units.length in ("ft", "in")


def _long(units: Units) -> str:
    """Unit of heights and distances in a room: charts have no room for millimetres."""
    return "ft" if _feet(units) else "m"


def _per_lx(units: Units) -> float:
    return LX_PER_FC if units.illuminance == "fc" else 1.0


def _drama(story: Story, told: Sequence[Told], axis: Axis) -> Figure:
    per = _FT_M if _feet(story.units) else 1.0
    name = story.sweep.surface
    return drama_map(
        axis,
        told[0].step.curves["height_m"] / per,
        np.stack([item.step.curves["over_mean"] for item in told], axis=1),
        [[(a / per, b / per) for a, b in zones_of(name, item.step)] for item in told],
        [item.step.value(f"{name}.drama_centre_m") / per for item in told],
        unit=_long(story.units),
        wall=told[0].step.value(f"{name}.height_m") / per,
    )


def _by_height(story: Story, told: Sequence[Told], axis: Axis) -> Figure:
    per = _FT_M if _feet(story.units) else 1.0
    light = _per_lx(story.units)
    return profiles(
        axis,
        [
            (item.step.curves["height_m"] / per, item.step.curves["flat_lx"] / light)
            for item in told
        ],
        along=f"height on the wall, {_long(story.units)}",
        light=f"on the wall's plane, {story.units.illuminance}",
        title="Light by height",
        upright=True,
    )


def _across(story: Story, told: Sequence[Told], axis: Axis) -> Figure:
    per = _FT_M if _feet(story.units) else 1.0
    light = _per_lx(story.units)
    kind = story.sweep.surface.split()[0]
    return profiles(
        axis,
        [
            (item.step.curves["distance_m"] / per, item.step.curves["across_lx"] / light)
            for item in told
            if "distance_m" in item.step.curves
        ],
        along=f"distance from the wall beside run {story.sweep.tags[0]}, {_long(story.units)}",
        light=f"on the {kind}, {story.units.illuminance}",
        title=f"Light across the {kind}",
        upright=False,
    )


def _wall_values(story: Story, told: Sequence[Told], axis: Axis) -> Figure:
    name, light = story.sweep.surface, _per_lx(story.units)
    per = _FT_M if _feet(story.units) else 1.0
    lx = story.units.illuminance
    panels = [
        (
            f"light on the wall's plane, {lx}",
            [
                ("average", _values(told, average_key(name, told[0].step), light)),
                ("at the foot", _values(told, f"{name}.foot_lx", light)),
            ],
        ),
        ("max:min", [("", _values(told, f"{name}.max_to_min"))]),
    ]
    if math.isfinite(told[0].step.value(f"{name}.texture_over_mean")):
        panels += [
            (
                "strongest light and shade on the texture, % of the wall's mean luminance",
                [("", _values(told, f"{name}.texture_over_mean", 0.01))],
            ),
            (
                f"drama centre, height in {_long(story.units)}",
                [("", _values(told, f"{name}.drama_centre_m", per))],
            ),
        ]
    return values_chart(axis, panels)


def _level_values(story: Story, told: Sequence[Told], axis: Axis) -> Figure:
    name, light = story.sweep.surface, _per_lx(story.units)
    per = _FT_M if _feet(story.units) else 1.0
    tag = story.sweep.tags[0]
    lx = story.units.illuminance
    panels = [
        (
            f"light on the {name.split()[0]}, {lx}",
            [
                ("average", _values(told, f"{name}.average_lx", light)),
                ("at most", _values(told, f"{name}.max_lx", light)),
            ],
        ),
        (
            f"max:min across it, less {say_length(ENDS_M, story.units.length)} at both walls",
            [("", _values(told, ratio_key(story.sweep, told[0].step)))],
        ),
        (
            f"throw of {tag}, {_long(story.units)}",
            [
                ("half left", _values(told, f"run.{tag}.ceiling.half_m", per)),
                ("a tenth left", _values(told, f"run.{tag}.ceiling.tenth_m", per)),
            ],
        ),
    ]
    first = _values(told, f"run.{tag}.ceiling.half_first_m", per)
    if any(math.isfinite(v) for v in first):  # a narrow line by the cove, then a broad band
        panels[-1][1].append(("half at first", first))
    back = _values(told, f"run.{tag}.cove_back.ratio")
    if any(math.isfinite(v) for v in back):
        panels.append(
            (
                "back of the cove over the ceiling's brightest part",
                [("", back)],
            )
        )
    return values_chart(axis, panels)


def _values(told: Sequence[Told], key: str, per: float = 1.0) -> list[float]:
    return [item.step.value(key) / per for item in told]
