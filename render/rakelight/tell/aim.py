"""Where a file aims beside a wall, in words."""

import math

from rakelight.build.aim import Aim, Landing
from rakelight.units import LengthUnit, say_angle, say_length

# Beyond this nobody tilts a housing. [rad]
_USABLE_TILT_RAD = math.radians(45)


def landing_in_words(landing: Landing, unit: LengthUnit) -> str:
    """``the wall, 1.20 m above the floor``; ``the floor, 0.30 m from the wall``."""
    if landing.where == "away":
        return "neither wall, floor nor ceiling near it"
    at = say_length(landing.at_m, unit)
    if landing.where == "wall":
        return f"the wall, {at} above the floor"
    return f"the {landing.where}, {at} from the wall"


def aim_in_words(angle_rad: float) -> str:
    """Say a direction in the cross-section: ``10 deg from straight down, toward the wall``."""
    if abs(angle_rad) < math.radians(0.05):
        return "straight down"
    if abs(abs(angle_rad) - math.pi) < math.radians(0.05):
        return "straight up"
    side = "toward the wall" if angle_rad > 0 else "away from the wall"
    size = abs(angle_rad)
    if size > math.pi / 2 + 1e-9:
        return f"{say_angle(size - math.pi / 2)} above horizontal, {side}"
    return f"{say_angle(size)} from straight down, {side}"


def aim_lines(found: Aim, unit: LengthUnit) -> list[tuple[str, str]]:
    """Rows of label and text, in reading order.

    Parameters
    ----------
    found : Aim
        As placed.
    unit : {"m", "mm", "ft", "in"}
        To write lengths in.
    """
    setback, height = say_length(found.setback_m, unit), say_length(found.height_m, unit)
    lower, upper = found.half
    rows = [
        ("placed", f"{setback} from the wall, opening {height} above the floor"),
        ("tilt", f"{say_angle(found.tilt_rad)} (positive: nadir turns toward the wall)"),
        (
            "beam aim",
            f"{aim_in_words(found.beam_aim_rad)}; the file's peak at tilt 0: "
            f"{aim_in_words(found.file_peak_rad)}",
        ),
        ("peak lands", f"on {landing_in_words(found.peak, unit)}"),
    ]
    if lower is not None and upper is not None:
        words = [landing_in_words(end, unit) for end in (lower, upper)]
        rows.append(("half peak", f"from {words[0]}, to {words[1]}"))
    foot = f"{say_angle(found.foot_rad)} from straight down, atan(setback / height)"
    if abs(found.tilt_to_foot_rad) <= _USABLE_TILT_RAD:
        foot += f"; tilt {say_angle(found.tilt_to_foot_rad)} brings the peak there"
    rows += [
        ("wall's foot", foot),
        ("to the wall", f"{100 * found.wall_share:.0f} % of the candela in this cross-section"),
    ]
    return rows
