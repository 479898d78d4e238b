"""Whether the hardware can be set to a tilt."""

import math

from rakelight.build.cross_section import Placement, wrap
from rakelight.build.mounting import Unmountable
from rakelight.scene.tables import RunTable
from rakelight.units import say_angle

#: A setting is met within this; hardware has more play. [rad]
_PLAY_RAD = math.radians(0.05)


def settings_near(
    setting_rad: float, low_rad: float, high_rad: float, click_rad: float | None
) -> tuple[float, float]:
    """Return the two settings nearest to a wish, the lower one first.

    Parameters
    ----------
    setting_rad : float
        What is wished for. [rad]
    low_rad, high_rad : float
        Least and largest setting. [rad]
    click_rad : float or None
        Step between settings, counted from 0. [rad]
    """
    inside = min(max(setting_rad, low_rad), high_rad)
    if click_rad is None:
        return inside, inside
    first, last = math.ceil(low_rad / click_rad - 1e-9), math.floor(high_rad / click_rad + 1e-9)
    if first > last:
        return inside, inside
    below = min(max(math.floor(inside / click_rad + 1e-9), first), last)
    above = min(max(math.ceil(inside / click_rad - 1e-9), first), last)
    if below == above:  # at an end: its neighbour is the other choice
        below, above = (below - 1, above) if above == last and below > first else (below, above)
        if below == above and above < last:
            above += 1
    return below * click_rad, above * click_rad


def check_setting(table: RunTable, placement: Placement, rest_rad: float) -> None:
    """Refuse a tilt that the hardware does not have.

    Parameters
    ----------
    table : RunTable
        As stated.
    placement : Placement
        The tilt that it leads to.
    rest_rad : float
        Tilt at which the hardware is at 0. [rad]

    Raises
    ------
    Unmountable
        Naming the two nearest settings.
    """
    if table.adjust is None and not table.fixed:
        return
    setting = wrap(placement.tilt_rad - rest_rad)
    key = "beam_aim" if table.beam_aim_rad is not None else "tilt"
    if table.adjust is None:
        if abs(setting) > _PLAY_RAD:
            says = (
                f"the hardware is fixed at {say_angle(rest_rad)} and cannot be tilted by "
                f"{say_angle(setting)}."
            )
            raise Unmountable(key, says)
        return
    low, high = table.adjust.range_rad
    click = table.adjust.click_rad
    off_click = 0.0
    if click is not None:
        off_click = abs(setting - round(setting / click) * click)
    if low - _PLAY_RAD <= setting <= high + _PLAY_RAD and off_click <= _PLAY_RAD:
        return
    one, other = settings_near(setting, low, high, click)
    if one == other:
        nearest = f"the nearest is {say_angle(wrap(rest_rad + one))}"
    else:
        nearest = (
            f"the nearest are {say_angle(wrap(rest_rad + one))} and "
            f"{say_angle(wrap(rest_rad + other))}"
        )
    as_tilt = "" if key == "tilt" else f" takes a tilt of {say_angle(placement.tilt_rad)};"
    clicks = f" in clicks of {say_angle(click)}" if click is not None else ""
    says = (
        f"{as_tilt.strip()} the hardware goes from {say_angle(wrap(rest_rad + low))} to "
        f"{say_angle(wrap(rest_rad + high))}{clicks}; {nearest}."
    ).strip()
    raise Unmountable(key, says)
