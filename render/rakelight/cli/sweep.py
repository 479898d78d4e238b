"""`sweep`: one scene at several values of one thing or two, and what that does to the light."""

from collections.abc import Callable

import click


def _ranges(command: Callable[..., None]) -> Callable[..., None]:
    """One option for each knob, in their order."""
    words = {
        "setback": "Setback of the runs, as against:12in:1in; `against` is the least that clears.",
        "distance-below": "Distance below the ceiling of the cove or panel that the runs lie on.",
        "tilt": "Tilt of the housings, as --tilt=-10deg:10deg:2deg.",
        "drop": "Drop of the openings below the ceiling.",
        "dim": "Share of the light output, as 20%:100%:20%.",
        "gap": "Dark length between luminous openings.",
        "file": "Photometric files, with commas between.",
        "relief": "Reliefs of the lit wall, with commas between.",
        "relief-depth": "Depth of the lit wall's relief.",
    }
    for key, text in reversed(words.items()):
        kind = "A,B,..." if key in ("file", "relief") else "START:STOP:STEP"
        name = key.replace("-", "_")
        command = click.option(f"--{key}", f"knob_{name}", metavar=kind, help=text)(command)
    return command


@click.command()
@click.argument("scene", type=click.Path())
@_ranges
@click.option("--run", "tags", multiple=True, help="Only this run; may be given again.")
@click.option(
    "--keep",
    "keeps",
    type=click.Choice(["mean-plane", "backing"]),
    default="mean-plane",
    show_default=True,
    help="What stays in place while the relief's depth is swept.",
)
@click.option(
    "--re-aim", is_flag=True, help="Aim each step at the wall's base; else the tilt is kept."
)
@click.option("--camera", default="front", show_default=True, help="Where to look from.")
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over the scene, as quality.bounce=true; may be given again.",
)
@click.option("--no-pictures", is_flag=True, help="Numbers and charts alone: no strip, no film.")
@click.option("--no-film", is_flag=True, help="No film.")
@click.option(
    "--stills", is_flag=True, help="Also write each step's still, at the scene's own size."
)
@click.option("--drop-steps", is_flag=True, help="Throw finished steps away at the end.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers for machines.")
def sweep(
    scene: str,
    tags: tuple[str, ...],
    keeps: str,
    re_aim: bool,
    camera: str,
    out: str,
    overrides: tuple[str, ...],
    no_pictures: bool,
    no_film: bool,
    stills: bool,
    drop_steps: bool,
    as_json: bool,
    **knobs: str | None,
) -> None:
    """Light SCENE at each value of a range: strip, film, charts, tables, sentences.

    A range is START:STOP:STEP in metric or feet and inches, or a list with commas. Two ranges
    give tables and maps. Steps that are finished are kept beside the outputs: run the same
    command again and it goes on from there.
    """
    import shutil
    from importlib import import_module
    from threading import Thread

    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import located
    from rakelight.errors import InputError
    from rakelight.read.toml import read_scene
    from rakelight.study.knobs import KNOBS
    from rakelight.study.ranges import parse_range
    from rakelight.study.sweep import ANY_PX, plan_sweep, sweep_steps
    from rakelight.tell.film import WIDEST_PX
    from rakelight.tell.sweep_files import stem_of, sweep_files
    from rakelight.tell.sweep_store import StepStore, program
    from rakelight.tell.sweep_story import Story
    from rakelight.tell.sweep_summary import print_story

    scene_file = read_scene(located(scene), overrides)
    unit = scene_file.tables.units.length
    asked = [
        (one, text)
        for one in KNOBS
        if (text := knobs[f"knob_{one.key.replace('-', '_')}"]) is not None
    ]
    if not asked:
        known = ", ".join(f"--{one.key}" for one in KNOBS)
        raise InputError(f"sweep: say what to sweep; there are {known}.")
    if len(asked) > 2:
        raise InputError("sweep: one range or two; more cannot be shown on paper.")
    ranges = [parse_range(one, text, unit) for one, text in asked]
    planned = plan_sweep(
        scene_file,
        ranges,
        tags=tags,
        camera=None if no_pictures or len(ranges) > 1 else camera,
        keeps="backing" if keeps == "backing" else "mean plane",
        re_aim=re_aim,
        most_px=ANY_PX if stills else WIDEST_PX,
    )
    folder = output_folder(out)
    # the charts' library takes a second to load, which the first step's kernels leave free
    Thread(target=import_module, args=("rakelight.tell.charts",), daemon=True).start()
    store = StepStore(folder / f"{scene_file.name}.steps", program())
    stale = store.prune()
    story = Story(planned)
    try:
        with steps() as progress:
            for outcome in sweep_steps(planned, store.has, program(), progress):
                if outcome.files is not None:
                    store.keep(outcome.key, outcome.files)
                story.add(outcome)
            progress("outputs")
            if not story.keys:
                first = story.faults[min(story.faults)]
                raise InputError(f"sweep: no step can be built. The first: {first}")
            files = []
            for name, data in sweep_files(story, store, film=not no_film, stills=stills):
                write_all(folder, {name: data})
                files.append(name)
    except KeyboardInterrupt:
        click.echo(
            f"{stem_of(planned)}: {len(story.keys)} of {len(planned.wishes)} steps are finished "
            "and kept; run the same command again and it goes on from there.",
            err=True,
        )
        raise
    if stale:
        click.echo(f"Steps removed that another version of this program made: {stale}.", err=True)
    print_story(story, store, files, as_json=as_json)
    if drop_steps:
        shutil.rmtree(store.folder, ignore_errors=True)
