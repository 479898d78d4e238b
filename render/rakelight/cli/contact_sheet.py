"""`contact-sheet`: reliefs side by side under one graze and one wash."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from rakelight.read.toml import SceneFile
    from rakelight.scene.texture import Texture

_TILE_PX = 480


@click.command("contact-sheet")
@click.argument("out", type=click.Path(path_type=Path), metavar="OUT.png")
@click.argument("reliefs", nargs=-1)
@click.option(
    "--scene",
    "scenes",
    multiple=True,
    default=("sample-graze", "sample-wash"),
    show_default=True,
    help="Scene of a wall that the reliefs are put on, one a column; may be given again.",
)
@click.option(
    "--tile",
    type=click.IntRange(120, 4000),
    default=_TILE_PX,
    show_default=True,
    help="Width of one wall in pixels.",
)
def contact_sheet(out: Path, reliefs: tuple[str, ...], scenes: tuple[str, ...], tile: int) -> None:
    """Put RELIEFS, all shipped ones if none is named, on one sheet: OUT.png or OUT.jpg.

    Every relief is put on the same wall, under the same lights, and shown at one exposure.
    """
    if out.suffix.lower() not in (".png", ".jpg", ".jpeg"):
        raise click.UsageError(f'"{out}": the name must end in .png or .jpg.')
    from rakelight.cli.outputs import output_folder
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import located
    from rakelight.read.shipped import shipped_folder
    from rakelight.read.toml import read_scene
    from rakelight.study.sample_walls import developed, sample_walls
    from rakelight.tell.contact_sheet import Tile, sheet_bytes
    from rakelight.tell.contact_sheet import contact_sheet as compose
    from rakelight.tell.files import write_whole

    names = reliefs or tuple(
        sorted(path.stem for path in shipped_folder("textures").glob("*.toml"))
    )
    files = [read_scene(located(scene)) for scene in scenes]
    output_folder(str(out.parent))
    with steps() as progress:
        walls = list(sample_walls(files, names, tile, progress))
    ev100, codes = developed(walls)
    tiles = [
        Tile(wall.texture.title, _says(wall.texture), shown)
        for wall, shown in zip(walls, codes, strict=True)
    ]
    room = files[0].tables.room
    lights = "; ".join(_light(file, index) for index, file in enumerate(files))
    notes = (
        f"Walls {room.width_m:g} x {room.height_m:g} m. From left to right: {lights}. All at one "
        f"exposure, EV100 {ev100:.1f}, white balanced to the light. Computed from photometric "
        "files and invented reliefs: a prediction, not a guarantee; verify with a mock-up.",
    )
    sheet = compose(tiles, "Reliefs, grazed and washed", notes)
    write_whole(out, sheet_bytes(sheet, out.suffix))
    click.echo(f"wrote {out}, {sheet.width} x {sheet.height} px")


def _light(file: "SceneFile", index: int) -> str:
    runs = ", ".join(
        f"{run.photometry}, {run.setback_m * 1000:.0f} mm off the wall"
        if isinstance(run.setback_m, float)
        else run.photometry
        for run in file.tables.run
    )
    return f"{file.tables.title or file.name} ({runs})"


def _says(texture: "Texture") -> str:
    span = float(texture.heights.max() - texture.heights.min()) * texture.depth_m * 1000
    said = f"{span:.1f} mm" if span < 10 else f"{span:.0f} mm"
    words = f"{said} from lowest to highest, reflectance {texture.reflectance:.2f}"
    if texture.suits_setback_m is not None:
        low, high = (1000 * v for v in texture.suits_setback_m)
        words += f", suits setbacks of {low:.0f} to {high:.0f} mm"
    return words
