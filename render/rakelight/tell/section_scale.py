"""Axes to one scale: the paper they take, and the metres that fit on it."""

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes


def paper_mm(axes: Axes) -> tuple[float, float]:
    """Width and height of the paper that axes take. [mm]"""
    figure: Any = axes.get_figure(root=True)
    wide, tall = figure.get_size_inches()
    place = axes.get_position()
    return float(wide * 25.4 * place.width), float(tall * 25.4 * place.height)


def scale_to_fit(
    axes: Axes,
    box: tuple[float, float, float, float],
    around: Sequence[float],
    *,
    stand: tuple[float, float],
) -> None:
    """Set one scale so that a box and the paper around it just fit into axes.

    Parameters
    ----------
    axes : Axes
        On a figure of known size.
    box : tuple of float
        Least and greatest across, least and greatest up. [m]
    around : sequence of float
        Paper left, right, below and above the box. [mm]
    stand : tuple of float
        Share of the spare paper left of it, and below it.
    """
    wide, tall = paper_mm(axes)
    left, right, below, above = around
    mm = max(
        (box[1] - box[0]) / max(wide - left - right, 10.0),
        (box[3] - box[2]) / max(tall - below - above, 10.0),
    )
    spare_x = wide * mm - (box[1] - box[0]) - (left + right) * mm
    spare_y = tall * mm - (box[3] - box[2]) - (below + above) * mm
    x0, y0 = box[0] - left * mm - spare_x * stand[0], box[2] - below * mm - spare_y * stand[1]
    axes.set_xlim(x0, x0 + wide * mm)
    axes.set_ylim(y0, y0 + tall * mm)
    axes.set_axis_off()
