"""A section small enough for a page: the room, the run, its light; figures stand beside it."""

import numpy as np
from matplotlib.axes import Axes

from rakelight.tell.plates.page import Type
from rakelight.tell.section import Drawing, draw_bodies, draw_light, draw_structure, room_box
from rakelight.tell.section_pen import Pen

#: Structure drawn around the room. [mm]
AROUND_MM = 3.5
#: The candela curve's peak, over the panel's height.
CURVE_SHARE = 0.4


def draw_small_section(axes: Axes, drawing: Drawing, how: Type) -> None:
    """Draw a run's section without dimensions, as large as the axes allow, at their left.

    Parameters
    ----------
    axes : Axes
        On a figure of known size.
    drawing : Drawing
        What to draw.
    how : Type
        Size of type.
    """
    figure = axes.get_figure()
    if figure is None:
        raise ValueError("the axes are on no figure")
    place = axes.get_position()
    wide_in, tall_in = figure.get_size_inches()  # type: ignore[union-attr]
    wide, tall = wide_in * 25.4 * place.width, tall_in * 25.4 * place.height
    near, far, low, high = room_box(drawing.section)
    mm = max((far - near) / (wide - 2 * AROUND_MM), (high - low) / (tall - 2 * AROUND_MM))
    x0 = near - AROUND_MM * mm
    y1 = high + AROUND_MM * mm
    axes.set_xlim(x0, x0 + wide * mm)
    axes.set_ylim(y1 - tall * mm, y1)
    axes.set_axis_off()
    pen = Pen(axes, how.size_pt)
    draw_structure(pen, drawing)
    draw_light(pen, drawing, curve_mm=CURVE_SHARE * float(np.floor(tall)))
    draw_bodies(pen, drawing)
