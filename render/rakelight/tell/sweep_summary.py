"""What a sweep prints when it is done: sentences, a table, what was reused, the files."""

import json
import math
from collections.abc import Sequence

from rakelight.tell.shown import by_key, say
from rakelight.tell.sweep_caption import caption_lines, sentences
from rakelight.tell.sweep_files import told_of
from rakelight.tell.sweep_sentences import average_key, ratio_key
from rakelight.tell.sweep_store import StepStore
from rakelight.tell.sweep_story import Story, Told
from rakelight.tell.sweep_tables import document


def print_story(
    story: Story, store: StepStore, files: Sequence[str], *, as_json: bool = False
) -> None:
    """Print what the sweep shows, or every number for machines.

    Parameters
    ----------
    story : Story
        What became of the steps.
    store : StepStore
        Where they are kept.
    files : sequence of str
        What was written.
    as_json : bool
        Numbers instead of words.
    """
    told = told_of(story, store)
    if as_json:
        found = document(story, told, None, caption_lines(story, told, None))
        found.pop("exposure")
        print(json.dumps({**found, "reused": story.reused, "files": list(files)}, indent=1))
        return
    print(story.sweep.base.title)
    for line in sentences(story, told):
        print(f"  {line}" if line else "")
    for line in _table(story, told):
        print(f"  {line}")
    if story.reused:
        print(f"{story.reused} of {len(told)} steps were finished before and were not lit again.")
    megabytes = store.bytes_kept() / 1e6
    print(f"Finished steps are kept in {store.folder.name} ({megabytes:.0f} MB).")
    print("Written: " + ", ".join(files))


def _table(story: Story, told: Sequence[Told]) -> list[str]:
    """One line a step: the numbers that people argue about."""
    if not told:
        return []
    name, tag = story.sweep.surface, story.sweep.tags[0]
    keys = {
        "average": average_key(name, told[0].step),
        "max:min": ratio_key(story.sweep, told[0].step),
        "foot": f"{name}.foot_lx",
        "drama centre": f"{name}.drama_centre_m",
        "half left": f"run.{tag}.ceiling.half_m",
        "half at first": f"run.{tag}.ceiling.half_first_m",
    }
    keys = {
        words: key
        for words, key in keys.items()
        if any(math.isfinite(item.step.value(key)) for item in told)
        and not (words == "foot" and name.split()[0] in ("ceiling", "floor"))
    }
    rows = [["", *keys]]
    for item in told:
        found = by_key(item.step.numbers)
        row = [item.label]
        row += [say(found[key], story.units) if key in found else "" for key in keys.values()]
        rows.append(row)
    wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return [
        "  ".join(cell.rjust(w) if k else cell.ljust(w) for k, (cell, w) in
                  enumerate(zip(row, wide, strict=True)))
        for row in rows
    ]  # fmt: skip
