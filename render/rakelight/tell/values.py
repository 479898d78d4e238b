"""Values written on a picture where they are read: a dot at the place, a plate with the number."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from rakelight.picture.view import View
from rakelight.tell.lettering import INK, PAPER, QUIET, Style, face, height_px, set_text
from rakelight.tell.still import png_of
from rakelight.units import LX_PER_FC, IlluminanceUnit, say_number

Floats = NDArray[np.float64]

#: Plate and number; 15:1 on each other whatever lies below, where WCAG AA asks for 4.5:1.
PLATE, NUMBER = INK, PAPER


@dataclass(frozen=True, slots=True)
class Station:
    """A place at which a value is written.

    Parameters
    ----------
    surface : str
        The surface it is on.
    at_m : tuple of float
        In the room. [m]
    lx : float
        Illuminance there. [lx]
    """

    surface: str
    at_m: tuple[float, float, float]
    lx: float


@dataclass(frozen=True, slots=True)
class Written:
    """Where a station's number stands in a picture.

    Parameters
    ----------
    station : Station
        Which.
    text : str
        The number.
    dot_px : tuple of float
        Its place, from the picture's upper left corner.
    plate_px : tuple of int
        Left, top, right and bottom of its plate.
    """

    station: Station
    text: str
    dot_px: tuple[float, float]
    plate_px: tuple[int, int, int, int]


def lettering_px(columns: int) -> int:
    """Height of the numbers in a picture of that width."""
    return max(11, round(columns / 106))


def placed(view: View, stations: Sequence[Station], unit: IlluminanceUnit) -> tuple[Written, ...]:
    """Find a free place beside every station that the view shows, in order.

    A station that something hides is left out, and so is one whose four neighbouring places
    are all taken: what is written never lies on another number.

    Parameters
    ----------
    view : View
        Which surface each pixel shows.
    stations : sequence of Station
        Wanted, the most wanted first.
    unit : {"lx", "fc"}
        Of the numbers.
    """
    if not stations:
        return ()
    camera, s = view.camera, view.supersample
    width, height = camera.width_px, camera.height_px
    size = lettering_px(width)
    font = face(size, "bold")
    per = LX_PER_FC if unit == "fc" else 1.0
    taken: list[tuple[int, int, int, int]] = []
    out: list[Written] = []
    points = np.array([station.at_m for station in stations])
    ahead = (points - camera.eye_m) @ camera.forward > 1e-3
    at = camera.pixels(np.where(ahead[:, None], points, camera.eye_m + camera.forward))
    dots = [_dot(x, y, size) for x, y in at]
    for station, seen, (x, y), dot in zip(stations, ahead, at, dots, strict=True):
        if not (seen and 0 <= x < width and 0 <= y < height):
            continue
        owner = int(view.ids[int(y * s), int(x * s)])
        if owner < 0 or view.names[owner] != station.surface:
            continue
        text = say_number(station.lx / per)
        wide, high = round(font.getlength(text)) + size // 2 + 2, round(size * 1.25)
        gap = round(size * 0.55)
        left, top = round(x) - wide // 2, round(y) - high // 2
        for corner in (
            (round(x) + gap, top),
            (round(x) - gap - wide, top),
            (left, round(y) - gap - high),
            (left, round(y) + gap),
        ):
            plate = (corner[0], corner[1], corner[0] + wide, corner[1] + high)
            inside = plate[0] >= 0 and plate[1] >= 0 and plate[2] <= width and plate[3] <= height
            others = [other for other in dots if other is not dot]
            if inside and not any(_overlap(plate, other) for other in (*taken, *others)):
                taken.append(plate)
                out.append(Written(station, text, (float(x), float(y)), plate))
                break
    return tuple(out)


def values_png(
    codes: NDArray[np.uint8],
    written: Sequence[Written],
    caption: str,
) -> bytes:
    """PNG of a picture with numbers written on it, and a line about them below.

    Parameters
    ----------
    codes : ndarray of uint8, shape (rows, columns, 3)
        The picture.
    written : sequence of Written
        From `placed`.
    caption : str
        What the numbers are.
    """
    rows, columns = codes.shape[:2]
    size = lettering_px(columns)
    style = Style(max(11, round(columns / 74)), colour=QUIET)
    margin = round(columns * 0.03)
    strip = margin // 2 + height_px(caption, style, columns - 2 * margin) + margin // 2
    image = Image.new("RGB", (columns, rows + strip), PAPER)
    image.paste(Image.fromarray(codes), (0, 0))
    # dots are drawn finer than pixels and reduced; plates and numbers lie on pixels
    draw = ImageDraw.Draw(image)
    for one in written:
        _draw_dot(image, one.dot_px, size)
    font = face(size, "bold")
    for one in written:
        left, top, right, bottom = one.plate_px
        draw.rounded_rectangle((left, top, right - 1, bottom - 1), round(size * 0.28), PLATE)
        middle = ((left + right) / 2, (top + bottom) / 2)
        draw.text(middle, one.text, font=font, fill=NUMBER, anchor="mm")
    set_text(image, caption, style, margin, rows + margin // 2, columns - 2 * margin)
    return png_of(image)


def _dot(x: float, y: float, size: int) -> tuple[int, int, int, int]:
    reach = round(size * 0.3)
    return round(x) - reach, round(y) - reach, round(x) + reach, round(y) + reach


def _draw_dot(image: Image.Image, at: tuple[float, float], size: int) -> None:
    fine, reach = 8, size
    left, top = int(at[0]) - reach, int(at[1]) - reach
    side = 2 * reach + 1
    x, y = (at[0] - left) * fine, (at[1] - top) * fine
    for radius, colour in ((0.26 * size, PLATE), (0.16 * size, NUMBER)):
        mask = Image.new("L", (side * fine, side * fine), 0)
        r = radius * fine
        ImageDraw.Draw(mask).ellipse((x - r, y - r, x + r, y + r), fill=255)
        image.paste(colour, (left, top), mask.resize((side, side), Image.Resampling.BOX))


def _overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
