"""Numbers of runs in their room: sections, cut-off lines, ceilings, coves, ends, the work plane."""

from collections.abc import Callable, Sequence

from rakelight.measure.ceiling_profile import (
    CeilingProfile,
    bounced_numbers,
    ceiling_numbers,
    ceiling_profile,
)
from rakelight.measure.cove_back import cove_back_numbers
from rakelight.measure.cutoff_light import cut_off_light_numbers
from rakelight.measure.ends import ends_numbers
from rakelight.measure.getting_out import getting_out_numbers
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import RunSection, run_section, section_numbers
from rakelight.measure.work_plane import HEIGHT_M, work_plane_numbers
from rakelight.scene.lit import Lit
from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room

RunMetric = Callable[[RunSection, RoomLight, CeilingProfile | None], tuple[Number, ...]]

#: What is measured of each run's light; to add one, write its module and put its function here.
RUN_METRICS: tuple[RunMetric, ...] = (
    lambda section, light, profile: section_numbers(section),
    lambda section, light, profile: getting_out_numbers(section),
    lambda section, light, profile: cut_off_light_numbers(section, light),
    ceiling_numbers,
    cove_back_numbers,
    ends_numbers,
)


def measure_runs(
    room: Room, plans: Sequence[RunPlan], lit: Lit | RoomLight, *, work_plane_m: float = HEIGHT_M
) -> tuple[Number, ...]:
    """All numbers of a room's runs, then of its work plane and of bounced light.

    Parameters
    ----------
    room : Room
        The room.
    plans : sequence of RunPlan
        Its runs.
    lit : Lit or RoomLight
        Its light, or what was gathered of it.
    work_plane_m : float
        Height of the work plane. [m]

    Returns
    -------
    tuple of Number
        Keys begin with ``run.TAG``, ``work_plane``, or a surface's name for the bounced shares.
    """
    light = lit if isinstance(lit, RoomLight) else RoomLight(room, lit)
    lines = room.lines()
    out: list[Number] = []
    for plan in plans:
        section = run_section(room, plan, lines[plan.line])
        profile = ceiling_profile(section, light)
        for metric in RUN_METRICS:
            out += metric(section, light, profile)
    out += bounced_numbers(light)
    if plans:
        out += work_plane_numbers(light, work_plane_m)
    return tuple(out)
