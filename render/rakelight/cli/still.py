"""`still`: pictures of scenes and the numbers behind them."""

import re

import click


def sized(size: str | None) -> tuple[str, ...]:
    """What ``--size`` lays over a scene.

    Raises
    ------
    InputError
        If it is not two whole numbers.
    """
    from rakelight.errors import InputError

    if size is None:
        return ()
    match = re.fullmatch(r"(\d+)\s*[x×]\s*(\d+)", size.strip())
    if match is None:
        raise InputError(f'--size "{size}": right is WIDTHxHEIGHT in pixels, as 3840x2160.')
    return (f"picture.width={match[1]}", f"picture.height={match[2]}")


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
@click.option(
    "--size",
    metavar="WxH",
    help="Pixels of every picture, as 3840x2160; with a finer mesh, "
    "as --set 'quality.mesh_step=1.5 mm', the stone is as sharp as the picture.",
)
@click.option("--values", is_flag=True, help="Also write the meter grid's values on the pictures.")
@click.option(
    "--value-at",
    "places",
    multiple=True,
    metavar="U,V",
    help='Also write the value there, as "1.2 m,900 mm" from the lit wall\'s left and foot.',
)
@click.option("--json", "as_json", is_flag=True, help="Print all numbers for machines.")
def still(
    scenes: tuple[str, ...],
    out: str,
    overrides: tuple[str, ...],
    cameras: tuple[str, ...],
    mesh: bool,
    exr: bool,
    size: str | None,
    values: bool,
    places: tuple[str, ...],
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
    from rakelight.tell.stations import grid_stations, stated_stations
    from rakelight.tell.still_files import still_files
    from rakelight.tell.summary import print_summary

    loaded = load_scenes(scenes, (*overrides, *sized(size)), cameras)
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
            stations = (
                *(grid_stations(one) if values else ()),
                *(stated_stations(one, places) if places else ()),
            )
            files = dict(still_files(one, exposed, colours, with_exr=exr, stations=stations))
            if mesh:
                from rakelight.tell.lit_mesh import lit_mesh

                files[f"{one.scene.name}.vtp"] = lit_mesh(one.scene.room, one.lit)
            write_all(folder, files)
            written += files
    print_summary(lit, written, as_json=as_json)
