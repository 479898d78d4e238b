"""`rakelight relief`: what a relief is like, in numbers and on one sheet."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click

from rakelight.cli.relief_texture import make_texture, options, said_number, taken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rakelight.scene.number import Number
    from rakelight.units import LengthUnit


@click.command()
@click.argument("file", metavar="FILE")
@click.option("--width", metavar="LENGTH", help='Real width that the image shows, "3.6 m".')
@click.option("--height", metavar="LENGTH", help="Real height that the image shows.")
@click.option("--depth", metavar="LENGTH", help="From the image's black to its white.")
@click.option(
    "--step", metavar="LENGTH", help="Step of the mesh, or of a scan's map. [2.5 mm; scan 1 mm]"
)
@click.option(
    "--units",
    type=click.Choice(["mm", "m", "in", "ft"]),
    default="mm",
    show_default=True,
    help="Unit of bare numbers and of what is printed.",
)
@click.option(
    "--draw",
    type=click.Path(path_type=Path),
    metavar="OUT.png",
    help="Draw it in raking light, with a section.",
)
@options
@click.option("--json", "as_json", is_flag=True, help="Print for machines, every digit.")
def relief(
    file: str,
    width: str | None,
    height: str | None,
    depth: str | None,
    step: str | None,
    units: str,
    draw: Path | None,
    as_json: bool,
    **making: Any,
) -> None:
    """Measure a relief: a height image, its TOML file, or the name of a shipped one.

    One repeat is measured, on a mesh as walls have it: slopes depend on its step. A scan (OBJ,
    PLY, STL, glTF) is first levelled, cropped and written as a texture to -o.
    """
    from rakelight.build.wall import relief_on_wall
    from rakelight.errors import InputError
    from rakelight.measure.relief import measure_relief
    from rakelight.read.memory import available_memory_bytes
    from rakelight.read.relief import read_texture

    unit = cast("LengthUnit", units)
    if draw is not None and draw.suffix.lower() != ".png":
        raise click.UsageError(f'--draw "{draw}": the name must end in .png.')
    sizes_m = (
        _length("--width", width, unit),
        _length("--height", height, unit),
        _length("--depth", depth, unit, least=0.0),
    )
    step_m = _length("--step", step, unit)
    written = make_texture(
        file,
        taken(making),
        step_m,
        lambda option, text: _length(option, text, unit, least=0.0) or 0.0,
        sizes_m,
    )
    if written is not None:
        from_file = Path(file).name
        file, step_m, sizes_m = str(written.toml), None, (None, None, None)
    texture = read_texture(file, width_m=sizes_m[0], height_m=sizes_m[1], depth_m=sizes_m[2])
    step_m = step_m or 0.0025
    try:
        made, _ = relief_on_wall(
            texture,
            texture.width_m,
            texture.height_m,
            step_m,
            memory_bytes=available_memory_bytes(),
        )
    except ValueError as error:
        raise InputError(f"{file}: {error}.") from None
    numbers = measure_relief(made)
    if draw is not None:
        from rakelight.tell.files import write_whole
        from rakelight.tell.relief_drawing import draw_relief

        write_whole(draw, draw_relief(made))
    if as_json:
        more, notes = (written.numbers, written.notes) if written else ((), ())
        _print_json(texture.title, (*more, *numbers), (*notes, *texture.notes))
        return
    if written is not None:
        click.echo(f"From {from_file}")
        for number in written.numbers:
            click.echo(f"  {said_number(number):>12}  {number.says}")
        for note in written.notes:
            click.echo(f"Note: {note}")
        for path in written.written:
            click.echo(f"wrote {path}")
    from rakelight.units import say_length

    size = f"{say_length(texture.width_m, 'm')} x {say_length(texture.height_m, 'm')}"
    click.echo(f"{texture.title}, {size}")
    click.echo(f"  {'mean reflectance':<36} {texture.reflectance:.2f}")
    for number in numbers:
        click.echo(f"  {number.says:<36} {_said(number, unit)}")
    for note in texture.notes:
        click.echo(f"Note: {note}")
    if draw is not None:
        click.echo(f"wrote {draw}")


def _length(
    option: str, text: str | None, unit: "LengthUnit", least: float | None = None
) -> float | None:
    if text is None:
        return None
    from rakelight.units import parse_length

    try:
        value = float(text)
    except ValueError:
        stated: str | float = text
    else:
        stated = value
    try:
        length_m = parse_length(stated, unit)
    except ValueError as error:
        raise click.UsageError(f"{option}: {error}.") from None
    if length_m < least if least is not None else length_m <= 0:
        raise click.UsageError(f'{option} "{text}": must be above 0.')
    return length_m


def _said(number: "Number", unit: "LengthUnit") -> str:
    import math

    from rakelight.units import say_length

    if number.unit == "rad":
        return f"{math.degrees(number.value):.1f} deg"
    if number.unit == "1":
        return f"{number.value:.1%}"
    if unit == "mm" and abs(number.value) < 0.01:
        return f"{number.value * 1000:.2f} mm"  # plaster is measured in tenths
    return say_length(number.value, unit)


def _print_json(title: str, numbers: "Sequence[Number]", notes: "Sequence[str]") -> None:
    import json

    rows = {n.key: {"value": n.value, "unit": n.unit, "says": n.says} for n in numbers}
    click.echo(json.dumps({"title": title, "numbers": rows, "notes": list(notes)}, indent=2))
