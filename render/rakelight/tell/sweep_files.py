"""All files of a sweep, by name: tables, sentences, charts, strip, film."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

from rakelight.picture.tone import WHITE
from rakelight.study.pooled import pooled_ev100
from rakelight.study.step import picture_of
from rakelight.study.sweep import Sweep
from rakelight.tell.caption import Exposed
from rakelight.tell.sized import sized_codes
from rakelight.tell.still import png
from rakelight.tell.sweep_caption import caption_lines, sentences
from rakelight.tell.sweep_charts import charts, maps
from rakelight.tell.sweep_pictures import film_mp4, strip_png
from rakelight.tell.sweep_store import StepStore
from rakelight.tell.sweep_story import Story, Told
from rakelight.tell.sweep_tables import curves_csv, steps_csv, steps_json


def stem_of(sweep: Sweep) -> str:
    """What the sweep's files are named after: the scene and what is swept."""
    keys = "-by-".join(one.knob.key for one in sweep.ranges)
    return f"{sweep.scene_file.name}.sweep-{keys}"


def sweep_files(
    story: Story, store: StepStore, *, film: bool = True, stills: bool = False
) -> Iterator[tuple[str, bytes]]:
    """Make the files one after the other; the film, which takes longest, beside all others.

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
    if not film or len(told) < 2 or len(sweep.ranges) == 2 or exposed is None:
        yield from _still_files(story, store, told, exposed, lines, stills=stills)
        return
    with ThreadPoolExecutor(1) as pool:
        made = pool.submit(film_mp4, story, told, store, exposed)
        yield from _still_files(story, store, told, exposed, lines, stills=stills)
        yield f"{stem}.mp4", made.result()


def _still_files(
    story: Story,
    store: StepStore,
    told: Sequence[Told],
    exposed: Exposed | None,
    lines: Sequence[str],
    *,
    stills: bool,
) -> Iterator[tuple[str, bytes]]:
    """All but the film."""
    sweep, stem = story.sweep, stem_of(story.sweep)
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
    yield f"{stem}.strip.png", strip_png(story, told, store, exposed, lines)
    if stills:
        for item in told:
            picture = picture_of(store.picture(story.keys[item.wish.index]))
            codes = sized_codes(picture, exposed.ev100, picture.rgb_cd_m2.shape[1])
            yield f"{stem}.{item.wish.index + 1:03d}.png", png(codes)


def told_of(story: Story, store: StepStore) -> list[Told]:
    """Finished steps, in order, without their pictures."""
    return [Told(wish, store.step(story.keys[wish.index])) for wish in story.there()]


def _exposed(story: Story, told: Sequence[Told]) -> Exposed | None:
    readings = [item.step.reading for item in told if item.step.reading is not None]
    if not readings:
        return None
    stated = story.sweep.base.tables.picture.ev100
    if stated != "auto":
        return Exposed(float(stated), False, len(readings))
    return Exposed(pooled_ev100(readings, WHITE), True, len(readings))
