"""Stations at which values are written on pictures: the meter grid's, or places of one's own."""

from collections.abc import Sequence

import numpy as np

from rakelight.errors import InputError
from rakelight.measure.fields import Fields, fields
from rakelight.measure.grid import MeterGrid, at_points, meter_grid
from rakelight.measure.settings import MeasureSettings
from rakelight.study.stills import LitScene, measure_settings
from rakelight.tell.values import Station
from rakelight.units import parse_length, say_length


def grid_of(gathered: Fields, settings: MeasureSettings) -> MeterGrid:
    """Return the meter grid that a scene asks for on one surface."""
    return meter_grid(gathered, spacing_m=settings.grid_spacing_m, border_m=settings.grid_border_m)


def grid_stations(still: LitScene) -> tuple[Station, ...]:
    """Every point of the meter grids of all lit surfaces."""
    settings = measure_settings(still.scene)
    out: list[Station] = []
    for name in still.lit_surfaces:
        grid = grid_of(fields(still.scene.room.surface(name), still.lit), settings)
        out += [_station(still, name, u, v, lx) for u, v, lx in grid.rows()]
    return tuple(out)


def stated_stations(still: LitScene, places: Sequence[str]) -> tuple[Station, ...]:
    """Places on the first lit surface, each as ``FROM_LEFT,FROM_FOOT``.

    Parameters
    ----------
    still : LitScene
        A lit scene.
    places : sequence of str
        Two lengths each, in the scene's unit or with their own.

    Raises
    ------
    InputError
        With one line for every place that is not two lengths, or not on the surface.
    """
    scene = still.scene
    unit = scene.length_unit
    name = still.lit_surfaces[0]
    surface = scene.room.surface(name)
    gathered = fields(surface, still.lit)
    faults: list[str] = []
    out: list[Station] = []
    for place in places:
        parts = place.split(",")
        try:
            if len(parts) != 2:
                raise ValueError("must be two lengths")
            u, v = (parse_length(_number(part), unit) for part in parts)
        except ValueError as error:
            faults.append(
                f'--value-at "{place}": {error}. Right is FROM_LEFT,FROM_FOOT, for example '
                '"1.2 m,900 mm".'
            )
            continue
        wide, high = surface.grid.width_m, surface.grid.height_m
        if not (0 <= u <= wide and 0 <= v <= high):
            faults.append(
                f'--value-at "{place}": not on {name} of {scene.name}, which is '
                f"{say_length(wide, unit)} wide and {say_length(high, unit)} high."
            )
            continue
        lx = at_points(gathered.flat_lx, surface.grid, np.array([u]), np.array([v]))[0]
        out.append(_station(still, name, u, v, float(lx)))
    if faults:
        raise InputError(*faults)
    return tuple(out)


def _number(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text.strip()


def _station(still: LitScene, name: str, u: float, v: float, lx: float) -> Station:
    x, y, z = still.scene.room.surface(name).frame.to_room(np.array([u, v, 0.0]))
    return Station(name, (float(x), float(y), float(z)), float(lx))
