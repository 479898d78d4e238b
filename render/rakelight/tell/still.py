"""One picture as the bytes of a file: PNG, PNG in false colour with its bar, OpenEXR."""

import io
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from rakelight.picture.false_colour import Scale, bar, colours
from rakelight.tell.lettering import INK, PAPER, QUIET, Style, height_px, set_text
from rakelight.units import LX_PER_FC, IlluminanceUnit


def png(codes: NDArray[np.uint8]) -> bytes:
    """PNG of sRGB codes, shape (rows, columns, 3): marked as sRGB, without a date."""
    return png_of(Image.fromarray(codes))


def png_of(image: Image.Image) -> bytes:
    """PNG of an image in sRGB."""
    info = PngInfo()
    info.add(b"sRGB", b"\x00")  # perceptual intent; ISO/IEC 15948
    out = io.BytesIO()
    image.save(out, "PNG", pnginfo=info, compress_level=1)
    return out.getvalue()


def false_colour_png(
    illuminance_lx: NDArray[np.floating],
    scale: Scale,
    caption: Sequence[str],
    *,
    unit: IlluminanceUnit = "lx",
    codes: NDArray[np.uint8] | None = None,
) -> bytes:
    """PNG of illuminance in false colour, with a labelled bar and a caption below.

    Parameters
    ----------
    illuminance_lx : ndarray, shape (rows, columns)
        NaN where there is none. [lx]
    scale : Scale
        One for all pictures that are compared.
    caption : sequence of str
        Paragraphs: what is shown, initial or maintained, other light.
    unit : {"lx", "fc"}
        Of the bar's labels.
    codes : ndarray of uint8, optional
        The coloured picture, when more has been drawn on it (isolines).

    Returns
    -------
    bytes
        The picture at its own size, and the strip below it.
    """
    shown = colours(illuminance_lx, scale) if codes is None else codes
    rows, columns = shown.shape[:2]
    small = max(11, round(columns / 74))
    label, text = Style(small), Style(small, colour=QUIET)
    margin, thick = round(columns * 0.03), round(small * 0.9)
    length = columns - 2 * margin
    words = "\n".join(caption)
    bar_top = rows + margin // 2 + label.line_px
    text_top = bar_top + thick + label.line_px + round(small * 0.9)
    height = text_top + height_px(words, text, length) + margin // 2
    image = Image.new("RGB", (columns, height), PAPER)
    image.paste(Image.fromarray(shown), (0, 0))
    image.paste(Image.fromarray(bar(scale, length, thick)), (margin, bar_top))
    spread = "equal ratios" if scale.logarithmic else "equal steps"
    title = f"Illuminance, {unit} ({spread})"
    set_text(image, title, label, margin, rows + margin // 2 - small // 4, length)
    draw = ImageDraw.Draw(image)
    per = LX_PER_FC if unit == "fc" else 1.0
    free = margin - columns
    for mark in scale.marks(per):
        share = float(scale.share(np.array(mark * per)))
        x = margin + round(share * (length - 1))
        draw.rectangle(
            (x, bar_top + thick, x + max(0, small // 16), bar_top + thick + small // 3), INK
        )
        said = f"{mark:g}"
        wide = label.width_px(said)
        left = min(max(x - wide // 2, margin), columns - margin - wide)
        if left > free:
            set_text(image, said, label, left, bar_top + thick + small // 3, wide + 2)
            free = left + wide + small // 2
    set_text(image, words, text, margin, text_top, length)
    return png_of(image)


#: Red, green, blue and white of Rec.709 as CIE 1931 x, y (ITU-R BT.709).
REC709_XY = (0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290)


def exr(rgb_cd_m2: NDArray[np.float32], more: Mapping[str, str | float] | None = None) -> bytes:
    """OpenEXR of a scene-linear picture: 32-bit float R, G, B in cd/m2, Rec.709.

    Parameters
    ----------
    rgb_cd_m2 : ndarray of float32, shape (rows, columns, 3)
        Luminance is 0.2126 R + 0.7152 G + 0.0722 B. [cd/m2]
    more : mapping of str to str or float, optional
        Further attributes of the header: what was computed, and how.

    Returns
    -------
    bytes
        With the standard attributes `chromaticities` (Rec.709) and `whiteLuminance` (1: a value
        of 1 stands for 1 cd/m2), so that readers need not guess.
    """
    import OpenEXR

    header: dict[str, Any] = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": REC709_XY,
        "whiteLuminance": 1.0,
        **(more or {}),
    }
    with tempfile.TemporaryDirectory() as folder:  # the library writes to a path only
        path = Path(folder) / "picture.exr"
        with OpenEXR.File(header, {"RGB": np.ascontiguousarray(rgb_cd_m2)}) as file:
            file.write(str(path))
        return path.read_bytes()
