"""One scene on one page: still, false colour, light and drama, section, figures, cautions.

Landscape has the still at the left and its figures at the right, portrait has them under
it; charts stand in one row, and words fill the foot. What is set is handed in; nothing is
measured here.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from rakelight.picture.false_colour import Scale, bar, colours
from rakelight.tell.lettering import INK, QUIET
from rakelight.tell.plates.page import PAPERS, Page, Type
from rakelight.units import LX_PER_FC, IlluminanceUnit

#: Type is legible on a screen from here up. [dpi]
LEAST_DPI = 150.0
NO_ROOM = "the words leave no room for picture and charts; choose a larger paper"

Draws = Callable[[Axes, Type], object]


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """A drawing in the row of charts.

    Parameters
    ----------
    draw : callable
        Draws on axes, with labels of a size.
    share : float
        Of the row's width, against the other charts'.
    left_pt, below_pt : float
        Room for labels outside the axes.
    title : str
        Set over it; empty if it names itself.
    """

    draw: Draws
    share: float
    left_pt: float = 0.0
    below_pt: float = 12.0
    title: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """What stands on a page.

    Parameters
    ----------
    title, sentence : str
        Its head; one plain sentence for a client.
    still : ndarray of uint8, shape (rows, columns, 3)
        sRGB codes.
    illuminance_lx : ndarray, shape (rows, columns)
        For the false colour, NaN where there is none. [lx]
    scale : Scale
        Its colours.
    unit : {"lx", "fc"}
        Of the bar.
    charts : sequence of Chart
        From left to right.
    values : sequence of (str, str)
        Key numbers, a row each.
    runs : sequence of str
        What is installed, a paragraph each.
    caption, cautions : sequence of str
        At the foot.
    """

    title: str
    sentence: str
    still: NDArray[np.uint8]
    illuminance_lx: NDArray[np.floating]
    scale: Scale
    unit: IlluminanceUnit
    charts: Sequence[Chart]
    values: Sequence[tuple[str, str]]
    runs: Sequence[str]
    caption: Sequence[str]
    cautions: Sequence[str]


@dataclass(frozen=True, slots=True)
class _Faces:
    """Type of a page; sizes grow with the paper."""

    title: Type
    sentence: Type
    body: Type
    label: Type
    small: Type
    head: Type
    em: float

    @classmethod
    def for_paper(cls, shorter_pt: float) -> "_Faces":
        em = shorter_pt / 595.0 * 8.6
        return cls(
            title=Type(2.35 * em, "bold", leading=1.15),
            sentence=Type(1.28 * em, leading=1.32),
            body=Type(em),
            label=Type(em, colour=QUIET),
            small=Type(0.84 * em, colour=QUIET, leading=1.32),
            head=Type(em, "bold"),
            em=em,
        )


def set_sheet(sheet: Sheet, *, paper: str = "a4", portrait: bool = False) -> tuple[Page, float]:
    """Set a page.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    paper : str
        A key of `PAPERS`.
    portrait : bool
        Upright instead of lying.

    Returns
    -------
    page : Page
        To write as PDF or PNG.
    dpi : float
        At which each pixel of the still is one of the page's, or a whole number of them where
        the type would be too coarse.

    Raises
    ------
    ValueError
        If the words leave no room for the charts.
    """
    short, long = PAPERS[paper]
    page = Page(short, long) if portrait else Page(long, short)
    faces = _Faces.for_paper(short)
    margin = 3.6 * faces.em
    within = page.width_pt - 2 * margin
    foot_top = _foot(page, sheet, faces, margin, within)
    top = page.text(sheet.title, faces.title, margin, margin - 0.6 * faces.em, within)
    top = page.text(sheet.sentence, faces.sentence, margin, top + 0.3 * faces.em, within)
    top += 1.1 * faces.em
    rows, columns = sheet.still.shape[:2]
    if portrait:
        dpi, end = _still(page, sheet, margin, top, within)
        gap = 2.2 * faces.em
        half = 0.5 * (within - gap)
        top = end + 1.4 * faces.em
        end = _false_colour(page, sheet, faces, margin, top, half)
        right = margin + half + gap
        end = max(end, _figures(page, sheet, faces, right, top, half))
        row_top = end + 1.6 * faces.em
    else:
        # the still as large as leaves the charts their row
        row = 17.5 * faces.em
        tall = foot_top - top - row - 2.2 * faces.em
        if tall < row:
            raise ValueError(NO_ROOM)
        wide = min(0.66 * within, tall * columns / rows)
        dpi, end = _still(page, sheet, margin, top, wide)
        right = margin + wide + 2.4 * faces.em
        ended = _figures(page, sheet, faces, right, top, page.width_pt - margin - right)
        row_top = max(end, ended) + 1.6 * faces.em
    left, span = margin, within
    if not portrait:
        share = 0.31 * within
        height = foot_top - row_top - 1.2 * faces.em
        picture = min(share, (height - 3.6 * faces.em) * columns / rows)
        _false_colour(page, sheet, faces, margin, row_top, picture)
        left, span = margin + picture + 2.4 * faces.em, within - picture - 2.4 * faces.em
    _charts(page, sheet, faces, left, row_top, span, foot_top - row_top - 1.2 * faces.em)
    return page, dpi


def _still(page: Page, sheet: Sheet, left: float, top: float, wide: float) -> tuple[float, float]:
    """Place the still on whole pixels; return its resolution and where it ends."""
    columns = sheet.still.shape[1]
    dpi = 72.0 * columns / wide
    dpi *= max(1, math.ceil(LEAST_DPI / dpi))
    # the page's height in pixels is rounded down, and rows count from its foot
    per_pt = dpi / 72.0
    below = int(page.height_pt * per_pt)
    left = round(left * per_pt) / per_pt
    top = page.height_pt - (below - round(top * per_pt)) / per_pt
    return dpi, page.picture(sheet.still, left, top, wide)


def _figures(
    page: Page, sheet: Sheet, faces: _Faces, left: float, top: float, wide: float
) -> float:
    """Key numbers and what is installed."""
    row = 1.62 * faces.em
    for name, value in sheet.values:
        page.rule(left, top, wide)
        lift = 0.5 * (row - faces.body.line_pt)
        page.text(value, faces.body, left, top + lift, wide, "right")
        room = wide - faces.body.width_pt(value) - 0.8 * faces.em
        end = page.text(name, faces.label, left, top + lift, room)
        top = max(top + row, end + lift)
    page.rule(left, top, wide)
    top += 0.7 * faces.em
    for words in sheet.runs:
        top = page.text(words, faces.small, left, top, wide) + 0.25 * faces.em
    return top


def _false_colour(
    page: Page, sheet: Sheet, faces: _Faces, left: float, top: float, wide: float
) -> float:
    """Illuminance in colour under its name, with the bar below; returns where it ends."""
    per = LX_PER_FC if sheet.unit == "fc" else 1.0
    spread = "equal ratios" if sheet.scale.logarithmic else "equal steps"
    top = page.text(f"Illuminance, {sheet.unit} ({spread})", faces.head, left, top, wide)
    top += 0.35 * faces.em
    top = page.picture(colours(_halved(sheet.illuminance_lx), sheet.scale), left, top, wide)
    top += 0.45 * faces.em
    thick = 0.55 * faces.em
    page.picture(bar(sheet.scale, 512, max(1, round(512 * thick / wide))), left, top, wide)
    top += thick
    free = left - 1.0
    for mark in sheet.scale.marks(per):
        said = f"{mark:g}"
        half = 0.5 * faces.small.width_pt(said)
        x = left + wide * float(sheet.scale.share(np.array(mark * per)))
        start = min(max(x - half, left), left + wide - 2 * half)
        if start > free:
            page.text(said, faces.small, start, top, 4 * half + 1)
            free = start + 2 * half + 0.5 * faces.em
    return top + faces.small.line_pt


def _halved(illuminance_lx: NDArray[np.floating]) -> NDArray[np.float64]:
    """Means of 2 x 2 pixels, for a picture that is shown small; NaN only where all are."""
    rows, columns = (n - n % 2 for n in illuminance_lx.shape)
    four = illuminance_lx[:rows, :columns].reshape(rows // 2, 2, columns // 2, 2)
    there = np.isfinite(four)
    count = there.sum(axis=(1, 3))
    total = np.where(there, four, 0.0).sum(axis=(1, 3), dtype=np.float64)
    out: NDArray[np.float64] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return out


def _charts(
    page: Page, sheet: Sheet, faces: _Faces, left: float, top: float, wide: float, tall: float
) -> None:
    if not sheet.charts:
        return
    if tall < 9 * faces.em:
        raise ValueError(NO_ROOM)
    how = Type(0.84 * faces.em, colour=QUIET)
    gap = 1.8 * faces.em
    scale = faces.em / 8.6
    spare = wide - sum(c.left_pt * scale for c in sheet.charts) - gap * (len(sheet.charts) - 1)
    total = sum(chart.share for chart in sheet.charts)
    over = faces.head.line_pt + 0.35 * faces.em
    for chart in sheet.charts:
        across = spare * chart.share / total
        left += chart.left_pt * scale
        if chart.title:
            page.text(chart.title, faces.head, left, top, across)
        axes = page.axes(left, top + over, across, tall - over - chart.below_pt * scale)
        chart.draw(axes, how)
        left += across + gap


def _foot(page: Page, sheet: Sheet, faces: _Faces, margin: float, within: float) -> float:
    """Set caption and cautions at the foot and return where they start."""
    gap = 2.4 * faces.em
    column = 0.5 * (within - gap)
    left_words, right_words = " ".join(sheet.caption), " ".join(sheet.cautions)
    height = max(faces.small.height_pt(words, column) for words in (left_words, right_words))
    top = page.height_pt - margin - height
    page.rule(margin, top - 0.6 * faces.em, within)
    page.text(left_words, faces.small, margin, top, column)
    page.text(
        right_words,
        Type(faces.small.size_pt, colour=INK, leading=faces.small.leading),
        margin + column + gap,
        top,
        column,
    )
    return top - 0.6 * faces.em
