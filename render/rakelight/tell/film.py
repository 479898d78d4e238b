"""A film of a sweep: every frame is a computed step, its value burnt in; there and back."""

import math
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from rakelight.tell.lettering import Style, face, set_text

FRAME_PX = (1280, 720)
#: What strip and film show; steps need no larger pictures.
WIDEST_PX = 1072
#: Beside the picture, where the drama stands, and below it, where the value does.
_PANEL_PX, _BAND_PX = 208, 117
_RATE = 12  # frames a second; between steps nothing moves
_DARK = (18, 18, 20)
_LIGHT = (240, 238, 233)
_FAINT = (128, 126, 122)
_LINE = (70, 70, 72)
_GLOW = (242, 196, 108)
_DIM_GLOW = (120, 104, 74)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """What a frame says beside its picture.

    Parameters
    ----------
    label : str
        The value, large.
    share : float
        Its place between the range's ends, 0 to 1.
    curve : tuple of (ndarray, ndarray) or None
        Heights as shares of the wall's, and the drama there as a share of its largest in the
        film; None: no curve.
    zones : sequence of (float, float)
        Drama zones as shares of the wall's height.
    """

    label: str
    share: float
    curve: tuple[Floats, Floats] | None = None
    zones: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """What all frames share.

    Parameters
    ----------
    noun : str
        What is swept.
    ticks : sequence of (float, str)
        Marks of the range: share and words; empty words make a bare mark.
    note : str
        One small line: what is kept, which scene.
    rows : tuple of float or None
        Top and foot of the wall as shares of the picture's height; None: no curve beside it.
    from_wall : bool
        Draw the range as a distance from the wall.
    curve_words : tuple of (str, str)
        What the curve shows, and what its bright part is.
    """

    noun: str
    ticks: Sequence[tuple[float, str]]
    note: str
    rows: tuple[float, float] | None
    from_wall: bool
    curve_words: tuple[str, str]


def picture_box(setting: Setting, aspect: float) -> tuple[int, int, int, int]:
    """Left, top, width and height of the picture in a frame. [px]"""
    width, height = FRAME_PX
    panel = _PANEL_PX if setting.rows is not None else 0
    most_w, most_h = width - panel, height - _BAND_PX
    wide = min(most_w, round(most_h * aspect))
    tall = round(wide / aspect)
    return (width - panel - wide) // 2, (most_h - tall) // 2, wide, tall


def frame(codes: NDArray[np.uint8], shown: Shown, setting: Setting) -> NDArray[np.uint8]:
    """One frame, shape (720, 1280, 3).

    Parameters
    ----------
    codes : ndarray of uint8, shape (rows, columns, 3)
        The picture, no larger than `picture_box` gives.
    shown, setting : Shown, Setting
        What it says.
    """
    image = Image.new("RGB", FRAME_PX, _DARK)
    left, top, wide, tall = picture_box(setting, codes.shape[1] / codes.shape[0])
    picture = Image.fromarray(codes)
    if picture.size != (wide, tall):
        picture = picture.resize((wide, tall))
    image.paste(picture, (left, top))
    if setting.rows is not None and shown.curve is not None:
        _curve(image, shown, setting, left + wide, top, tall)
    _band(image, shown, setting)
    return np.asarray(image)


def _curve(
    image: Image.Image, shown: Shown, setting: Setting, right: int, top: int, tall: int
) -> None:
    """The drama by height, beside the wall and to its scale."""
    assert setting.rows is not None
    assert shown.curve is not None
    high, foot = (top + share * tall for share in setting.rows)
    high, foot = max(high, top), min(foot, top + tall)
    x0, x1 = right + 14, FRAME_PX[0] - 24
    scale = 4  # drawn large and averaged, so that its edge is smooth
    layer = Image.new("RGB", ((x1 - x0) * scale, round(foot - high) * scale), _DARK)
    draw = ImageDraw.Draw(layer)
    heights, values = shown.curve

    def point(height: float, value: float) -> tuple[float, float]:
        return value * (layer.width - scale), (1 - height) * layer.height

    zones = shown.zones or ()
    order = np.linspace(0, 1, 400)
    curve = np.interp(order, heights, values)
    for a, b, va, vb in zip(order[:-1], order[1:], curve[:-1], curve[1:], strict=True):
        inside = any(low <= (a + b) / 2 <= top_ for low, top_ in zones)
        draw.polygon(
            [(0, point(a, 0)[1]), point(a, va), point(b, vb), (0, point(b, 0)[1])],
            fill=_GLOW if inside else _DIM_GLOW,
        )
    image.paste(
        layer.resize((x1 - x0, round(foot - high)), Image.Resampling.BOX), (x0, round(high))
    )
    ImageDraw.Draw(image).rectangle((x0 - 3, round(high), x0 - 2, round(foot)), fill=_LINE)
    y = FRAME_PX[1] - _BAND_PX + 14
    for words, colour in zip(setting.curve_words, (_FAINT, _GLOW), strict=True):
        y = set_text(image, words, Style(16, colour=colour, leading=1.2), x0, y, x1 - x0 + 16)


def _band(image: Image.Image, shown: Shown, setting: Setting) -> None:
    """The value in words and on a ruler."""
    draw = ImageDraw.Draw(image)
    y = FRAME_PX[1] - _BAND_PX
    set_text(image, setting.noun, Style(20, colour=_FAINT), 28, y + 8, 360)
    size = 46
    while Style(size, "bold").width_px(shown.label) > 350:
        size -= 2
    set_text(image, shown.label, Style(size, "bold", _LIGHT), 28, y + 28, 360)
    set_text(image, setting.note, Style(16, colour=_FAINT), 28, y + 90, 760)
    x0, x1, line = 410, FRAME_PX[0] - (_PANEL_PX + 24 if setting.rows is not None else 60), y + 44
    if setting.from_wall:  # the wall itself, where the setback counts from
        draw.rectangle((x0 - 18, line - 32, x0 - 1, line + 18), fill=(96, 92, 86))
    draw.rectangle((x0, line - 1, x1, line), fill=_LINE)
    taken = -math.inf
    font = face(17)
    for share, words in setting.ticks:
        x = x0 + share * (x1 - x0)
        draw.rectangle((round(x) - 1, line - 6, round(x), line + 5), fill=_FAINT)
        half = font.getlength(words) / 2
        if words and x - half > taken:
            draw.text((x, line + 26), words, font=font, fill=_FAINT, anchor="ms")
            taken = x + half + 10
    x = x0 + shown.share * (x1 - x0)
    draw.rounded_rectangle((x - 9, line - 22, x + 9, line - 6), 3, fill=_GLOW)
    draw.polygon([(x - 5, line - 5), (x + 5, line - 5), (x, line + 1)], fill=_GLOW)


def holds(count: int) -> list[tuple[int, int]]:
    """Which step is shown for how many frames: there and back, longer at both ends."""
    pace = min(max(6.0 / count, 0.25), 0.75)
    beat = max(2, round(pace * _RATE))
    end = beat + _RATE
    there = [(k, end if k in (0, count - 1) else beat) for k in range(count)]
    return there + [(k, beat) for k in range(count - 2, 0, -1)]


def film_bytes(frames: Sequence[NDArray[np.uint8]] | Iterable[NDArray[np.uint8]]) -> bytes:
    """H.264 in MP4 of frames that are held there and back; the same bytes every time.

    Parameters
    ----------
    frames : sequence of ndarray of uint8, shape (rows, columns, 3)
        One a step, even sizes.
    """
    steps = list(frames)
    with tempfile.TemporaryDirectory() as folder:  # the index at the front takes a second pass
        path = Path(folder) / "film.mp4"
        _encode(path, steps)
        return path.read_bytes()


def _encode(path: Path, steps: Sequence[NDArray[np.uint8]]) -> None:
    import av  # late: only films need it

    # one thread and no date: the encoder's bytes hang on both
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        container.flags |= av.container.Flags.bitexact.value
        stream = container.add_stream("libx264", rate=_RATE)
        stream.height, stream.width = steps[0].shape[:2]
        stream.pix_fmt = "yuv420p"
        stream.codec_context.thread_count = 1
        stream.codec_context.color_range = 1
        for key in ("colorspace", "color_primaries", "color_trc"):
            setattr(stream.codec_context, key, 1)  # Rec. ITU-R BT.709
        stream.options = {"crf": "18", "preset": "superfast", "tune": "stillimage"}
        pictures = [_to_709(av.VideoFrame.from_ndarray(step)) for step in steps]
        for place, index in enumerate(_shown(len(steps))):
            pictures[index].pts = place
            for packet in stream.encode(pictures[index]):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)


def _to_709(picture: Any) -> Any:
    """In the colour matrix that the file is marked with."""
    return picture.reformat(format="yuv420p", src_colorspace="ITU709", dst_colorspace="ITU709")


def _shown(count: int) -> Iterator[int]:
    for index, frames in holds(count):
        for _ in range(frames):
            yield index
