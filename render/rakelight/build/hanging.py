"""At what height a run hangs or lies, and where its edges and its peak are."""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from rakelight.build.cross_section import Body2, Placement
from rakelight.build.lengths import Lengths
from rakelight.build.mounting import Mount, Unmountable
from rakelight.build.shell import ceiling_height_m
from rakelight.build.standing import Standing
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Room
from rakelight.scene.tables import WALLS, RoomTable, RunTable
from rakelight.units import LengthUnit, say_length

Floats = NDArray[np.float64]

#: What stays between a housing and what it lies on or under. [m]
SLACK_M = 0.0005
#: Flush is within this; no eye sees less. [m]
FLUSH_M = 0.001
#: Farther up than this without a slot is not a slot that was left out of the scene. [m]
HIGHEST_UNBUILT_SLOT_M = 0.5
SHELL = (*WALLS, "floor", "ceiling")


def least_of(
    table: RunTable, mount: Mount, base: Standing | None, sizes: RoomTable
) -> tuple[float | None, bool]:
    """Setback from the wall as `place` takes it, and whether it was counted from something else.

    Parameters
    ----------
    table : RunTable
        As stated.
    mount : Mount
        Its directions.
    base : Standing or None
        What it lies on.
    sizes : RoomTable
        The room's sizes.
    """
    if mount.kind == "free":
        middle = (np.array(table.from_point_m) + np.array(table.to_point_m)) / 2
        return float((middle - mount.origin_m) @ mount.out), False
    stated = None if table.setback_m == "against" else table.setback_m
    if base is None or base.kind == "fascia":
        return None if stated is None else float(stated), False
    if base.kind == "cove":
        if table.setback_m is None:
            ledge = max(float(p.section_m[:, 0].max()) for p in base.prisms[:1])
            lips = [p for p in base.prisms[1:2] if p.section_m[:, 0].max() >= ledge - 1e-9]
            depth = float(lips[0].section_m[:, 0].min()) if lips else ledge
            return depth / 2, False
        return None if stated is None else float(stated), False
    # a panel: counted from the edge that faces the wall
    corners = base.prisms[0].points_m()
    edge = float(((corners - mount.origin_m) @ mount.out).min())
    if stated is None:
        raise Unmountable("setback", 'on a panel, give the distance from its edge, not "against".')
    width = float(np.ptp(corners @ mount.out))
    if float(stated) > width:
        raise Unmountable(
            "setback", f"beyond the panel, which is {width * 1000:.0f} mm deep there."
        )
    return edge + float(stated), True


def ceiling_over(sizes: RoomTable, mount: Mount, setback_m: float, lengths: Lengths) -> float:
    """Lowest height of the ceiling over a run. [m]"""
    ends = np.array([lengths.lit_m[0, 0], lengths.lit_m[-1, 1]])
    points = np.array([mount.point_m(float(u), setback_m, 0.0) for u in ends])
    return float(ceiling_height_m(sizes, points).min())


def hang(
    table: RunTable,
    sizes: RoomTable,
    mount: Mount,
    base: Standing | None,
    body: Body2,
    lengths: Lengths,
    placed: Callable[[float], Placement],
    unit: LengthUnit,
) -> tuple[Placement, float]:
    """Find placement and height together, since each may depend on the other.

    Parameters
    ----------
    table : RunTable
        As stated.
    sizes : RoomTable
        The room's sizes.
    mount : Mount
        The run's directions.
    base : Standing or None
        What it lies on.
    body : Body2
        Its cross-section.
    lengths : Lengths
        Where it is lit.
    placed : callable
        Placement for a height of the opening. [m]
    unit : {"m", "mm", "ft", "in"}
        For messages.

    Returns
    -------
    placement : Placement
        Setback and aim.
    height_m : float
        The opening's centre over the floor; of a run that stands or goes from point to point,
        of its start. [m]

    Raises
    ------
    Unmountable
        If it hangs below the floor, above the roof, or is not flush as stated.
    """
    if mount.kind in ("upright", "free"):
        start = mount.point_m(float(lengths.lit_m[0, 0]), 0.0, 0.0)
        return placed(float(start[2])), float(start[2])
    height = sizes.height_m - table.drop_m
    for _ in range(4):
        found = placed(max(height, 1e-6))
        over = ceiling_over(sizes, mount, found.setback_m, lengths)
        height = _height(table, mount, base, body, found, over)
    found = placed(max(height, 1e-6))
    stated_height = "height" if table.height_m is not None else "drop"
    if height <= 0:
        says = f"at or below the floor; the room is {say_length(sizes.height_m, unit)} high."
        raise Unmountable(stated_height, says)
    if table.slot is None:
        if height > over + HIGHEST_UNBUILT_SLOT_M or (
            table.height_m is not None and height >= over
        ):
            says = f"above the roof: the ceiling is {say_length(over, unit)} up there."
            raise Unmountable(stated_height, says)
    foot = height - body.foot_m(found.tilt_rad)
    if table.flush:
        level, words = _flush_with(over, base)
        if abs(foot - level) > FLUSH_M:
            where = "below" if foot < level else "above"
            right = over - level - body.foot_m(found.tilt_rad)
            says = (
                f"its lowest edge is {say_length(abs(foot - level), unit)} {where} {words}, with "
                f'which it should be flush. Leave it out, or use "{right * 1000:.1f} mm".'
            )
            raise Unmountable(stated_height, says)
    return found, height


def _height(
    table: RunTable,
    mount: Mount,
    base: Standing | None,
    body: Body2,
    found: Placement,
    over: float,
) -> float:
    foot, head = body.foot_m(found.tilt_rad), body.head_m(found.tilt_rad)
    if table.height_m is not None:
        return table.height_m
    if "drop_m" in table.model_fields_set:
        return over - table.drop_m
    if table.flush:
        return _flush_with(over, base)[0] + foot
    if table.slot is not None:
        return over + table.slot.height_m - head - SLACK_M
    if base is not None and base.kind in ("cove", "panel"):
        return _top(base) + foot + SLACK_M
    if table.along == "floor":
        return foot + SLACK_M
    if table.along != "ceiling":
        raise Unmountable("height", f"missing: how high on the {table.along} wall it is fixed.")
    return over - table.drop_m


def _flush_with(over: float, base: Standing | None) -> tuple[float, str]:
    if base is None:
        return over, "the ceiling"
    low = min(float(p.section_m[:, 1].min()) for p in base.prisms)
    return low, f"the lower edge of {base.kind} {base.tag}"


def _top(base: Standing) -> float:
    """Upper side of a cove's ledge or of a panel."""
    return float(base.prisms[0].section_m[:, 1].max())


def lowest_edge(
    mount: Mount, line: LitLine, body: Body2, placement: Placement, height_m: float
) -> float:
    """Height over the floor of the luminaires' lowest edge. [m]"""
    if mount.kind in ("wall", "out"):
        return height_m - body.foot_m(placement.tilt_rad)
    corners = body.corners_m(0.0)
    ends = line.origin_m + np.array([[0.0], [float(line.lit_m[-1, 1])]]) * line.axis
    section = corners[:, :1] * line.across - corners[:, 1:] * line.nadir
    return float((ends[:, None] + section).reshape(-1, 3)[:, 2].min())


def peak_lands(room: Room, mount: Mount, line: LitLine, placement: Placement) -> tuple[str, float]:
    """Surface of the shell on which the peak lands from the run's middle, and where.

    Returns
    -------
    surface : str
        Its name.
    at_m : float
        Height over the floor on a wall; distance from `beside` on floor or ceiling. [m]
    """
    aim = placement.beam_aim_rad
    toward = math.sin(aim) * mount.across - math.cos(aim) * mount.up
    middle = line.origin_m + line.axis * float(line.lit_m[-1, 1]) / 2
    best, name = math.inf, ""
    for surface in room.surfaces:
        if surface.blocks or not surface.name.startswith(SHELL):
            continue
        facing = float(toward @ surface.frame.n)
        if facing >= -1e-9:
            continue
        distance = -float((middle - surface.frame.origin_m) @ surface.frame.n) / facing
        # walls win a tie at their foot by a hair, as aiming at the base hits it
        distance *= 1.0 if surface.name in WALLS else 1 + 1e-9
        if 0 <= distance < best:
            best, name = distance, surface.name
    at = middle + best * toward
    if name in WALLS:
        return name, float(at[2])
    if mount.kind == "free":
        return name, float(room.surface(mount.beside).frame.from_room(at)[2])
    return name, float((at - mount.origin_m) @ mount.out)
