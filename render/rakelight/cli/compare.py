"""`compare`: scenes side by side from one camera at one exposure."""

import click


@click.command()
@click.argument("scenes", nargs=-1, required=True, type=click.Path())
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over each scene, as picture.width=1280; may be given again.",
)
@click.option("--camera", default="seat", show_default=True, help="The one camera of all.")
@click.option(
    "--equal-lumens",
    is_flag=True,
    help="Dim all to the flux of the one that gives least, so that technique alone differs.",
)
@click.option("--heading", default="", help="Words over the plate.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers for machines.")
def compare(
    scenes: tuple[str, ...],
    out: str,
    overrides: tuple[str, ...],
    camera: str,
    equal_lumens: bool,
    heading: str,
    as_json: bool,
) -> None:
    """Put SCENES side by side on one plate: same camera, same exposure, numbers under each."""
    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import load_scenes
    from rakelight.errors import InputError
    from rakelight.study.equal_lumens import at_equal_lumens
    from rakelight.study.stills import exposure, light_scene
    from rakelight.tell.caption import Exposed
    from rakelight.tell.compare_files import compare_files
    from rakelight.tell.summary import print_summary

    if len(scenes) < 2:
        raise InputError("compare: give two scenes or more.")
    loaded = load_scenes(scenes, overrides, (camera,))
    if equal_lumens:
        loaded = at_equal_lumens(loaded)
    folder = output_folder(out)
    with steps() as progress:
        lit = [light_scene(scene, (camera,), progress) for scene in loaded]
        ev100, automatic = exposure(lit)
        progress("plate")
        exposed = Exposed(ev100, automatic, len(lit))
        files = compare_files(lit, exposed, heading=heading, equal_lumens=equal_lumens)
        write_all(folder, files)
    print_summary(lit, list(files), as_json=as_json)
