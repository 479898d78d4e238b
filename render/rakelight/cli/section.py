"""`section`: a dimensioned section square through a run, to scale."""

from typing import Literal

import click

KINDS: tuple[Literal["svg", "png", "pdf"], ...] = ("svg", "png", "pdf")


@click.command()
@click.argument("scene", type=click.Path())
@click.option("--run", "tags", multiple=True, metavar="TAG", help="Only this run; may be repeated.")
@click.option(
    "--at",
    "at",
    metavar="LENGTH",
    help="Where along the run, from its first lit end. Not stated: its middle.",
)
@click.option("--out", default=".", show_default=True, help="Folder to write to.")
@click.option(
    "--format",
    "formats",
    default="svg,png,pdf",
    show_default=True,
    help="What to write: svg, png, pdf, or several with commas between.",
)
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help='Lay a value over the scene, as run.1.setback="6 in"; may be given again.',
)
@click.option("--json", "as_json", is_flag=True, help="Print the numbers for machines, in SI.")
def section(
    scene: str,
    tags: tuple[str, ...],
    at: str | None,
    out: str,
    formats: str,
    overrides: tuple[str, ...],
    as_json: bool,
) -> None:
    """Draw a section square through each run of SCENE, with its figures.

    Run, housing, opening, fascia or lip, the relief's real heights, the candela curve at its
    tilt, main beam, cut-off and sight lines, dimensioned from finished wall and ceiling. Files
    are named after scene and run: NAME.TAG.section.svg and so on, and NAME.section.json.
    """
    import json

    from rakelight.cli.outputs import output_folder, write_all
    from rakelight.cli.scenes import load_scenes
    from rakelight.errors import InputError
    from rakelight.measure.section_numbers import run_section
    from rakelight.tell.section_parts import Drawing
    from rakelight.tell.section_sheet import section_document, section_sheet, sheet_bytes
    from rakelight.tell.section_words import facts
    from rakelight.units import parse_length

    kinds = [kind.strip().lower() for kind in formats.split(",") if kind.strip()]
    wrong = [kind for kind in kinds if kind not in KINDS]
    if wrong or not kinds:
        raise InputError(f"--format {formats}: must be of {', '.join(KINDS)}.")
    (built,) = load_scenes((scene,), overrides)
    if not built.runs:
        raise InputError(f"{built.name}: has no [[run]] to cut through. Add one.")
    known = [plan.tag for plan in built.runs]
    unknown = [tag for tag in tags if tag not in known]
    if unknown:
        raise InputError(
            *(f"--run {tag}: {built.name} has no such run; it has {', '.join(known)}."
              for tag in unknown)
        )  # fmt: skip
    from_start: float | None = None
    if at is not None:
        try:
            from_start = parse_length(at, built.length_unit)
        except ValueError as error:
            raise InputError(f"--at {at}: {error}.") from None
    lines = built.room.lines()
    sections = []
    for plan in built.runs:
        if tags and plan.tag not in tags:
            continue
        try:
            made = run_section(built.room, plan, lines[plan.line], from_start_m=from_start)
        except ValueError as error:
            raise InputError(f"--at {at}: {error}.") from None
        sections.append(made)
    folder = output_folder(out)
    files: dict[str, bytes] = {}
    for one in sections:
        sheet = section_sheet(built, one)
        for kind in KINDS:
            if kind in kinds:
                files[f"{built.name}.{one.plan.tag}.section.{kind}"] = sheet_bytes(sheet, kind)
    document = dict(section_document(built, sections))
    text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    files[f"{built.name}.section.json"] = text.encode()
    write_all(folder, files)
    if as_json:
        document["files"] = list(files)
        click.echo(json.dumps(document, indent=1, ensure_ascii=False))
        return
    for one in sections:
        click.echo(f"Run {one.plan.tag}")
        for _, name, value in facts(built, Drawing(one, built.room, built.length_unit)):
            if name:
                click.echo(f"  {name:<16}  {value}")
    click.echo("Written: " + ", ".join(files))
