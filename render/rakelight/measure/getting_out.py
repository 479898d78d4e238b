"""How much of a run's light lands where the room can see it, in its section."""

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_numbers import RunSection
from rakelight.measure.section_rays import clear, first_met
from rakelight.measure.sight_ranges import candela_in_section
from rakelight.scene.number import Number

Floats = NDArray[np.float64]

#: Less than this share makes a run that is shut in; ours.
SHUT_IN = 0.05
_RAYS, _PLACES = 144, 7


def share_out(section: RunSection) -> float:
    """Share of the section's candela whose first landing some eye in the room sees.

    Parameters
    ----------
    section : RunSection
        Of a run that does not stand upright.

    Returns
    -------
    float
        0 to 1; nan for an upright run, or one without light.

    Notes
    -----
    From three places across the opening, in equal steps of angle, weighted with the intensity;
    eyes of the section's heights stand from the nearest place to the far wall. What a lip or a
    fascia hides with its run has not got out.
    """
    cut = section.cut
    if not section.sights:
        return float("nan")
    aims, candela = candela_in_section(cut, section.line, _RAYS)
    total = out = 0.0
    eyes = [
        np.array([place, sight.eye_m / float(cut.up[2])])
        for sight in section.sights
        for place in np.linspace(sight.to_m - 1e-3, sight.from_m + 1e-3, _PLACES)
    ]
    starts = [cut.source_m, *(cut.source_m + 0.6 * (end - cut.source_m) for end in cut.ends_m)]
    for aim, weight in zip(aims, candela, strict=True):
        way = cut.direction(float(aim))
        if weight <= 1e-3 * candela.max() or way @ cut.facing <= 0:
            continue
        for start in starts:
            total += float(weight)
            distance, which = first_met(start, way, cut.segments)
            if which < 0:
                continue
            met = cut.segments[which]
            # a hair before the surface, so that it does not hide itself
            point = start + (distance - 1e-5) * way
            if any((eye - point) @ met.normal > 0 and clear(eye, point, cut.segments)
                   for eye in eyes):  # fmt: skip
                out += float(weight)
    return out / total if total > 0 else float("nan")


def getting_out_numbers(section: RunSection) -> tuple[Number, ...]:
    """The share, where anything that is built stands before the run."""
    if not any(s.blocks for s in section.cut.segments) or not section.sights:
        return ()
    says = "share of its light that lands where the room sees it, in the section"
    return (Number(f"run.{section.plan.tag}.out_share", share_out(section), "1", says),)
