"""`rakelight photometry`: what is in a photometric file, its curves, and clean copies of it."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from rakelight.cli.photometry_aim import Place, aim_json, write_aim

if TYPE_CHECKING:
    from rakelight.build.aim import Aim
    from rakelight.scene.intensity import Intensity
    from rakelight.units import LengthUnit


@click.command()
@click.argument(
    "files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE..."
)
@click.option("--json", "as_json", is_flag=True, help="Print for machines, every digit.")
@click.option(
    "--draw",
    type=click.Path(path_type=Path),
    metavar="OUT.png|.svg",
    help="Draw the candela curves across and along the run, all files on one drawing.",
)
@click.option(
    "-o",
    "--out",
    "new",
    type=click.Path(path_type=Path),
    metavar="NEW.ies|.ldt",
    help="Write a clean LM-63-2019 (.ies) or EULUMDAT (.ldt) copy of the one FILE.",
)
@click.option(
    "--length", metavar="LENGTH", help='With -o: make the luminaire this long, "600 mm" or "2 ft".'
)
@click.option(
    "--lumens",
    type=float,
    metavar="LM",
    help="With -o: scale to this light output (after --length).",
)
@click.option(
    "--setback",
    metavar="LENGTH",
    help='Place the one FILE this far from a wall, "6 in", and say where it aims; with --draw, '
    "draw that section.",
)
@click.option("--height", metavar="LENGTH", help='With --setback: floor to ceiling, "9 ft".')
@click.option("--drop", metavar="LENGTH", help="With --setback: ceiling down to the opening. [0]")
@click.option("--tilt", metavar="ANGLE", help="With --setback: tilt toward the wall. [0]")
@click.option(
    "--turn", metavar="ANGLE", help="With --setback: turn in plan. [so that it leans to the wall]"
)
def photometry(
    files: tuple[Path, ...],
    as_json: bool,
    draw: Path | None,
    new: Path | None,
    length: str | None,
    lumens: float | None,
    setback: str | None,
    height: str | None,
    drop: str | None,
    tilt: str | None,
    turn: str | None,
) -> None:
    """Say what each photometric FILE holds: light, peak, throw, and what was assumed.

    LM-63 and EULUMDAT files are told apart by their content.
    """
    from rakelight.errors import InputError
    from rakelight.read.photometry import read_photometry

    _check_options(files, draw, new, length, lumens)
    place = Place.of(files, setback, height, drop, tilt, turn)
    faults: list[str] = []
    intensities = []
    for file in files:
        try:
            intensities.append(read_photometry(file))
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(*faults)

    if length is not None or lumens is not None:
        intensities = [_scaled(intensities[0], length, lumens)]
    said = []
    if new is not None:
        said.extend(_write_copy(intensities[0], new))
    found = None if place is None else place.aim(intensities[0])
    if draw is not None and found is not None and place is not None:
        said.append(write_aim(found, intensities[0].name, place.unit, draw))
    elif draw is not None:
        said.append(_write_drawing(intensities, draw))
    placed = None if found is None or place is None else (found, place.unit)
    _print(intensities, said, placed, as_json=as_json)


def _check_options(
    files: tuple[Path, ...],
    draw: Path | None,
    new: Path | None,
    length: str | None,
    lumens: float | None,
) -> None:
    if draw is not None and draw.suffix.lower() not in (".png", ".svg"):
        raise click.UsageError(f'--draw "{draw}": the name must end in .png or .svg.')
    if new is None and (length is not None or lumens is not None):
        raise click.UsageError("--length and --lumens change the copy that -o writes: give -o too.")
    if new is not None and len(files) != 1:
        raise click.UsageError(f"-o copies one FILE; {len(files)} were given.")
    if new is not None and new.suffix.lower() not in (".ies", ".ldt"):
        raise click.UsageError(f'-o "{new}": the name must end in .ies or .ldt.')
    written = [path.resolve() for path in (draw, new) if path is not None]
    if any(file.resolve() in written for file in files):
        raise click.UsageError("an output would overwrite its own input: choose another name.")


def _scaled(intensity: "Intensity", length: str | None, lumens: float | None) -> "Intensity":
    from rakelight.errors import InputError
    from rakelight.measure.photometry import scaled
    from rakelight.units import parse_length

    try:
        length_m = None if length is None else parse_length(length)
        return scaled(intensity, length_m=length_m, lumens=lumens)
    except ValueError as error:
        raise InputError(f"{intensity.name}: cannot be scaled: {error}") from None


def _write_copy(intensity: "Intensity", new: Path) -> list[str]:
    from rakelight.tell.eulumdat import eulumdat_bytes, not_kept_in_eulumdat
    from rakelight.tell.files import write_whole
    from rakelight.tell.lm63 import lm63_bytes

    said = [f"wrote {new}"]
    if new.suffix.lower() == ".ldt":
        write_whole(new, eulumdat_bytes(intensity))
        said.extend(
            f"not kept, EULUMDAT has no place: {lost}" for lost in not_kept_in_eulumdat(intensity)
        )
    else:
        write_whole(new, lm63_bytes(intensity))
    return said


def _write_drawing(intensities: "list[Intensity]", draw: Path) -> str:
    from rakelight.tell.candela_chart import chart_bytes, draw_candela_curves
    from rakelight.tell.files import write_whole

    figure = draw_candela_curves(intensities)
    write_whole(draw, chart_bytes(figure, "svg" if draw.suffix.lower() == ".svg" else "png"))
    return f"drew {draw}"


def _print(
    intensities: "list[Intensity]",
    said: list[str],
    placed: "tuple[Aim, LengthUnit] | None",
    *,
    as_json: bool,
) -> None:
    import json

    from rakelight.tell.photometry import photometry_json, photometry_lines

    if as_json:
        listed = [photometry_json(intensity) for intensity in intensities]
        if placed is not None:
            listed[0]["aim"] = aim_json(placed[0])
        click.echo(json.dumps({"files": listed}, indent=2, ensure_ascii=False, allow_nan=False))
        for line in said:
            click.echo(line, err=True)
        return
    for k, intensity in enumerate(intensities):
        if k:
            click.echo()
        click.echo(intensity.name)
        for label, words in photometry_lines(intensity):
            click.echo(f"  {label:<11}{words}")
    if placed is not None:
        from rakelight.tell.aim import aim_lines

        click.echo()
        for label, words in aim_lines(*placed):
            click.echo(f"  {label:<13}{words}")
    for line in said:
        click.echo(line)
