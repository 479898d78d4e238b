"""A stored picture brought to a size and to the screen: averaged in linear light first."""

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from rakelight.picture.shade import Picture, develop
from rakelight.picture.tone import display_linear, to_codes


def sized_codes(picture: Picture, ev100: float, width_px: int) -> NDArray[np.uint8]:
    """Codes of a picture no wider than `width_px`, its sides kept in proportion.

    Parameters
    ----------
    picture : Picture
        Scene-linear.
    ev100 : float
        Exposure.
    width_px : int
        Largest width.

    Notes
    -----
    The tone curve comes after the averaging: a graze averaged after it comes out too dark.
    """
    rows, columns = picture.rgb_cd_m2.shape[:2]
    if columns <= width_px:
        return develop(picture, ev100)
    size = (width_px, round(rows * width_px / columns))
    small = np.stack(
        [
            np.asarray(
                Image.fromarray(np.ascontiguousarray(picture.rgb_cd_m2[..., k])).resize(
                    size, Image.Resampling.BOX
                )
            )
            for k in range(3)
        ],
        axis=-1,
    )
    return to_codes(display_linear(small, ev100))
