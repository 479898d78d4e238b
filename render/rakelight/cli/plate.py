"""`plate`: one page of a scene to hang up or to hand over."""

import click

PAPERS = ("a4", "a3", "letter", "tabloid")


@click.command()
@click.argument("scenes", nargs=-1, required=True, type=click.Path())
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over each scene, as picture.width=2560; may be given again.",
)
@click.option("--camera", help="Of the still. Not stated: seat, or the scene's first.")
@click.option("--map-camera", help="Of the false colour. Not stated: front, or the still's.")
@click.option("--paper", default="a4", show_default=True, type=click.Choice(PAPERS), help="Size.")
@click.option("--portrait", is_flag=True, help="Upright; otherwise lying.")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers for machines.")
def plate(
    scenes: tuple[str, ...],
    out: str,
    overrides: tuple[str, ...],
    camera: str | None,
    map_camera: str | None,
    paper: str,
    portrait: bool,
    as_json: bool,
) -> None:
    """Set each of SCENES on one page: still, false colour, light and drama, section, figures.

    Written as PDF (text stays text) and PNG (the still pixel for pixel), with a JSON of every
    number on it. Several scenes share one exposure and one false-colour scale.
    """
    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import load_scenes
    from rakelight.errors import InputError
    from rakelight.study.stills import exposure, light_scene, scale
    from rakelight.tell.caption import Exposed
    from rakelight.tell.plate_files import plate_files
    from rakelight.tell.summary import print_summary

    asked = tuple(name for name in (camera, map_camera) if name)
    loaded = load_scenes(scenes, overrides, asked)
    folder = output_folder(out)
    written: list[str] = []
    with steps() as progress:
        lit = []
        for scene in loaded:
            known = [one.name for one in scene.cameras]
            shown = camera or ("seat" if "seat" in known else known[0])
            mapped = map_camera or ("front" if "front" in known else shown)
            cameras = tuple(dict.fromkeys((shown, mapped)))
            lit.append(light_scene(scene, cameras, progress))
        ev100, automatic = exposure(lit)
        exposed = Exposed(ev100, automatic, sum(len(one.shots) for one in lit))
        colours = scale(lit)
        for one in lit:
            progress(f"{one.scene.name}: page")
            try:
                files = plate_files(one, exposed, colours, paper=paper, portrait=portrait)
            except ValueError as error:
                raise InputError(f"--paper {paper}: {error}.") from None
            write_all(folder, files)
            written += files
    print_summary(lit, written, as_json=as_json)
