"""The lines under a sweep: what is swept, what is kept, under which assumptions."""

from collections import Counter
from collections.abc import Sequence

from rakelight.tell.caption import Exposed, bounce_line, other_light_line
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.shown import state_of
from rakelight.tell.sweep_sentences import step_sentence, sweep_sentence
from rakelight.tell.sweep_story import Story, Told, plan_of
from rakelight.units import say_angle, say_length


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
    lines += warning_lines(told)
    return [line for line in [*lines, *CAUTIONS] if line]


def warning_lines(told: Sequence[Told]) -> list[str]:
    """One line for each kind of warning about one thing, and at which steps it holds."""
    found: dict[tuple[str, str, int], list[tuple[str, str]]] = {}
    for item in told:
        seen: Counter[tuple[str, str]] = Counter()
        for one in item.step.warnings:
            seen[one.place, one.key] += 1  # a second of one kind is another line
            kind = (one.place, one.key, seen[one.place, one.key])
            found.setdefault(kind, []).append((item.label, one.says))
    out = []
    for (place, _, _), cases in found.items():
        first, says = cases[0]
        labels = list(dict.fromkeys(label for label, _ in cases))
        alike = len({text for _, text in cases}) == 1
        if alike and len(labels) == len(told):
            where = ""
        elif alike or len(labels) == 1:
            where = f" (at {_span(labels)})"
        else:
            others = len(labels) - 1
            steps = "step" if others == 1 else "steps"
            where = f" (at {first}; with other figures at {others} other {steps})"
        out.append(f"Warning, {place}: {says}{where}")
    return out


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
