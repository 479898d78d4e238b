"""A page to set type, pictures and charts on: one drawing that becomes a PDF or a PNG.

Places are in points (1/72 inch) from the page's upper left corner, as a typesetter counts.
"""

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import matplotlib
import numpy as np
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from rakelight.tell.lettering import HAIRLINE, INK, PAPER, QUIET, broken_by, face, face_file

Colour = tuple[int, int, int]
Weight = Literal["regular", "bold"]

POINTS_PER_INCH = 72.0
_MM = POINTS_PER_INCH / 25.4

#: Shorter and longer side. ISO 216 and ANSI/ASME Y14.1 (ANSI A and B). [pt]
PAPERS: dict[str, tuple[float, float]] = {
    "a4": (210 * _MM, 297 * _MM),
    "a3": (297 * _MM, 420 * _MM),
    "letter": (8.5 * 72, 11.0 * 72),
    "tabloid": (11.0 * 72, 17.0 * 72),
}

# measured at this em, so that widths do not depend on hinting at small sizes
_EM_PX = 200


@lru_cache(maxsize=8)
def font(weight: Weight = "regular") -> FontProperties:
    """The plates' face, for matplotlib."""
    return FontProperties(fname=str(face_file(weight)))


def installed_family() -> str:
    """Make the face known to matplotlib in both weights and return its family's name."""
    known = {entry.fname for entry in font_manager.fontManager.ttflist}
    for path in (str(face_file("regular")), str(face_file("bold"))):
        if path not in known:
            font_manager.fontManager.addfont(path)
    return str(FontProperties(fname=str(face_file("regular"))).get_name())


def hex_of(colour: Colour) -> str:
    """Colour as ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


@dataclass(frozen=True, slots=True)
class Type:
    """Size, weight and colour of a piece of text.

    Parameters
    ----------
    size_pt : float
        Height of the em.
    weight : {"regular", "bold"}
    colour : tuple of int
        sRGB codes.
    leading : float
        Distance between lines over `size_pt`.
    """

    size_pt: float
    weight: Weight = "regular"
    colour: Colour = INK
    leading: float = 1.3

    @property
    def line_pt(self) -> float:
        """Distance from line to line."""
        return self.size_pt * self.leading

    def width_pt(self, text: str) -> float:
        """How far a line of text runs."""
        return float(face(_EM_PX, self.weight).getlength(text)) * self.size_pt / _EM_PX

    def broken(self, text: str, width_pt: float) -> list[str]:
        """Lines no wider than `width_pt`; a longer word stands alone."""
        return broken_by(text, self.width_pt, width_pt)

    def height_pt(self, text: str, width_pt: float) -> float:
        """Height that a text takes in a column."""
        return len(self.broken(text, width_pt)) * self.line_pt


class Page:
    """One page that is being set.

    Parameters
    ----------
    width_pt, height_pt : float
        Of the paper.
    """

    def __init__(self, width_pt: float, height_pt: float) -> None:
        self.width_pt, self.height_pt = width_pt, height_pt
        size = (width_pt / POINTS_PER_INCH, height_pt / POINTS_PER_INCH)
        self.figure = Figure(figsize=size, facecolor=hex_of(PAPER))

    def text(
        self,
        words: str,
        how: Type,
        left_pt: float,
        top_pt: float,
        width_pt: float,
        align: Literal["left", "right"] = "left",
    ) -> float:
        """Set a text into a column and return where the next line would start."""
        x = left_pt if align == "left" else left_pt + width_pt
        for line in how.broken(words, width_pt):
            base = top_pt + 0.5 * how.line_pt + 0.33 * how.size_pt
            self.figure.text(
                x / self.width_pt,
                1 - base / self.height_pt,
                line,
                fontproperties=font(how.weight),
                fontsize=how.size_pt,
                color=hex_of(how.colour),
                ha=align,
                va="baseline",
                parse_math=False,
            )
            top_pt += how.line_pt
        return top_pt

    def rule(self, left_pt: float, top_pt: float, width_pt: float) -> None:
        """A quiet horizontal line."""
        y = 1 - top_pt / self.height_pt
        x = np.array([left_pt, left_pt + width_pt]) / self.width_pt
        line = Line2D(x, [y, y], color=hex_of(HAIRLINE), linewidth=0.6)
        self.figure.add_artist(line)

    def axes(self, left_pt: float, top_pt: float, width_pt: float, height_pt: float) -> Axes:
        """Axes over a rectangle of the page."""
        return self.figure.add_axes(
            (
                left_pt / self.width_pt,
                1 - (top_pt + height_pt) / self.height_pt,
                width_pt / self.width_pt,
                height_pt / self.height_pt,
            )
        )

    def picture(
        self, codes: NDArray[np.uint8], left_pt: float, top_pt: float, width_pt: float
    ) -> float:
        """Place a picture at its own proportions and return where it ends.

        Parameters
        ----------
        codes : ndarray of uint8, shape (rows, columns, 3)
            sRGB; stored whole in the PDF.
        left_pt, top_pt, width_pt : float
            Where. [pt]
        """
        rows, columns = codes.shape[:2]
        height_pt = float(width_pt * rows / columns)
        axes = self.axes(left_pt, top_pt, width_pt, height_pt)
        axes.set_axis_off()
        axes.imshow(codes, interpolation="none", aspect="auto", extent=(0, columns, rows, 0))
        return top_pt + height_pt

    def bytes(self, kind: Literal["png", "pdf"], *, dpi: float, title: str) -> bytes:
        """The page as a file, the same every time.

        Parameters
        ----------
        kind : {"png", "pdf"}
            PDF keeps text as text in embedded type, and charts as lines.
        dpi : float
            Of a PNG.
        title : str
            Of the document.
        """
        out = io.BytesIO()
        keep: dict[str, str | None] = {"Title": title}
        if kind == "pdf":
            keep |= {"CreationDate": None, "Producer": None, "Creator": "Rakelight"}
        else:
            keep |= {"Software": None}
        with matplotlib.rc_context({"pdf.fonttype": 42, "pdf.compression": 6}):
            self.figure.savefig(
                out, format=kind, dpi=dpi, metadata=keep, facecolor=self.figure.get_facecolor()
            )
        return out.getvalue()


def quiet_axes(axes: Axes, size_pt: float) -> None:
    """Axes as all charts of a plate have them: no box, hairlines, our type."""
    axes.set_facecolor("none")
    axes.grid(color=hex_of(HAIRLINE), linewidth=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(length=0, pad=3, colors=hex_of(QUIET))
    for name, spine in axes.spines.items():
        spine.set_visible(name in ("bottom", "left"))
        spine.set_color(hex_of(QUIET))
        spine.set_linewidth(0.6)
    for label in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        label.set_fontproperties(font())
        label.set_fontsize(size_pt)
