"""Light and drama by height, side by side on one scale of heights; light across a ceiling."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from rakelight.measure.ceiling_profile import CeilingProfile
from rakelight.measure.profile import Profile
from rakelight.measure.texture import Texture
from rakelight.tell.lettering import INK, QUIET
from rakelight.tell.plates.page import Type, font, hex_of, quiet_axes
from rakelight.tell.shown import Units
from rakelight.units import LX_PER_FC

LIGHT_HEX = "#b8690f"  # light is drawn in one colour on all plates
DRAMA_HEX = "#5b4a78"
ZONE_HEX = "#e4dfec"
_FT_M = 0.3048


def length_scale(units: Units) -> tuple[float, str]:
    """Metres for one unit of a chart's scale, and the unit's name: metres or feet."""
    return (_FT_M, "ft") if units.length in ("ft", "in") else (1.0, "m")


def light_scale(units: Units) -> float:
    """Lux for one unit of illuminance as the reader has it."""
    return LX_PER_FC if units.illuminance == "fc" else 1.0


def draw_light(axes: Axes, found: Profile, units: Units, how: Type, height_m: float) -> None:
    """Mean illuminance by height: on the flat mean plane, as a meter held there would read.

    Parameters
    ----------
    axes : Axes
        Filled.
    found : Profile
        Of the wall.
    units : Units
        The reader's.
    how : Type
        Of labels.
    height_m : float
        Of the wall. [m]
    """
    per_m, length = length_scale(units)
    lx = np.nan_to_num(found.flat_lx) / light_scale(units)
    v = found.v_m / per_m
    axes.fill_betweenx(v, 0, lx, color=LIGHT_HEX, alpha=0.16, linewidth=0)
    axes.plot(lx, v, color=LIGHT_HEX, linewidth=1.3)
    axes.set_xlim(0, max(1e-9, 1.06 * float(lx.max())))
    axes.set_ylim(0, height_m / per_m)
    axes.xaxis.set_major_locator(MaxNLocator(3))
    axes.yaxis.set_major_locator(MaxNLocator(6))
    quiet_axes(axes, how.size_pt)
    _named(axes, f"Light, {units.illuminance}", how)
    axes.set_ylabel(
        f"height, {length}", fontproperties=font(), fontsize=how.size_pt, color=hex_of(QUIET)
    )


def draw_drama(axes: Axes, found: Texture, units: Units, how: Type, height_m: float) -> None:
    """Texture modulation over the wall's mean luminance by height, with the drama zones.

    Parameters
    ----------
    axes : Axes
        Filled; its heights are not numbered, they are those of the chart at its left.
    found : Texture
        Of the wall.
    units : Units
        The reader's.
    how : Type
        Of labels.
    height_m : float
        Of the wall. [m]
    """
    per_m, _ = length_scale(units)
    v = found.v_m / per_m
    for low, high in found.drama_zones_m:
        axes.axhspan(low / per_m, high / per_m, color=ZONE_HEX, linewidth=0)
    axes.plot(found.over_mean, v, color=DRAMA_HEX, linewidth=1.3)
    axes.set_xlim(0, max(1e-9, 1.06 * float(found.over_mean.max())))
    axes.set_ylim(0, height_m / per_m)
    axes.xaxis.set_major_locator(MaxNLocator(3))
    axes.yaxis.set_major_locator(MaxNLocator(6))
    quiet_axes(axes, how.size_pt)
    axes.tick_params(labelleft=False)
    _named(axes, "Drama (texture over mean)", how)


def draw_across(axes: Axes, found: CeilingProfile, units: Units, how: Type) -> None:
    """Illuminance on a ceiling in the run's section, from the wall beside it to the far one.

    Parameters
    ----------
    axes : Axes
        Filled; what came by reflection is shaded apart where it was computed.
    found : CeilingProfile
        Of the ceiling.
    units : Units
        The reader's.
    how : Type
        Of labels.
    """
    per_m, length = length_scale(units)
    lx = np.nan_to_num(found.lx) / light_scale(units)
    out = found.out_m / per_m
    axes.fill_between(out, 0, lx, color=LIGHT_HEX, alpha=0.16, linewidth=0)
    axes.plot(out, lx, color=LIGHT_HEX, linewidth=1.3)
    name = f"Light across the ceiling, {units.illuminance}"
    if found.bounced_lx.size:
        bounced = np.nan_to_num(found.bounced_lx) / light_scale(units)
        axes.plot(out, bounced, color=LIGHT_HEX, linewidth=1.0, linestyle=(0, (4, 2)))
        name += " (dashed: reflected)"
    axes.set_ylim(0, max(1e-9, 1.06 * float(lx.max())))
    axes.set_xlim(0, found.depth_m / per_m)
    axes.xaxis.set_major_locator(MaxNLocator(6))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    quiet_axes(axes, how.size_pt)
    _named(axes, name, how)
    axes.set_xlabel(
        f"distance from the wall, {length}",
        fontproperties=font(),
        fontsize=how.size_pt,
        color=hex_of(QUIET),
    )


def _named(axes: Axes, words: str, how: Type) -> None:
    axes.set_title(
        words,
        fontproperties=font("bold"),
        fontsize=how.size_pt,
        color=hex_of(INK),
        loc="left",
        pad=5,
    )
