"""Two or more stills side by side at one exposure, with their numbers under each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from rakelight.tell.lettering import PAPER, QUIET, Style, height_px, rule, set_text
from rakelight.tell.still import png_of


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One still of a plate and what stands under it.

    Parameters
    ----------
    picture : ndarray of uint8, shape (rows, columns, 3)
        sRGB codes; all panels of a plate have one shape and one exposure.
    title : str
        What it is called: "Graze, 6 in".
    sentence : str
        One plain sentence for a client.
    values : sequence of (str, str)
        What is measured and its value with the unit, a row each.
    """

    picture: NDArray[np.uint8]
    title: str
    sentence: str
    values: Sequence[tuple[str, str]]


def compare_plate(
    panels: Sequence[Panel], *, heading: str, caption: Sequence[str], cautions: Sequence[str]
) -> bytes:
    """PNG of the plate: stills at their own size, text in columns under them.

    Parameters
    ----------
    panels : sequence of Panel
        Two or more, from left to right.
    heading : str
        What is compared; may be empty.
    caption : sequence of str
        Exposure, units, initial or maintained, other light: what is true of all stills.
    cautions : sequence of str
        Set smaller at the foot.

    Returns
    -------
    bytes
        A PNG file.

    Raises
    ------
    ValueError
        If there are fewer than two panels, or pictures of different shapes.
    """
    shapes = {panel.picture.shape for panel in panels}
    if len(panels) < 2 or len(shapes) != 1:
        raise ValueError(f"{len(panels)} panels of shapes {sorted(shapes)}; two or more of one")
    rows, columns = panels[0].picture.shape[:2]
    across = columns * len(panels)
    em = max(11, round(across / 105))
    margin, gap = round(3.2 * em), round(1.6 * em)
    width = across + gap * (len(panels) - 1) + 2 * margin
    within = width - 2 * margin
    head = Style(round(1.9 * em), "bold", leading=1.25)
    title, plain = Style(round(1.35 * em), "bold"), Style(em)
    label, small = Style(em, colour=QUIET), Style(round(0.82 * em), colour=QUIET, leading=1.4)
    row_px = round(1.75 * em)
    # a measure of some 75 signs reads well; wide columns are not filled
    text_px = min(columns, 38 * em)

    top = margin
    pictures_top = top + (height_px(heading, head, within) + em if heading else 0)
    under = pictures_top + rows + round(1.1 * em)
    sentences = [height_px(p.sentence, plain, text_px) for p in panels]
    titles = [height_px(p.title, title, text_px) for p in panels]
    values_top = under + max(titles) + max(sentences) + round(0.9 * em)
    values_end = values_top + row_px * max(len(p.values) for p in panels)
    foot_px = min(within, 78 * em)
    said, warned = "\n".join(caption), " ".join(cautions)
    caption_top = values_end + round(1.8 * em)
    cautions_top = caption_top + height_px(said, small, foot_px) + round(0.6 * em)
    height = cautions_top + height_px(warned, small, foot_px) + margin

    image = Image.new("RGB", (width, height), PAPER)
    if heading:
        set_text(image, heading, head, margin, top, within)
    hair = max(1, em // 16)
    for number, panel in enumerate(panels):
        left = margin + number * (columns + gap)
        image.paste(Image.fromarray(panel.picture), (left, pictures_top))
        set_text(image, panel.title, title, left, under, text_px)
        set_text(image, panel.sentence, plain, left, under + max(titles), text_px)
        for index, (name, value) in enumerate(panel.values):
            y = values_top + index * row_px
            rule(image, left, y, text_px, hair)
            drop = (row_px - plain.line_px) // 2 + hair
            set_text(image, name, label, left, y + drop, text_px)
            set_text(image, value, plain, left, y + drop, text_px, "right")
    set_text(image, said, small, margin, caption_top, foot_px)
    set_text(image, warned, small, margin, cautions_top, foot_px)
    return png_of(image)
