"""`check`: validate a scene, show how it was understood, and warn; draw nothing."""

import click


@click.command()
@click.argument("scene", type=click.Path())
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help='Lay a value over the scene, as run.1.setback="6 in"; may be given again.',
)
@click.option("--json", "as_json", is_flag=True, help="Print for machines, in SI units.")
def check(scene: str, overrides: tuple[str, ...], as_json: bool) -> None:
    """Validate SCENE and print it as understood, with every default and warning.

    Nothing is computed or drawn. Faults are listed all at once, and the exit code is then 2.
    """
    from rakelight.build.scene import build_scene  # late, so that --help stays quick
    from rakelight.study.noted import with_shading_notes
    from rakelight.tell.resolved import resolved_record, resolved_text

    built = with_shading_notes(build_scene(scene, overrides))
    if as_json:
        import json

        click.echo(json.dumps(resolved_record(built), indent=2, ensure_ascii=False))
    else:
        click.echo(resolved_text(built), nl=False)
