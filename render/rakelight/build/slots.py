"""Slots in the ceiling, which runs are up in."""

import numpy as np

from rakelight.build.cross_section import Body2, Placement
from rakelight.build.hanging import FLUSH_M, ceiling_over
from rakelight.build.lengths import Lengths
from rakelight.build.mounting import Mount, Unmountable
from rakelight.build.openings import Cut
from rakelight.scene.surfaces import Room
from rakelight.scene.tables import RoomTable, RunTable
from rakelight.units import LengthUnit, say_length

#: A run that comes this near to a wall's end has a slot that goes on to it. [m]
TO_THE_END_M = 0.1
#: What a slot that ends before has beyond the run. [m]
BEYOND_M = 0.02


def slot_of(
    table: RunTable,
    tag: str,
    room: Room,
    sizes: RoomTable,
    mount: Mount,
    placement: Placement,
    body: Body2,
    height_m: float,
    lengths: Lengths,
    unit: LengthUnit,
) -> Cut | None:
    """Cut a run's slot into the ceiling, and check that the run fits it.

    Parameters
    ----------
    table : RunTable
        As stated.
    tag : str
        The run's.
    room, sizes : Room, RoomTable
        The room.
    mount, placement, body, lengths
        The run, as built so far.
    height_m : float
        The opening's centre over the floor. [m]
    unit : {"m", "mm", "ft", "in"}
        For messages.

    Returns
    -------
    Cut or None
        None where no slot is stated.

    Raises
    ------
    Unmountable
        If slot and run, or slot and room, do not fit.
    """
    slot = table.slot
    if slot is None:
        return None
    if sizes.ceiling is not None:
        raise Unmountable("slot", "a slot needs a level ceiling; this one is pitched.")

    def say(length_m: float) -> str:
        return say_length(length_m, unit)

    tilt = placement.tilt_rad
    toward, away = body.reach_m(tilt), body.reach_back_m(tilt)
    if mount.kind == "out":
        toward, away = away, toward
    middle = placement.setback_m + (away - toward) / 2
    near = middle - slot.width_m / 2 if slot.from_wall_m is None else slot.from_wall_m
    far = near + slot.width_m
    if slot.width_m > mount.depth_m or far > mount.depth_m + 1e-9:
        says = (
            f"wider than the room: it would end {say(far)} from the wall, of {say(mount.depth_m)}."
        )
        raise Unmountable("slot", says)
    if near < -1e-9:
        if slot.from_wall_m is None and slot.width_m <= mount.depth_m:
            near, far = 0.0, slot.width_m
        else:
            raise Unmountable("slot", f"reaches {say(-near)} into the wall. Make it narrower.")
    if placement.setback_m - toward < near - 1e-9 or placement.setback_m + away > far + 1e-9:
        says = (
            f"the luminaire takes {say(placement.setback_m - toward)} to "
            f"{say(placement.setback_m + away)} from the wall, and the slot is from {say(near)} to "
            f"{say(far)}. Move or widen it."
        )
        raise Unmountable("slot", says)
    tall = body.head_m(tilt) + body.foot_m(tilt)
    if tall > slot.height_m + FLUSH_M:
        says = f"{say(slot.height_m)} high, and the luminaire is {say(tall)}. Use a higher slot."
        raise Unmountable("slot", says)
    over = ceiling_over(sizes, mount, placement.setback_m, lengths)
    top = height_m + body.head_m(tilt) - over
    if top > slot.height_m + FLUSH_M:
        says = (
            f"{say(slot.height_m)} high, and the luminaire's top would be {say(top)} up. Use a "
            "higher slot or more drop."
        )
        raise Unmountable("slot", says)
    proud = over - (height_m - body.foot_m(tilt))
    if proud > FLUSH_M:
        says = f"stands {say(proud)} proud of its slot. Leave the drop out, or raise it by that."
        raise Unmountable("drop", says)
    first, last = float(lengths.lit_m[0, 0]), float(lengths.lit_m[-1, 1])
    start, end = slot.start_m, slot.end_m
    if start is None:
        start = 0.0 if first < TO_THE_END_M else first - BEYOND_M
    if end is None:
        end = mount.length_m if mount.length_m - last < TO_THE_END_M else last + BEYOND_M
    if start > first + 1e-9 or end < last - 1e-9 or end > mount.length_m + 1e-9:
        says = f"must hold the run, which goes from {say(first)} to {say(last)}."
        raise Unmountable("slot", says)
    ceiling = room.surface("ceiling").frame
    corners = np.array(
        [mount.point_m(u, s, over) for u in (start, end) for s in (near, far)], np.float64
    )
    local = ceiling.from_room(corners)[:, :2]
    return Cut(ceiling, local.min(axis=0), local.max(axis=0), slot.height_m)
