"""All files of a sweep, by name: tables, sentences, charts, strip, film."""

import csv
import io
import json
import math
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.tone import WHITE
from rakelight.study.knobs import AGAINST
from rakelight.study.pooled import pooled_ev100
from rakelight.study.step import picture_of
from rakelight.tell.caption import Exposed, bounce_line, other_light_line
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.film import FRAME_PX, Setting, Shown, film_bytes, frame, picture_box
from rakelight.tell.shown import by_key, say, state_of
from rakelight.tell.sized import sized_codes
from rakelight.tell.still import png
from rakelight.tell.strip import SLICE_PX, WHOLE_PX, Cell, chosen, draw_strip, upright_slice
from rakelight.tell.sweep_charts import charts, maps
from rakelight.tell.sweep_sentences import (
    average_key,
    is_level,
    step_sentence,
    sweep_sentence,
    zones_of,
)
from rakelight.tell.sweep_store import StepStore
from rakelight.tell.sweep_story import Story, Told, places, plan_of, said_value
from rakelight.units import say_angle, say_length


def stem_of(sweep: Any) -> str:
    """What the sweep's files are named after: the scene and what is swept."""
    keys = "-by-".join(one.knob.key for one in sweep.ranges)
    return f"{sweep.scene_file.name}.sweep-{keys}"


def sweep_files(
    story: Story, store: StepStore, *, film: bool = True, stills: bool = False
) -> Iterator[tuple[str, bytes]]:
    """Make the files one after the other, so that no more than one is in memory.

    Everything is read back from the store: a sweep that was interrupted gives the same bytes as
    one that was not.

    Parameters
    ----------
    story : Story
        What became of the steps.
    store : StepStore
        Where they are kept.
    film : bool
        Whether to make the film.
    stills : bool
        Whether to write every step's still.
    """
    sweep, stem = story.sweep, stem_of(story.sweep)
    told = told_of(story, store)
    exposed = _exposed(story, told)
    lines = caption_lines(story, told, exposed)
    yield f"{stem}.csv", steps_csv(story, told)
    yield f"{stem}.json", steps_json(story, told, exposed, lines)
    yield f"{stem}.txt", ("\n".join([*sentences(story, told), "", *lines]) + "\n").encode()
    if len(sweep.ranges) == 2:
        yield from maps(story, told, stem)
        return
    curves = curves_csv(story, told)
    if curves:
        yield f"{stem}.curves.csv", curves
    yield from charts(story, told, stem)
    if sweep.camera is None or exposed is None:
        return
    yield f"{stem}.strip.png", _strip(story, told, store, exposed, lines)
    if stills:
        for item in told:
            picture = picture_of(store.picture(story.keys[item.wish.index]))
            codes = sized_codes(picture, exposed.ev100, picture.rgb_cd_m2.shape[1])
            yield f"{stem}.{item.wish.index + 1:03d}.png", png(codes)
    if film and len(told) > 1:
        yield f"{stem}.mp4", _film(story, told, store, exposed)


def told_of(story: Story, store: StepStore) -> list[Told]:
    """Finished steps, in order, without their pictures."""
    return [Told(wish, store.step(story.keys[wish.index])) for wish in story.there()]


def sentences(story: Story, told: Sequence[Told]) -> list[str]:
    """The whole sweep's sentence, one a step, and what could not be built."""
    sweep, units = story.sweep, story.units
    out = [sweep_sentence(sweep, told, units), ""] if len(sweep.ranges) == 1 else []
    out += [step_sentence(sweep, item, units) for item in told]
    return out + left_out(story)


def left_out(story: Story) -> list[str]:
    """Steps that could not be built, each with its reason."""
    return [
        f"Left out, {', '.join(wish.labels)}: {story.faults[wish.index]}"
        for wish in story.sweep.wishes
        if wish.index in story.faults
    ]


def caption_lines(story: Story, told: Sequence[Told], exposed: Exposed | None) -> list[str]:
    """What all steps have in common, and what was assumed."""
    sweep, units = story.sweep, story.units
    base = sweep.base
    lines = [f"{base.title}: {what_is_swept(story)}."]
    light = f"Illuminance in {units.illuminance}, {state_of(base.runs)}."
    if exposed is not None:
        how = "automatic" if exposed.automatic else "stated"
        light += f" Exposure EV100 {exposed.ev100:.1f}, {how}, shared by all steps."
    lines.append(light)
    lines.append(aim_line(story, told))
    if any(one.knob.key == "setback" for one in sweep.ranges):
        plans = [plan_of(sweep, told[k].step) for k in (0, -1)]
        gaps = [say_length(plan.clear_gap_m, units.length) for plan in plans]
        backs = [say_length(plan.backing_m, units.length) for plan in plans]
        lines.append(
            f"Setback counts from the mean plane; from first to last step the clear gap to the "
            f"highest point is {gaps[0]} to {gaps[1]}, from backing to centreline {backs[0]} to "
            f"{backs[1]}."
        )
    if sweep.turns_depth:
        kept = "setbacks stay, the mean plane is kept"
        if sweep.keeps == "backing":
            kept = "the backing is kept, so that the mean plane moves toward the light"
        lines.append(f"Relief depth from black to white; {kept}.")
    if any(one.knob.key == "distance-below" for one in sweep.ranges):
        lines.append(
            "The distance below the ceiling is from the ceiling down to the ledge or panel's "
            "upper side; the trade also calls it setback."
        )
    lines.append(other_light_line(base.room.surfaces, units))
    lines.append(bounce_line(base.quality.bounce))
    notes = [set(item.step.notes) for item in told]
    common = [n for n in told[0].step.notes if all(n in one for one in notes)] if told else []
    lines += [f"Note: {note}" for note in common]
    warned: dict[str, list[str]] = {}
    for item in told:
        for warning in item.step.warnings:
            warned.setdefault(f"{warning.place}: {warning.says}", []).append(item.label)
    lines += [
        f"Warning, {says}" + ("" if len(at) == len(told) else f" (at {_span(at)})")
        for says, at in warned.items()
    ]
    return [line for line in [*lines, *CAUTIONS] if line]


def _span(labels: Sequence[str]) -> str:
    return labels[0] if len(labels) == 1 else f"{labels[0]} to {labels[-1]}, {len(labels)} steps"


def what_is_swept(story: Story) -> str:
    """Words for the sweep: ``setback from against (1 1/2 in) to 12 in, run G1``."""
    sweep = story.sweep
    parts = []
    for number, one in enumerate(sweep.ranges):
        labels = list(dict.fromkeys(wish.labels[number] for wish in sweep.wishes))
        if one.knob.kind == "name":
            parts.append(f"{one.knob.noun} {', '.join(labels)}")
        else:
            parts.append(f"{one.knob.noun} from {labels[0]} to {labels[-1]}")
    tags = ", ".join(sweep.tags)
    return f"{' and '.join(parts)}, run{'s' if len(sweep.tags) > 1 else ''} {tags}"


def aim_line(story: Story, told: Sequence[Told]) -> str:
    """Whether the tilt is kept, swept or follows the base; with its figures."""
    sweep = story.sweep
    if any(one.knob.key == "tilt" for one in sweep.ranges):
        return "The tilt is what is swept; setbacks are kept."
    tilts = [say_angle(plan_of(sweep, item.step).tilt_rad) for item in told]
    if not tilts:
        return ""
    if sweep.re_aim:
        return f"Re-aimed at the wall's base at every step: tilt {tilts[0]} to {tilts[-1]}."
    if len(set(tilts)) == 1:
        return f"The tilt is kept at {tilts[0]}; nothing is re-aimed."
    return f"No tilt is stated: the housing faces as it is mounted, {tilts[0]} to {tilts[-1]}."


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


def _exposed(story: Story, told: Sequence[Told]) -> Exposed | None:
    readings = [item.step.reading for item in told if item.step.reading is not None]
    if not readings:
        return None
    stated = story.sweep.base.tables.picture.ev100
    if stated != "auto":
        return Exposed(float(stated), False, len(readings))
    return Exposed(pooled_ev100(readings, WHITE), True, len(readings))


def _headline(story: Story, item: Told) -> list[str]:
    """Few numbers under a still of the strip."""
    name, units = story.sweep.surface, story.units
    found = by_key(item.step.numbers)
    lines = [f"average {say(found[average_key(name, item.step)], units)}"]
    lines.append(f"max:min {say(found[f'{name}.max_to_min'], units)}")
    centre = item.step.value(f"{name}.drama_centre_m")
    half = item.step.value(f"{name}.throw.{story.sweep.tags[0]}.half_m")
    if math.isfinite(centre):
        lines.append(f"drama centre {say_length(round(centre, 2), units.length)} up")
    elif math.isfinite(half):
        lines.append(f"half left {say_length(round(half, 2), units.length)} out")
    return lines


def _strip(
    story: Story, told: Sequence[Told], store: StepStore, exposed: Exposed, lines: Sequence[str]
) -> bytes:
    shown = [told[k] for k in chosen(len(told))]

    def cell(item: Told) -> Cell:
        picture = picture_of(store.picture(story.keys[item.wish.index]))
        top, foot = item.step.rows_px
        rows, columns = picture.rgb_cd_m2.shape[:2]
        if _square_on(item):
            scale = min(1.0, SLICE_PX / (foot - top))
            codes = sized_codes(picture, exposed.ev100, round(columns * scale))
            factor = codes.shape[0] / rows
            codes = upright_slice(codes, top * factor, foot * factor)
        else:
            codes = sized_codes(picture, exposed.ev100, WHOLE_PX)
        return Cell(codes, item.label, _headline(story, item))

    with ThreadPoolExecutor(2) as pool:
        cells = list(pool.map(cell, shown))
    words = [sweep_sentence(story.sweep, told, story.units), *lines[: -len(CAUTIONS)]]
    if len(shown) < len(told):
        words.append(f"{len(shown)} of {len(told)} steps are shown.")
    title = story.sweep.base.title
    return draw_strip(cells, f"{title}: {what_is_swept(story)}", words, CAUTIONS)


def _square_on(item: Told) -> bool:
    return all(math.isfinite(v) for v in item.step.rows_px)


def _film(story: Story, told: Sequence[Told], store: StepStore, exposed: Exposed) -> bytes:
    one = story.sweep.ranges[0]
    at, _ = places(story, told)
    from_wall = one.knob.key == "setback" and not is_level(story.sweep.surface)
    low = 0.0 if from_wall else min(at)
    span = max(max(at) - low, 1e-9)
    drama = [_smooth_drama(item) for item in told]
    most = max((float(d.max()) for d in drama if d is not None), default=0.0)
    rows_px, size = told[0].step.rows_px, None
    picture = picture_of(store.picture(story.keys[told[0].wish.index]))
    size = picture.rgb_cd_m2.shape
    beside = _square_on(told[0]) and most > 0
    setting = Setting(
        noun=one.knob.noun,
        ticks=[
            ((x - low) / span, item.label if item.wish.values[0] != AGAINST else "")
            for x, item in zip(at, told, strict=True)
        ],
        note=f"{story.sweep.base.title}. {aim_line(story, told).split(';')[0].rstrip('.')}.",
        rows=(rows_px[0] / size[0], rows_px[1] / size[0]) if beside else None,
        from_wall=from_wall,
        curve_words="light and shade\non the texture,\nby height",
    )
    wide = picture_box(setting, size[1] / size[0])[2]

    def made(k: int) -> NDArray[np.uint8]:
        item = told[k]
        curves = item.step.curves
        curve, zones = None, []
        if beside:
            height = item.step.value(f"{story.sweep.surface}.height_m")
            smooth = drama[k]
            assert smooth is not None
            curve = (curves["height_m"] / height, smooth / most)
            zones = [(a / height, b / height) for a, b in zones_of(story.sweep.surface, item.step)]
        seen = picture_of(store.picture(story.keys[item.wish.index]))
        codes = sized_codes(seen, exposed.ev100, wide)
        shown = Shown(said_value(one.knob, item.label).removeprefix(f"{one.knob.noun} "),
                      (at[k] - low) / span, curve, zones)  # fmt: skip
        return frame(codes, shown, setting)

    with ThreadPoolExecutor(2) as pool:
        frames = list(pool.map(made, range(len(told))))
    assert frames[0].shape[:2] == FRAME_PX[::-1]
    return film_bytes(frames)


def _smooth_drama(item: Told) -> NDArray[np.float64] | None:
    """Texture modulation over the lit wall's mean, as the drama zone is read from it."""
    curves = item.step.curves
    if "smoothed_cd_m2" not in curves or not curves["mean_cd_m2"][0] > 0:
        return None
    out: NDArray[np.float64] = curves["smoothed_cd_m2"] / curves["mean_cd_m2"][0]
    return out


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
