"""Stills of a sweep in a row, at one exposure, each over its value."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from rakelight.tell.lettering import INK, PAPER, QUIET, Style, height_px, set_text
from rakelight.tell.still import png_of

#: As many stills as an eye still takes in at once; more are thinned evenly.
MOST = 7
#: Wide ones stand in two rows: all of eight, or six of more.
ALL_WIDE, MOST_WIDE = 8, 6
SLICE_PX = 760
WHOLE_PX = 760


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """One still of the strip.

    Parameters
    ----------
    codes : ndarray of uint8, shape (rows, columns, 3)
        The picture.
    label : str
        Its value.
    lines : sequence of str
        What stands below, small.
    """

    codes: NDArray[np.uint8]
    label: str
    lines: Sequence[str]


def chosen(count: int, most: int = MOST) -> list[int]:
    """Which of so many steps the strip shows: all, or `most` evenly spread with both ends."""
    if count <= most:
        return list(range(count))
    return [round(k * (count - 1) / (most - 1)) for k in range(most)]


def upright_slice(
    codes: NDArray[np.uint8], top_px: float, foot_px: float, share: float = 0.5
) -> NDArray[np.uint8]:
    """The middle of a wall from top to foot: a light that moves up or down shows best so.

    Parameters
    ----------
    codes : ndarray of uint8, shape (rows, columns, 3)
        A picture square-on to the wall.
    top_px, foot_px : float
        Rows of the wall's top and foot.
    share : float
        Width over height.
    """
    rows, columns = codes.shape[:2]
    low, high = max(0, round(top_px)), min(rows, round(foot_px))
    wide = min(columns, round(share * (high - low)))
    left = (columns - wide) // 2
    return codes[low:high, left : left + wide]


def draw_strip(
    cells: Sequence[Cell], heading: str, caption: Sequence[str], cautions: Sequence[str]
) -> bytes:
    """Draw the strip.

    Parameters
    ----------
    cells : sequence of Cell
        All of one size; upright ones stand in one row, wide ones in rows of up to four.
    heading : str
        What is swept.
    caption : sequence of str
        What all have in common.
    cautions : sequence of str
        What ships with every picture.

    Returns
    -------
    bytes
        PNG.
    """
    rows, columns = cells[0].codes.shape[:2]
    upright = rows > columns
    in_rows = 2 if len(cells) == 4 else 3 if len(cells) <= 6 else 4
    across = len(cells) if upright else min(len(cells), in_rows)
    down = -(-len(cells) // across)
    em = 22 if upright else 20
    gap, margin = (em // 2 if upright else em), 3 * em
    width = across * columns + (across - 1) * gap + 2 * margin
    within = width - 2 * margin
    head, label = Style(round(1.7 * em), "bold"), Style(round(1.25 * em), "bold")
    small = Style(round(0.82 * em), colour=QUIET, leading=1.4)
    said = Style(round(0.86 * em), colour=INK, leading=1.35)
    text_px = min(within, 92 * em)
    under = max(sum(height_px(line, said, columns) for line in cell.lines) for cell in cells)
    tall = rows + round(0.6 * em) + label.line_px + under + round(1.2 * em)
    top = margin + height_px(heading, head, within) + em
    words, warned = "\n".join(caption), " ".join(cautions)
    caption_top = top + down * tall + round(0.4 * em)
    cautions_top = caption_top + height_px(words, small, text_px) + round(0.5 * em)
    height = cautions_top + height_px(warned, small, text_px) + margin
    image = Image.new("RGB", (width, height), PAPER)
    set_text(image, heading, head, margin, margin, within)
    for number, cell in enumerate(cells):
        row, column = divmod(number, across)
        left, y = margin + column * (columns + gap), top + row * tall
        image.paste(Image.fromarray(np.ascontiguousarray(cell.codes)), (left, y))
        y += rows + round(0.6 * em)
        y = set_text(image, cell.label, label, left, y, columns)
        for line in cell.lines:
            y = set_text(image, line, said, left, y, columns)
    set_text(image, words, small, margin, caption_top, text_px)
    set_text(image, warned, small, margin, cautions_top, text_px)
    return png_of(image)
