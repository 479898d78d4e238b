"""All reliefs on one sheet, each under the same lights at the same exposure."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from rakelight.tell.lettering import INK, PAPER, QUIET, Style, height_px, set_text
from rakelight.tell.still import png_of


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """One relief on the sheet.

    Parameters
    ----------
    title, says : str
        Its name, and what is said below it in small type.
    codes : sequence of ndarray of uint8, shape (rows, columns, 3)
        One picture a light; of one size for all tiles to about a pixel.
    """

    title: str
    says: str
    codes: Sequence[NDArray[np.uint8]]


def contact_sheet(
    tiles: Sequence[Tile], title: str, notes: Sequence[str], *, across: int = 3
) -> Image.Image:
    """Compose the sheet.

    Parameters
    ----------
    tiles : sequence of Tile
        At least one.
    title : str
        Heading.
    notes : sequence of str
        Paragraphs at the foot: lights, exposure, cautions.
    across : int
        Reliefs in a row.

    Returns
    -------
    Image
        As wide as the pictures ask for, without scaling any.
    """
    if not tiles:
        raise ValueError("no reliefs to show")
    count = len(tiles[0].codes)
    tall = max(c.shape[0] for tile in tiles for c in tile.codes)
    wide = max(c.shape[1] for tile in tiles for c in tile.codes)
    gap, gutter = max(2, wide // 120), max(10, wide // 14)
    group = count * wide + (count - 1) * gap
    size = max(12, wide // 26)
    name = Style(size, "bold")
    small = Style(round(size * 0.82), colour=QUIET)
    head = Style(round(size * 1.9), "bold", INK)
    across = min(across, len(tiles))
    below = max(name.line_px + height_px(tile.says, small, group) for tile in tiles)
    cell = tall + size // 2 + below + gutter
    width = across * group + (across + 1) * gutter
    rows = -(-len(tiles) // across)
    words = "\n".join(notes)
    top = gutter + head.line_px + gutter // 2
    foot = height_px(words, small, width - 2 * gutter)
    sheet = Image.new("RGB", (width, top + rows * cell + foot + gutter), PAPER)
    set_text(sheet, title, head, gutter, gutter, width - 2 * gutter)
    for number, tile in enumerate(tiles):
        row, column = divmod(number, across)
        left, at = gutter + column * (group + gutter), top + row * cell
        for k, codes in enumerate(tile.codes):
            sheet.paste(Image.fromarray(codes), (left + k * (wide + gap), at))
        down = set_text(sheet, tile.title, name, left, at + tall + size // 2, group)
        set_text(sheet, tile.says, small, left, down, group)
    set_text(sheet, words, small, gutter, top + rows * cell, width - 2 * gutter)
    return sheet


def sheet_bytes(sheet: Image.Image, ending: str) -> bytes:
    """Bytes of the sheet as ``.png`` or ``.jpg``; the same every time."""
    if ending.lower() == ".png":
        return png_of(sheet)
    out = io.BytesIO()
    sheet.save(out, "JPEG", quality=88, subsampling=0, optimize=True)
    return out.getvalue()
