"""`still`: pictures of scenes and the numbers behind them."""

import click


@click.command()
@click.argument("scenes", nargs=-1, required=True, type=click.Path())
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help='Lay a value over each scene, as run.1.setback="6 in"; may be given again.',
)
@click.option("--camera", "cameras", multiple=True, help="Only this camera; may be given again.")
@click.option("--mesh", is_flag=True, help="Also write the lit mesh (VTK XML, .vtp).")
@click.option("--exr", is_flag=True, help="Also write scene-linear pictures in cd/m2 (OpenEXR).")
@click.option("--json", "as_json", is_flag=True, help="Print all numbers for machines.")
def still(
    scenes: tuple[str, ...],
    out: str,
    overrides: tuple[str, ...],
    cameras: tuple[str, ...],
    mesh: bool,
    exr: bool,
    as_json: bool,
) -> None:
    """Compute each of SCENES: stills, false colour, meter grid, run table, all numbers.

    Files are named after the scene. Several scenes share one exposure and one false-colour
    scale, so that their pictures can be laid side by side.
    """
    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import load_scenes
    from rakelight.study.stills import exposure, light_scene, scale
    from rakelight.tell.caption import Exposed
    from rakelight.tell.still_files import still_files
    from rakelight.tell.summary import print_summary

    loaded = load_scenes(scenes, overrides, cameras)
    folder = output_folder(out)
    with steps() as progress:
        lit = [light_scene(scene, cameras, progress) for scene in loaded]
        ev100, automatic = exposure(lit)
        shared = sum(len(one.shots) for one in lit)
        exposed = Exposed(ev100, automatic, shared)
        colours = scale(lit)
        written: list[str] = []
        for one in lit:
            progress(f"{one.scene.name}: writing")
            files = dict(still_files(one, exposed, colours, with_exr=exr))
            if mesh:
                from rakelight.tell.lit_mesh import lit_mesh

                files[f"{one.scene.name}.vtp"] = lit_mesh(one.scene.room, one.lit)
            write_all(folder, files)
            written += files
    print_summary(lit, written, as_json=as_json)
