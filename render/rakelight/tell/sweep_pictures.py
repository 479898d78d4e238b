"""Strip, film and stills of a sweep, from the pictures that its steps left."""

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from rakelight.study.knobs import AGAINST
from rakelight.study.step import picture_of
from rakelight.tell.caption import Exposed
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.film import FRAME_PX, Setting, Shown, film_bytes, frame, picture_box
from rakelight.tell.shown import by_key, say
from rakelight.tell.sized import sized_codes
from rakelight.tell.strip import (
    ALL_WIDE,
    MOST,
    MOST_WIDE,
    SLICE_PX,
    WHOLE_PX,
    Cell,
    chosen,
    draw_strip,
    upright_slice,
)
from rakelight.tell.sweep_caption import aim_line, what_is_swept
from rakelight.tell.sweep_sentences import (
    average_key,
    is_level,
    ratio_key,
    sweep_sentence,
    zones_of,
)
from rakelight.tell.sweep_store import StepStore
from rakelight.tell.sweep_story import Story, Told, places
from rakelight.units import say_length


def _headline(story: Story, item: Told) -> list[str]:
    """Few numbers under a still of the strip."""
    name, units = story.sweep.surface, story.units
    found = by_key(item.step.numbers)
    lines = [f"average {say(found[average_key(name, item.step)], units)}"]
    lines.append(f"max:min {say(found[ratio_key(story.sweep, item.step)], units)}")
    centre = item.step.value(f"{name}.drama_centre_m")
    half = item.step.value(f"run.{story.sweep.tags[0]}.ceiling.half_m")
    if math.isfinite(centre):
        lines.append(f"drama centre {say_length(round(centre, 2), units.length)} up")
    elif math.isfinite(half):
        lines.append(f"half left {say_length(round(half, 2), units.length)} out")
    return lines


def strip_png(
    story: Story, told: Sequence[Told], store: StepStore, exposed: Exposed, lines: Sequence[str]
) -> bytes:
    """Stills side by side, eight at most."""
    wide = ALL_WIDE if len(told) <= ALL_WIDE else MOST_WIDE
    most = MOST if _square_on(told[0]) else wide
    shown = [told[k] for k in chosen(len(told), most)]

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


def film_mp4(story: Story, told: Sequence[Told], store: StepStore, exposed: Exposed) -> bytes:
    """Every step, there and back."""
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
        curve_words=(
            "light and shade on the\ntexture, by height",
            "the drama: half of its\nstrongest, or more",
        ),
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
        shown = Shown(item.label, (at[k] - low) / span, curve, zones)
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
