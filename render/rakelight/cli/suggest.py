"""`suggest`: search a run's place, tilt and file for an outcome; say how exact it must be."""

import click


@click.command()
@click.argument("scene", type=click.Path())
@click.option(
    "--want",
    required=True,
    metavar="OUTCOME",
    help='As "drama at 1.5 m", "drama 0.8-1.8 m", "even wall, at least 200 lx", "focal glow at '
    '1.6 m, 3:1", "throw 3 m", "average 300 lx on main", "cut-off in the corner".',
)
@click.option("--setback", metavar="LEAST:LARGEST", help="Search the run's setback.")
@click.option("--below", metavar="LEAST:LARGEST", help="Search its cove's distance below ceiling.")
@click.option("--tilt", metavar="LEAST:LARGEST", help="Search its tilt, in degrees.")
@click.option("--files", metavar="A,B", help="Photometric files to choose from.")
@click.option("--run", "tag", help="Which run. Not given: the first.")
@click.option("--band", metavar="AMOUNT", help='Band of the tolerance, as "100 mm" or "10%".')
@click.option("--write", "target", metavar="FILE", help="Write the winning scene file.")
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over the scene first; may be given again.",
)
@click.option("--no-tolerance", is_flag=True, help="Only search.")
@click.option("--json", "as_json", is_flag=True, help="Print for machines.")
def suggest(
    scene: str,
    want: str,
    setback: str | None,
    below: str | None,
    tilt: str | None,
    files: str | None,
    tag: str | None,
    band: str | None,
    target: str | None,
    out: str,
    overrides: tuple[str, ...],
    no_tolerance: bool,
    as_json: bool,
) -> None:
    """Search SCENE for the setting that gives an outcome, and how far off site may be.

    Writes SCENE.suggest.json, and SCENE.suggest.png, a map of the tolerance.
    """
    from pathlib import Path

    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import located
    from rakelight.cli.suggest_bounds import bounds_of, parse_band, run_index
    from rakelight.errors import InputError
    from rakelight.read.toml import read_scene
    from rakelight.study.suggest import confirm
    from rakelight.study.suggest import suggest as search
    from rakelight.study.tolerance import band_for, tolerances
    from rakelight.study.trials import bench
    from rakelight.study.wishes import parse_wish
    from rakelight.tell.files import write_whole
    from rakelight.tell.shown import Units, state_of
    from rakelight.tell.suggest_map import tolerance_map
    from rakelight.tell.suggest_scene import winning_scene
    from rakelight.tell.suggest_words import suggestion_json, suggestion_lines

    scene_file = read_scene(located(scene), overrides)
    stated = scene_file.tables.units
    units = Units(stated.length, stated.illuminance)
    wish = parse_wish(want, units.length, units.illuminance)
    index = run_index(scene_file, tag)
    bounds = bounds_of(scene_file, index, setback, below, tilt, files)
    amount, by_share = parse_band(band, units.length)
    wanted = band_for(wish, amount, by_share=by_share)
    if target is not None and overrides:
        raise InputError("--write: put the values of --set into the scene file first.")
    folder = output_folder(out)
    on = bench(scene_file, index, wish.surface)
    with steps() as progress:
        result = search(on, wish, bounds, progress=progress)
        progress("the winner at the scene's own quality")
        sure = confirm(on, wish, result.best.candidate)
        held = []
        if not no_tolerance:
            for place, found in enumerate(result.ranked[:2]):
                first = place == 0
                held.append(
                    tolerances(
                        on, wish, found, wanted,
                        with_wall=first, with_map=first, progress=progress,
                    )
                )  # fmt: skip
        name = scene_file.name
        written = {f"{name}.suggest.json": suggestion_json(result, sure, held)}
        if held:
            written[f"{name}.suggest.png"] = tolerance_map(
                held[0], result.best, units,
                title=f"{scene_file.tables.title or name}: tolerance of {result.best.plan.tag}",
                wish=wish.text,
            )  # fmt: skip
        write_all(folder, written)
        if target is not None:
            text = winning_scene(scene_file, index, result, Path(target))
            write_whole(Path(target), text.encode())
    names = [*written, *([target] if target is not None else [])]
    if as_json:
        click.echo(written[f"{name}.suggest.json"].decode(), nl=False)
        return
    state = state_of([result.best.plan])
    lines = suggestion_lines(result, sure, held, units, dim=result.best.plan.dim, state=state)
    click.echo("\n".join([*lines, "Written: " + ", ".join(names)]))
