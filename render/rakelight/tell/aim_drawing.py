"""Where a file aims beside a wall, drawn: the section to scale, the candela curve at its tilt."""

import math
import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import NDArray

from rakelight.build.aim import Aim, Landing
from rakelight.tell.aim import aim_lines
from rakelight.units import LengthUnit, say_angle, say_length

_TEXT = "#23282a"
_BUILT = "#c9cfd1"
_CURVE = "#2f6f7c"
_BEAM = "#a8611c"
_PALE = "#5f9aa3"
_REACH = 0.42  # radius of the peak in the curve, in room heights
_THICK = 0.05  # of wall, floor and ceiling as drawn, in room heights


def draw_aim(found: Aim, name: str, unit: LengthUnit) -> Figure:
    """Draw wall, floor and ceiling to scale, and over them the candela curve at its tilt.

    Parameters
    ----------
    found : Aim
        As placed.
    name : str
        The file's, for the heading.
    unit : {"m", "mm", "ft", "in"}
        To write lengths in.

    Returns
    -------
    Figure
        The wall on the left. The curve's radius is candela on a scale of its own, so it may
        reach beyond the wall; the line of the beam aim ends where the peak lands.
    """
    high = found.ceiling_m
    right = max(0.75 * high, found.setback_m + 0.5 * high)
    for place in (found.peak, *found.half):
        if place is not None and place.where in ("floor", "ceiling"):
            right = max(right, min(place.at_m + 0.15 * high, 2.0 * high))
    left = min(-0.26 * high, float(_curve_points(found)[:, 0].min()) - 0.02 * high)
    tall_in = 5.2
    scale = tall_in / (1.16 * high)
    wide_in = (right - left) * scale
    text_in = 4.4
    sheet_w, sheet_h = 0.3 + wide_in + 0.3 + text_in, tall_in + 0.75
    figure = Figure(figsize=(sheet_w, sheet_h), facecolor="none")
    axes = figure.add_axes((0.3 / sheet_w, 0.25 / sheet_h, wide_in / sheet_w, tall_in / sheet_h))
    axes.set_xlim(left, right)
    axes.set_ylim(-0.08 * high, 1.08 * high)
    axes.set_aspect("equal")
    axes.axis("off")
    _room(axes, found, left, right)
    _curve(axes, found)
    _beam(axes, found, right, unit)
    figure.text(
        0.3 / sheet_w, 1 - 0.22 / sheet_h, f"{name}, tilt {say_angle(found.tilt_rad)}",
        fontsize=11, color=_TEXT, ha="left", va="center",
    )  # fmt: skip
    _words(figure, found, unit, (0.3 + wide_in + 0.3) / sheet_w, sheet_h)
    return figure


def _room(axes: Axes, found: Aim, left: float, right: float) -> None:
    high = found.ceiling_m
    thick = _THICK * high
    for corner, width, height in (
        ((-thick, -thick), thick, high + 2 * thick),
        ((0, -thick), right, thick),
        ((0, high), right, thick),
    ):
        axes.add_patch(Rectangle(corner, width, height, facecolor=_BUILT, edgecolor="none"))
    axes.plot([right, 0, 0, right], [0, 0, high, high], color=_TEXT, linewidth=1.0)
    for x, y, words, turn in (
        (-thick / 2, high * 0.9, "wall", 90),
        (right - 0.03 * high, -0.027 * high, "floor", 0),
        (right - 0.03 * high, 1.024 * high, "ceiling", 0),
    ):
        axes.text(
            x, y, words, rotation=turn, fontsize=9, color=_TEXT,
            ha="center" if turn else "right", va="center",
        )  # fmt: skip


def _curve_points(found: Aim) -> NDArray[np.float64]:
    """Ends of the candela's radii, in the section's metres."""
    top = max(float(found.candela.max()), 1e-300)
    radius = _REACH * found.ceiling_m * found.candela / top
    x = found.setback_m - radius * np.sin(found.angle_rad)
    y = found.height_m - radius * np.cos(found.angle_rad)
    return np.stack([x, y], axis=1)


def _curve(axes: Axes, found: Aim) -> None:
    axes.add_patch(
        Polygon(
            _curve_points(found), closed=True, facecolor=(*_rgb(_PALE), 0.22),
            edgecolor=_CURVE, linewidth=1.4,
        )
    )  # fmt: skip


def _beam(axes: Axes, found: Aim, right: float, unit: LengthUnit) -> None:
    x0, y0, high = found.setback_m, found.height_m, found.ceiling_m
    for place in found.half:
        if place is not None and place.where != "away":
            x, y = _point(found, place)
            axes.plot([x0, x], [y0, y], color=_CURVE, linewidth=0.8, dashes=(5, 3))
    axes.plot([x0, 0], [y0, 0], color=_TEXT, linewidth=0.7, dashes=(1, 2))
    if found.peak.where == "away":
        x = x0 - 1.2 * _REACH * high * math.sin(found.beam_aim_rad)
        y = y0 - 1.2 * _REACH * high * math.cos(found.beam_aim_rad)
        axes.plot([x0, x], [y0, y], color=_BEAM, linewidth=1.6)
    else:
        x, y = _point(found, found.peak)
        axes.plot([x0, min(x, 2 * right)], [y0, y], color=_BEAM, linewidth=1.6)
        axes.plot([x], [y], marker="o", markersize=6, color=_BEAM, clip_on=False)
        at = say_length(found.peak.at_m, unit)
        if found.peak.where == "wall":
            corner, align = (-(_THICK + 0.01) * high, y), ("right", "center")
        else:
            away = (_THICK + 0.012) * high
            below = found.peak.where == "floor"
            corner = (x, -away if below else high + away)
            align = ("center", "top" if below else "bottom")
        axes.text(*corner, at, ha=align[0], va=align[1], fontsize=9.5, color=_BEAM)
    axes.plot([x0], [y0], marker="s", markersize=5, color=_TEXT, clip_on=False)


def _words(figure: Figure, found: Aim, unit: LengthUnit, x: float, sheet_h: float) -> None:
    y = 1 - 0.62 / sheet_h
    inks = {"peak lands": _BEAM, "beam aim": _BEAM, "half peak": _CURVE}
    for label, words in aim_lines(found, unit):
        ink = inks.get(label, _TEXT)
        figure.text(x, y, label, fontsize=9.5, color=ink, ha="left", va="top", weight="bold")
        y -= 0.19 / sheet_h
        for line in textwrap.wrap(words, 58):
            figure.text(x, y, line, fontsize=9.5, color=_TEXT, ha="left", va="top")
            y -= 0.18 / sheet_h
        y -= 0.1 / sheet_h
    figure.text(
        x, 0.25 / sheet_h,
        "Section to scale; radius of the curve: candela, on its own scale.\n"
        "Dashed: half the peak. Dotted: to the wall's foot.",
        fontsize=8.5, color=_TEXT, ha="left", va="bottom",
    )  # fmt: skip


def _point(found: Aim, place: Landing) -> tuple[float, float]:
    if place.where == "wall":
        return 0.0, place.at_m
    return place.at_m, 0.0 if place.where == "floor" else found.ceiling_m


def _rgb(ink: str) -> tuple[float, float, float]:
    red, green, blue = (int(ink[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return red, green, blue
