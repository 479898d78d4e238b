"""Type on plates: one open face, lines broken to a width, text set on a picture."""

import importlib.util
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

PAPER = (252, 251, 249)
INK = (34, 34, 36)
QUIET = (112, 111, 109)
HAIRLINE = (214, 211, 206)

#: A unit stays on the line of its number.
_UNIT = re.compile(r"(?<=\d) (?=(?:%|lx|fc|mm|m|in|ft|deg|W|lm|K|cd/m2)(?!\w))")

_SOURCE_SANS = {"regular": "SourceSansPro-Regular.ttf", "bold": "SourceSansPro-Semibold.ttf"}
_DEJAVU = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}


@lru_cache(maxsize=64)
def face(size_px: int, weight: str = "regular") -> ImageFont.FreeTypeFont:
    """Source Sans Pro (SIL Open Font License), or DejaVu Sans where it is not installed.

    Parameters
    ----------
    size_px : int
        Height of the em.
    weight : {"regular", "bold"}
    """
    return ImageFont.truetype(str(face_file(weight)), size_px, layout_engine=ImageFont.Layout.BASIC)


def face_file(weight: str) -> Path:
    """Where the face is installed."""
    # found without importing: the packages' own start-up code is not needed
    for package, folder, names in (
        ("font_source_sans_pro", "files", _SOURCE_SANS),
        ("matplotlib", "mpl-data/fonts/ttf", _DEJAVU),
    ):
        spec = importlib.util.find_spec(package)
        for place in (spec.submodule_search_locations or []) if spec else []:
            path = Path(place) / folder / names[weight]
            if path.is_file():
                return path
    raise FileNotFoundError("no typeface is installed; install font-source-sans-pro")


@dataclass(frozen=True, slots=True)
class Style:
    """Size, weight and colour of a piece of text.

    Parameters
    ----------
    size_px : int
        Height of the em.
    weight : {"regular", "bold"}
    colour : tuple of int
        sRGB codes.
    leading : float
        Distance between lines over `size_px`.
    """

    size_px: int
    weight: str = "regular"
    colour: tuple[int, int, int] = INK
    leading: float = 1.32

    @property
    def line_px(self) -> int:
        """Distance from line to line."""
        return round(self.size_px * self.leading)

    def width_px(self, text: str) -> int:
        """How far a line of text runs."""
        return round(face(self.size_px, self.weight).getlength(text))


def broken(text: str, style: Style, width_px: int) -> list[str]:
    """Break a text into lines no wider than `width_px`; a longer word stands alone."""
    return broken_by(text, style.width_px, width_px)


def broken_by(text: str, width_of: Callable[[str], float], widest: float) -> list[str]:
    """Break a text into lines that measure no more than `widest`; a longer word stands alone.

    No line begins with a unit.
    """
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        words = _UNIT.sub("\0", " ".join(paragraph.split())).split(" ")
        for word in (word.replace("\0", " ") for word in words if word):
            longer = f"{line} {word}" if line else word
            if line and width_of(longer) > widest:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return lines


def height_px(text: str, style: Style, width_px: int) -> int:
    """Height that a text takes when broken to `width_px`."""
    return len(broken(text, style, width_px)) * style.line_px


def set_text(
    image: Image.Image,
    text: str,
    style: Style,
    left_px: int,
    top_px: int,
    width_px: int,
    align: str = "left",
) -> int:
    """Set a text into a column and return where the next line would start.

    Parameters
    ----------
    image : Image
        Set on.
    text : str
        Broken at `width_px` and at its own line ends.
    style : Style
        How.
    left_px, top_px, width_px : int
        The column.
    align : {"left", "right", "middle"}
    """
    draw = ImageDraw.Draw(image)
    font = face(style.size_px, style.weight)
    ascent, descent = font.getmetrics()
    drop = (style.line_px - ascent - descent) / 2
    for line in broken(text, style, width_px):
        spare = width_px - style.width_px(line)
        indent = {"left": 0, "right": spare, "middle": spare // 2}[align]
        place = (left_px + indent, round(top_px + drop) + ascent)
        draw.text(place, line, font=font, fill=style.colour, anchor="ls")
        top_px += style.line_px
    return top_px


def rule(image: Image.Image, left_px: int, top_px: int, width_px: int, thick_px: int) -> None:
    """A quiet horizontal line."""
    ImageDraw.Draw(image).rectangle(
        (left_px, top_px, left_px + width_px - 1, top_px + thick_px - 1), fill=HAIRLINE
    )
