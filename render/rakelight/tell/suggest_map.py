"""The small map of a setting's tolerance: what is left of the band over setback and tilt."""

import io
import math
import textwrap
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from scipy.interpolate import RegularGridInterpolator

from rakelight.study.search import Found
from rakelight.study.tolerance import Tolerances, leeway_of
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.lettering import INK, PAPER, QUIET
from rakelight.tell.plates.page import installed_family
from rakelight.tell.shown import Units
from rakelight.tell.suggest_words import band_in_words
from rakelight.units import say_angle, say_length

_INK, _QUIET, _PAPER = ("#{:02x}{:02x}{:02x}".format(*c) for c in (INK, QUIET, PAPER))
_FINE = 161


def tolerance_map(
    tolerated: Tolerances, found: Found, units: Units, *, title: str, wish: str
) -> bytes:
    """Draw the map.

    Parameters
    ----------
    tolerated : Tolerances
        With its map.
    found : Found
        The setting in its middle.
    units : Units
        The reader's.
    title, wish : str
        Heading, and what was wished.

    Returns
    -------
    bytes
        PNG, the same every time. Between the points that were lit, values follow a cubic.
    """
    with matplotlib.rc_context(_type()):
        return _drawn(tolerated, found, units, title, wish)


def _drawn(tolerated: Tolerances, found: Found, units: Units, title: str, wish: str) -> bytes:
    figure = Figure(figsize=(7.2, 6.6), facecolor=_PAPER)
    axes = figure.add_axes((0.125, 0.235, 0.70, 0.585), facecolor="#e4e1dc")
    scale = 1000.0 if units.length in ("m", "mm") else 1 / 0.0254
    unit = "mm" if units.length in ("m", "mm") else "in"
    x = tolerated.setback_off_m * scale
    y = np.degrees(tolerated.tilt_off_rad)
    fine_x, fine_y = np.linspace(x[0], x[-1], _FINE), np.linspace(y[0], y[-1], _FINE)
    grid_y, grid_x = np.meshgrid(fine_y, fine_x, indexing="ij")
    where = np.stack([grid_y, grid_x], axis=-1)
    whole = not np.isnan(tolerated.value).any()
    value, kept = (
        RegularGridInterpolator((y, x), of, method="cubic" if whole else "linear")(where)
        if np.isfinite(of).any()
        else np.full(grid_x.shape, np.nan)
        for of in (tolerated.value, tolerated.kept)
    )
    left = leeway_of(tolerated.band, tolerated.best, value, kept, tolerated.middle)
    left = np.where(np.isnan(value), np.nan, left)
    shown = np.clip(left, -0.5, 1.0)
    filled = axes.contourf(
        fine_x, fine_y, shown, levels=np.linspace(-0.5, 1.0, 16), cmap="cividis", extend="min"
    )
    axes.contour(fine_x, fine_y, left, levels=[0.0], colors="white", linewidths=3.4)
    axes.contour(fine_x, fine_y, left, levels=[0.0], colors=_INK, linewidths=1.8)
    if tolerated.half_click_rad > 0:
        half = math.degrees(tolerated.half_click_rad)
        axes.add_patch(
            Rectangle((x[0], -half), x[-1] - x[0], 2 * half, fill=False, edgecolor="white", lw=1.0,
                      linestyle=(0, (4, 3)))
        )  # fmt: skip
    axes.plot([0], [0], marker="o", markersize=8, color="white", markeredgecolor=_INK)
    _axes_style(axes, found, units, unit)
    bar = figure.colorbar(filled, cax=figure.add_axes((0.85, 0.235, 0.025, 0.585)))
    bar.set_ticks([-0.5, 0.0, 0.5, 1.0], labels=["far outside", "border", "half left", "all left"])
    bar.ax.tick_params(labelsize=8, colors=_INK, length=0)
    bar.outline.set_visible(False)
    figure.text(0.125, 0.955, title, fontsize=13, color=_INK, va="top", weight="semibold")
    says = f"Wish: {wish}. Dark line: border of the band, {band_in_words(tolerated.band, units)}."
    if tolerated.half_click_rad > 0:
        says += " Dashed: half a click either way."
    figure.text(0.125, 0.915, "\n".join(textwrap.wrap(says, 92)), fontsize=9, color=_INK, va="top")
    foot = "Grey: the luminaire would touch the relief. " if np.isnan(left).any() else ""
    count = f"{x.size} x {y.size}"
    foot += f"Direct light only, at {count} settings; smooth curves between them. " + " ".join(
        CAUTIONS
    )
    figure.text(
        0.125, 0.125, "\n".join(textwrap.wrap(foot, 108)), fontsize=7.5, color=_QUIET, va="top"
    )
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=160, facecolor=_PAPER, metadata={"Software": None})
    return buffer.getvalue()


def _axes_style(axes: Axes, found: Found, units: Units, unit: str) -> None:
    plan = found.plan
    axes.set_xlabel(
        f"setback off, {unit} (0 = {say_length(plan.setback_m, units.length)}; right: farther "
        "from the wall)",
        fontsize=9.5, color=_INK,
    )  # fmt: skip
    axes.set_ylabel(
        f"tilt off, deg (0 = {say_angle(plan.tilt_rad)}; up: toward the wall)",
        fontsize=9.5, color=_INK,
    )  # fmt: skip
    axes.tick_params(labelsize=9, colors=_INK, length=3)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.axhline(0, color="white", linewidth=0.6)
    axes.axvline(0, color="white", linewidth=0.6)


def _type() -> Any:
    return {"font.family": installed_family()}
