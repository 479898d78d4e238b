"""A section small enough for a page: the room, the run, its light; figures stand beside it."""

import numpy as np
from matplotlib.axes import Axes

from rakelight.tell.plates.page import Type
from rakelight.tell.section import Drawing, draw_bodies, draw_light, draw_structure, room_box
from rakelight.tell.section_pen import Pen
from rakelight.tell.section_scale import paper_mm, scale_to_fit

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
    scale_to_fit(axes, room_box(drawing.section), (AROUND_MM,) * 4, stand=(0.0, 1.0))
    tall = paper_mm(axes)[1]
    pen = Pen(axes, how.size_pt)
    draw_structure(pen, drawing)
    draw_light(pen, drawing, curve_mm=CURVE_SHARE * float(np.floor(tall)))
    draw_bodies(pen, drawing)
