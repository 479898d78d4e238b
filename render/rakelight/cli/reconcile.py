"""`reconcile`: readings from site against predictions."""

import click


@click.command()
@click.argument("scene", type=click.Path())
@click.argument("measured", type=click.Path())
@click.option("--fit", default="", metavar="setback,tilt", help="What to fit beside the output.")
@click.option("--run", "tag", help="Which run. Not given: the first.")
@click.option("--head", help="Height of the meter's head. Not given: as the file says.")
@click.option("--meter", default="3%", show_default=True, help="Scatter of one reading.")
@click.option(
    "--set",
    "overrides",
    multiple=True,
    metavar="KEY=VALUE",
    help="Lay a value over the scene first; may be given again.",
)
@click.option("--json", "as_json", is_flag=True, help="Print for machines.")
def reconcile(
    scene: str,
    measured: str,
    fit: str,
    tag: str | None,
    head: str | None,
    meter: str,
    overrides: tuple[str, ...],
    as_json: bool,
) -> None:
    """Compare MEASURED.csv with what SCENE predicts: output, and setback and tilt if asked.

    MEASURED is what 'mockup' wrote, with readings filled in. Where readings cannot tell two
    causes apart it says so.
    """
    import math

    from rakelight.build.scene import build_read_scene
    from rakelight.cli.progress import steps
    from rakelight.cli.scenes import located
    from rakelight.cli.suggest_bounds import parse_fit, parse_head, parse_share, run_index
    from rakelight.errors import InputError
    from rakelight.measure.uncertainty import Site
    from rakelight.read.readings import read_readings
    from rakelight.read.toml import read_scene
    from rakelight.study.mockup import figures, meter_at, off_surface
    from rakelight.study.reconcile import reconcile as fit_readings
    from rakelight.tell.reconcile_words import reconcile_json, reconcile_lines
    from rakelight.tell.shown import Units

    asked = parse_fit(fit)
    site = Site(meter=parse_share("--meter", meter))
    readings = read_readings(measured)
    scene_file = read_scene(located(scene), overrides)
    stated = scene_file.tables.units
    units = Units(stated.length, stated.illuminance)
    index = run_index(scene_file, tag)
    head_m = 0.0 if math.isnan(readings.head_m) else readings.head_m
    if head is not None:
        head_m = parse_head(head, units.length)
    with steps() as progress:
        progress("building the room")
        built = build_read_scene(scene_file)
        outside = off_surface(built, index, readings.u_m, readings.v_m)
        if outside.any():
            names = ", ".join(n for n, off in zip(readings.names, outside, strict=True) if off)
            raise InputError(
                f"{measured}: points {names} do not lie on {built.runs[index].lights}. Lengths "
                "count from its left end and from its foot; look at the units in the header."
            )
        progress("fitting")
        where = meter_at(built, index, readings.u_m, readings.v_m, head_m)
        scatter = figures(where, head_m, site).scatter
        try:
            found = fit_readings(where, readings.measured_lx, scatter, asked)
        except InputError as error:
            raise InputError(*(f"{measured}: {fault}" for fault in error.faults)) from None
    if as_json:
        click.echo(reconcile_json(found, readings))
    else:
        click.echo("\n".join(reconcile_lines(found, readings, where, units, asked)))
