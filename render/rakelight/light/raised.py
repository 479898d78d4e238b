"""A relief's points once more, over its mean plane.

What stands 10 mm out of a wall sees a bright strip of the next surface, 100 mm away from the
wall, under a flatter angle than the mean plane does: a stone 0.2 m from a corner received 7 % less
of all light in a grazed room, and bricks under a ceiling, on a wall 12 mm out of true, 10 % less.
So a relief's points look twice, from two heights, and light changes with height between and beyond.
"""

from dataclasses import dataclass

import numpy as np

from rakelight.light.gather import Gather
from rakelight.light.outlook import Outlook
from rakelight.scene.relief import Relief

#: How far over the mean plane, as a multiple of the heights' root mean square. What lies below the
#: plane is that much past the other end: with less, what single rays meet or miss tells more.
RAISED = 4.0
#: From where on it counts. [m]
LEAST_RAISED_M = 2e-3


@dataclass(frozen=True, slots=True, eq=False)
class Raised:
    """Points over a relief's mean plane.

    Parameters
    ----------
    height_m : float
        How far over it. [m]
    gather : Gather
        How they are lit.
    outlook : Outlook
        What they see, direction by direction.
    """

    height_m: float
    gather: Gather
    outlook: Outlook


def raised_m(relief: Relief) -> float | None:
    """How far over a relief's mean plane its points look once more; None: it is nearly flat. [m]"""
    height_m = RAISED * float(np.sqrt(np.mean(relief.heights_m**2, dtype=np.float64)))
    return height_m if height_m > LEAST_RAISED_M else None
