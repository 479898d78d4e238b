"""What the computed light says in numbers: one module for each metric.

A metric takes a surface's gathered light and the settings, and returns its numbers. To add
one, write its module and put its function in `METRICS`; tables, captions and sweeps follow.
"""

from collections.abc import Callable

from rakelight.measure.area import area_numbers
from rakelight.measure.brightness import brightness_numbers
from rakelight.measure.electrical import electrical_numbers
from rakelight.measure.fields import Fields, fields
from rakelight.measure.grid import grid_numbers
from rakelight.measure.profile import profile_numbers
from rakelight.measure.ripple import ripple_numbers
from rakelight.measure.settings import MeasureSettings
from rakelight.measure.texture import texture_numbers
from rakelight.measure.throw import throw_numbers
from rakelight.scene.lit import Lit
from rakelight.scene.number import Number
from rakelight.scene.surfaces import Surface

Metric = Callable[[Fields, MeasureSettings], tuple[Number, ...]]

METRICS: tuple[Metric, ...] = (
    area_numbers,
    grid_numbers,
    profile_numbers,
    texture_numbers,
    brightness_numbers,
    ripple_numbers,
    throw_numbers,
    electrical_numbers,
)

__all__ = ["METRICS", "Fields", "MeasureSettings", "Metric", "fields", "measure_surface"]


def measure_surface(
    surface: Surface, lit: Lit | Fields, settings: MeasureSettings | None = None
) -> tuple[Number, ...]:
    """All numbers of one surface.

    Parameters
    ----------
    surface : Surface
        One of the room's.
    lit : Lit or Fields
        The room's light, or what `fields` gathered of it for this surface.
    settings : MeasureSettings, optional
        The documented defaults if left out.

    Returns
    -------
    tuple of Number
        SI units, keys begin with the surface's name, in the order of `METRICS`.

    Raises
    ------
    ValueError
        If `lit` does not fit the surface.
    """
    gathered = lit if isinstance(lit, Fields) else fields(surface, lit)
    chosen = MeasureSettings() if settings is None else settings
    return tuple(number for metric in METRICS for number in metric(gathered, chosen))
