"""The lines under a picture: what it shows, in which units, under which assumptions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat
from rakelight.scene.surfaces import Surface
from rakelight.tell.cautions import CAUTIONS, NOT_MODELLED
from rakelight.tell.sentences import LARGEST_RATIO
from rakelight.tell.shown import Units, by_key, say, say_percent, state_of
from rakelight.units import say_angle, say_illuminance, say_length, say_ratio


@dataclass(frozen=True, slots=True)
class Exposed:
    """How a picture was exposed.

    Parameters
    ----------
    ev100 : float
        Exposure value at ISO 100.
    automatic : bool
        True if it came from the pictures themselves.
    shared_by : int
        Number of pictures with this one exposure.
    """

    ev100: float
    automatic: bool
    shared_by: int = 1


def caption(
    title: str,
    numbers: Sequence[Number],
    plans: Sequence[RunPlan],
    units: Units,
    *,
    surfaces: Sequence[Surface] = (),
    exposed: Exposed | None = None,
    camera: str = "",
    warnings: Sequence[Caveat] = (),
    notes: Sequence[str] = (),
    main: str = "main",
) -> tuple[str, ...]:
    """All caption lines of a still, in order.

    Parameters
    ----------
    title : str
        The scene's.
    numbers : sequence of Number
        From `measure_surface`, of one or more surfaces.
    plans : sequence of RunPlan
        All runs.
    units : Units
        The reader's.
    surfaces : sequence of Surface
        For the other light that was stated.
    exposed : Exposed, optional
        Left out for false colour, which has a scale instead.
    camera : str
        Its name.
    warnings : sequence of Caveat
        All of them are printed.
    notes : sequence of str
        What was chosen, assumed or scaled.
    main : str
        Surface whose numbers head the caption.
    """
    lines = [f"{title}, camera {camera}" if camera else title]
    lines.append(light_line(plans, units, exposed))
    lines.append(_numbers_line(numbers, main, units))
    lines += [run_line(plan, units) for plan in plans]
    lines.append(other_light_line(surfaces, units))
    warned = [f"Warning, {w.place}: {w.says}" for w in warnings]
    defects = warned or any(".ripple." in n.key for n in numbers)
    lines += warned
    lines += [f"Note: {note}" for note in notes]
    if defects:
        lines.append(NOT_MODELLED)
    lines += CAUTIONS
    return tuple(line for line in lines if line)


def run_line(plan: RunPlan, units: Units) -> str:
    """One run: file, place, aim and level. A setback never stands without its gap."""
    length = units.length
    level = plan.peak_on.startswith(("ceiling", "floor"))
    where = f"from the wall, on the {plan.peak_on}" if level else f"up, on {plan.peak_on}"
    peak = f"{say_length(plan.peak_at_m, length)} {where}"
    setback = say_length(plan.setback_m, length)
    parts = [
        f"{plan.tag}: {plan.file}",
        f"setback {setback}{' (against)' if plan.against else ''}",
        f"clear gap {say_length(plan.clear_gap_m, length)} to the highest point",
        f"{say_length(plan.backing_m, length)} from backing to centreline",
        f"drop {say_length(plan.drop_m, length)}",
        f"housing's lowest edge {say_length(plan.lowest_edge_m, length)} up",
        f"tilt {say_angle(plan.tilt_rad)}",
        f"beam aim {say_angle(plan.beam_aim_rad)}, peak lands {peak}",
        f"dim {say_percent(plan.dim)}",
    ]
    return ", ".join(parts)


def other_light_line(surfaces: Iterable[Surface], units: Units) -> str:
    """Other light by name, or that there is none; what stands in the room gets the room's."""
    stated = [
        f"{s.name} {say_illuminance(s.other_light_lx, units.illuminance)}"
        for s in surfaces
        if s.other_light_lx > 0 and not s.blocks
    ]
    if not stated:
        return "No other light: daylight and lighting that is not listed are left out."
    return f"Includes other light that was stated, not computed: {', '.join(stated)}."


def bounce_line(followed: bool) -> str:
    """Whether light between surfaces is in the numbers."""
    if followed:
        return "Light reflected from surface to surface is followed."
    return "Light reflected from surface to surface is left out."


def light_line(plans: Sequence[RunPlan], units: Units, exposed: Exposed | None) -> str:
    """Units, initial or maintained, and the exposure."""
    light = f"Illuminance in {units.illuminance}, {state_of(plans)}"
    if exposed is None:
        return f"{light}."
    how = "automatic" if exposed.automatic else "stated"
    shared = f", shared by {exposed.shared_by} pictures" if exposed.shared_by > 1 else ""
    return f"{light}. Exposure EV100 {exposed.ev100:.1f}, {how}{shared}."


def _numbers_line(numbers: Sequence[Number], main: str, units: Units) -> str:
    found = by_key(numbers)

    def has(key: str) -> bool:
        return f"{main}.{key}" in found

    def said(key: str) -> str:
        return say(found[f"{main}.{key}"], units)

    if not has("average_lx"):
        return ""
    relief = has("flat.average_lx")
    on = "by area"
    if relief:
        on = f"relief, by its true area ({said('true_area_ratio')} times the wall's)"
    wall = main if main in ("ceiling", "floor") else f"{main} wall"
    text = (
        f"{wall[:1].upper()}{wall[1:]}, {on}: average {said('average_lx')}, least "
        f"{said('min_lx')}, greatest {said('max_lx')}"
    )
    if relief:
        text += (
            f". Mean plane: average {said('flat.average_lx')}, least {said('flat.min_lx')}, "
            f"greatest {said('flat.max_lx')}"
        )
    if has("max_to_min"):
        ratio = found[f"{main}.max_to_min"].value
        text += (
            f". Max:min {say_ratio(ratio)} on the mean plane from {said('max_to_min_low_m')} to "
            f"{said('max_to_min_high_m')} up"
        )
        if ratio > LARGEST_RATIO and has("top_lx"):
            text += f", {said('top_lx')} at the top and {said('foot_lx')} at the foot"
    if has("grid.average_lx"):
        text += (
            f". Meter grid {said('grid.points_across')} x {said('grid.points_up')} points: "
            f"average {said('grid.average_lx')}"
        )
        if found[f"{main}.grid.misses_light"].value:
            text += (
                f" ({say_percent(abs(found[f'{main}.grid.over_area'].value))} "
                f"{'above' if found[f'{main}.grid.over_area'].value > 0 else 'below'} the area's: "
                "the points do not catch the bright band as it is)"
            )
    return text + "."
