"""`mockup`: a sheet of points to measure on site, and a CSV for the readings."""

import click


@click.command()
@click.argument("scene", type=click.Path())
@click.option("--run", "tag", help="Which run. Not given: the first.")
@click.option("--points", default=12, show_default=True, help="How many points.")
@click.option("--head", default="0 mm", show_default=True, help="Height of the meter's head.")
@click.option("--meter", default="3%", show_default=True, help="Scatter of one reading.")
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over the scene first; may be given again.",
)
def mockup(
    scene: str,
    tag: str | None,
    points: int,
    head: str,
    meter: str,
    out: str,
    overrides: tuple[str, ...],
) -> None:
    """Say where to hold a meter under SCENE's run, and what it should read.

    Writes SCENE.mockup.pdf, one page to take along, and SCENE.mockup.csv for the readings, which
    'reconcile' compares with the predictions.
    """
    from rakelight.build.scene import build_read_scene
    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import located
    from rakelight.cli.suggest_bounds import parse_head, parse_share, run_index
    from rakelight.measure.uncertainty import Site
    from rakelight.read.toml import read_scene
    from rakelight.study.mockup import sheet
    from rakelight.tell.cautions import CAUTIONS
    from rakelight.tell.mockup_sheet import mockup_csv, mockup_pdf, run_words, warned
    from rakelight.tell.shown import Units

    scene_file = read_scene(located(scene), overrides)
    stated = scene_file.tables.units
    units = Units(stated.length, stated.illuminance)
    index = run_index(scene_file, tag)
    head_m = parse_head(head, units.length)
    site = Site(meter=parse_share("--meter", meter))
    folder = output_folder(out)
    with steps() as progress:
        progress("building the room")
        built = build_read_scene(scene_file)
        found = sheet(
            built, index, units.length, count=points, head_m=head_m, site=site, progress=progress
        )
        name = scene_file.name
        files = {
            f"{name}.mockup.pdf": mockup_pdf(found, units, built.title),
            f"{name}.mockup.csv": mockup_csv(found, units),
        }
        write_all(folder, files)
    lines = [run_words(found, units), *(f"Warning: {line}" for line in warned(found)), *CAUTIONS]
    click.echo("\n".join([*lines, "Written: " + ", ".join(files)]))
