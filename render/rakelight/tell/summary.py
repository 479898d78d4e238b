"""What a command prints when it is done: the sentences, the main numbers, the files."""

import json
import math
from collections.abc import Sequence

from rakelight.study.stills import LitScene
from rakelight.tell.paintings import painting_lines
from rakelight.tell.sentences import Still as Said
from rakelight.tell.sentences import brightness_sentence, compare_sentence, is_level, sentence
from rakelight.tell.shown import by_key, say
from rakelight.tell.still_files import plan_for, units_of, warnings_of

#: Numbers that a still is summed up by, with the words for them; where a scene has them.
HEADLINE: tuple[tuple[str, str], ...] = (
    ("flat.average_lx", "average on the wall's plane"),
    ("average_lx", "average on the relief's own surface"),
    ("grid.average_lx", "average of the meter grid"),
    ("bounced_share", "share of its light that came by bounce"),
    ("max_to_min", "max:min"),
    ("bright_band_at_m", "brightest band, height"),
    ("texture_over_mean", "texture modulation over the mean (drama)"),
    ("drama_centre_m", "drama centre, height"),
    ("shadow_share", "share in shadow"),
    ("seen_cd_m2", "mean luminance toward the camera in the room"),
    ("lumens", "installed lumens"),
    ("lumens_given", "lumens as dimmed"),
    ("watts_dimmed", "watts as dimmed"),
)

#: The same for a ceiling or a floor, which has no height to speak of.
HEADLINE_LEVEL: tuple[tuple[str, str], ...] = (
    ("average_lx", "average"),
    ("grid.average_lx", "average of the meter grid"),
    ("bounced_share", "share of its light that came by bounce"),
    ("seen_cd_m2", "mean luminance toward the camera in the room"),
    ("lumens", "installed lumens"),
    ("lumens_given", "lumens as dimmed"),
    ("watts_dimmed", "watts as dimmed"),
)
#: What a run's section adds for the ceiling that it lights.
HEADLINE_ACROSS: tuple[tuple[str, str], ...] = (
    ("ceiling.peak_from_wall_m", "brightest part, from the wall"),
    ("ceiling.half_m", "throw: half is left, from the run"),
    ("ceiling.half_first_m", "half is left at first, before it rises again"),
    ("ceiling.second_m", "its second maximum, from the run"),
    ("ceiling.second_over_peak", "that over the first"),
    ("ceiling.tenth_m", "a tenth is left, from the run"),
    ("ceiling.far_lx", "light at the far wall"),
    ("ceiling.max_to_min", "max:min across"),
    ("cove_back.ratio", "back of the cove over the brightest ceiling"),
)
#: And of the room.
HEADLINE_ROOM: tuple[tuple[str, str], ...] = (
    ("work_plane.average_lx", "average on the work plane"),
    ("work_plane.direct.average_lx", "average on the work plane, direct light alone"),
)


def headline(still: LitScene) -> tuple[tuple[str, str], ...]:
    """Rows of (words, value) for the first lit surface, in the reader's units."""
    surface = still.lit_surfaces[0]
    found = by_key(still.numbers)
    units = units_of(still.scene)
    relief = f"{surface}.flat.average_lx" in found
    wanted = [
        (f"{surface}.{key}", "average by area" if key == "average_lx" and not relief else words)
        for key, words in HEADLINE
    ]
    if is_level(surface):
        wanted = [(f"{surface}.{key}", words) for key, words in HEADLINE_LEVEL]
        plan = plan_for(still.scene, surface)
        if plan is not None:
            wanted += [(f"run.{plan.tag}.{key}", words) for key, words in HEADLINE_ACROSS]
        wanted += list(HEADLINE_ROOM)
    on_pictures = [
        (f"painting {one.tag}.{key}", f"{words} on “{one.tag}”")
        for one in still.scene.paintings
        for key, words in (("average_lx", "average"), ("max_lx", "greatest"))
    ]
    wanted = on_pictures + wanted
    return tuple(
        (words, say(found[key], units))
        for key, words in wanted
        if key in found and math.isfinite(found[key].value)
    )


def sentences(stills: Sequence[LitScene]) -> list[str]:
    """One sentence for each still, then what changes from the first to the others."""
    out = []
    for still in stills:
        surface = still.lit_surfaces[0]
        plan = plan_for(still.scene, surface)
        out.append(sentence(still.numbers, plan, units_of(still.scene), surface))
    return out


def changes(stills: Sequence[LitScene]) -> list[str]:
    """What changes from the first still to each other one, and which looks brighter."""
    first, *others = stills
    out = []
    for other in others:
        surface = first.lit_surfaces[0]
        if surface not in other.lit_surfaces:
            continue
        one, two = (
            Said(still.scene.title, still.numbers, plan_for(still.scene, surface))
            for still in (first, other)
        )
        out.append(compare_sentence(one, two, units_of(first.scene), surface))
        out.append(brightness_sentence(one, two, surface))
    return [line for line in out if line]


def summary_text(stills: Sequence[LitScene], files: Sequence[str]) -> str:
    """Text for the terminal."""
    lines = []
    for still, said in zip(stills, sentences(stills), strict=True):
        lines += [still.scene.title, f"  {said}"]
        rows = headline(still)
        wide = max(len(words) for words, _ in rows)
        lines += [f"  {words:<{wide}}  {value}" for words, value in rows]
        hung = painting_lines(still.scene.paintings, still.numbers, units_of(still.scene))
        lines += [f"  {line}" for line in hung]
        lines += [f"  Warning, {w.place}: {w.says}" for w in warnings_of(still)]
    if len(stills) > 1:
        lines += changes(stills)
    lines += ["Written: " + ", ".join(files)]
    return "\n".join(lines)


def print_summary(stills: Sequence[LitScene], files: Sequence[str], *, as_json: bool) -> None:
    """Print the summary, or every number for machines."""
    if not as_json:
        print(summary_text(stills, files))
        return
    document = {
        "scenes": [
            {
                "name": still.scene.name,
                "sentence": said,
                "numbers": {
                    n.key: {"value": n.value if n.value == n.value else None, "unit": n.unit}
                    for n in still.numbers
                },
            }
            for still, said in zip(stills, sentences(stills), strict=True)
        ],
        "files": list(files),
    }
    print(json.dumps(document, indent=1, ensure_ascii=False))
