"""A pen for drawings to scale: lines, dimensions and labels that keep out of each other's way."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.text import Text
from numpy.typing import NDArray

from rakelight.tell.lettering import INK, PAPER, QUIET, face
from rakelight.tell.section_scale import paper_mm

Floats = NDArray[np.float64]
Colour = str
Box = tuple[float, float, float, float]


def hex_colour(rgb: tuple[int, int, int]) -> Colour:
    """An sRGB colour as matplotlib writes it."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


PAPER_HEX, INK_HEX, QUIET_HEX = hex_colour(PAPER), hex_colour(INK), hex_colour(QUIET)
#: Points in a millimetre.
PT_PER_MM = 72 / 25.4


def font(size_pt: float, weight: str = "regular") -> FontProperties:
    """The plates' own face, from its file."""
    return FontProperties(fname=str(face(10, weight).path), size=size_pt)


@dataclass(slots=True, eq=False)
class Pen:
    """Draws on axes whose data are metres, with paper millimetres at hand.

    Parameters
    ----------
    axes : Axes
        Limits and place on the figure are set; both axes have one scale.
    text_pt : float
        Size of labels.
    """

    axes: Axes
    text_pt: float = 8.0
    boxes: list[Box] = field(default_factory=list)
    lines_px: list[Floats] = field(default_factory=list)

    @property
    def mm(self) -> float:
        """Metres for each millimetre of paper."""
        low, high = self.axes.get_xlim()
        return float(high - low) / paper_mm(self.axes)[0]

    def line(
        self,
        points_m: Sequence[Floats | Sequence[float]] | Floats,
        colour: Colour = INK_HEX,
        wide_pt: float = 0.6,
        dashes: tuple[float, ...] = (),
        *,
        order: float = 3.0,
        arrow_mm: float = 0.0,
        avoid: bool = True,
        clip: bool = True,
    ) -> None:
        """Draw a line through points, with an arrow at its end if a size is given. [m]"""
        points = np.array(points_m, np.float64)
        style: Any = (0, dashes) if dashes else "-"
        drawn = Line2D(
            points[:, 0], points[:, 1], color=colour, linewidth=wide_pt, linestyle=style,
            zorder=order, solid_capstyle="butt", solid_joinstyle="miter", clip_on=clip,
        )  # fmt: skip
        self.axes.add_line(drawn)
        if avoid:
            self.lines_px.append(self.axes.transData.transform(points))
        if arrow_mm > 0:
            way = points[-1] - points[-2]
            way = way / np.hypot(*way)
            side = np.array([-way[1], way[0]])
            back = points[-1] - way * arrow_mm * self.mm
            tip = [points[-1], back + side * arrow_mm * 0.3 * self.mm,
                   back - side * arrow_mm * 0.3 * self.mm]  # fmt: skip
            self.fill(np.array(tip), colour, order=order, clip=clip)

    def fill(
        self,
        points_m: Floats,
        colour: Colour,
        *,
        edge: Colour | None = None,
        wide_pt: float = 0.0,
        order: float = 1.0,
        clip: bool = True,
        alpha: float = 1.0,
    ) -> None:
        """Fill a polygon. [m]"""
        self.axes.add_patch(
            Polygon(
                points_m, closed=True, facecolor=colour, edgecolor=edge or "none",
                linewidth=wide_pt if edge else 0.0, zorder=order, joinstyle="miter", clip_on=clip,
                alpha=alpha if alpha < 1 else None,
            )
        )  # fmt: skip

    def text(
        self,
        at_m: Sequence[float] | Floats,
        words: str,
        *,
        size_pt: float | None = None,
        colour: Colour = INK_HEX,
        align: str = "center",
        rise: str = "center",
        turn_deg: float = 0.0,
        weight: str = "regular",
        halo: bool = True,
        keep: bool = True,
    ) -> Text:
        """Set words at a place, on a patch of paper; later labels keep off them."""
        made = self.axes.text(
            float(at_m[0]), float(at_m[1]), words, ha=align, va=rise, rotation=turn_deg,
            rotation_mode="anchor", color=colour, zorder=8,
            fontproperties=font(size_pt or self.text_pt, weight),
            bbox={"boxstyle": "square,pad=0.12", "facecolor": PAPER_HEX, "edgecolor": "none"}
            if halo
            else None,
        )  # fmt: skip
        made.set_clip_on(False)
        if keep:
            self.boxes.append(self.box_of(made))
        return made

    def box_of(self, text: Text) -> Box:
        """Pixels that a text takes, in the figure's own resolution."""
        figure: Any = self.axes.figure
        canvas: Any = figure.canvas
        if not isinstance(canvas, FigureCanvasAgg):
            canvas = FigureCanvasAgg(figure)
        box = text.get_window_extent(canvas.get_renderer())
        return (box.x0, box.y0, box.x1, box.y1)

    def keep_off(self, outline_m: Floats) -> None:
        """Let no label stand on the box around a body. [m]"""
        pixels = self.axes.transData.transform(outline_m)
        (x0, y0), (x1, y1) = pixels.min(axis=0), pixels.max(axis=0)
        self.boxes.append((float(x0), float(y0), float(x1), float(y1)))

    def label(
        self,
        anchors_m: Sequence[Floats],
        words: str,
        *,
        colour: Colour = INK_HEX,
        size_pt: float | None = None,
        away_mm: float = 2.2,
        weight: str = "regular",
    ) -> Text:
        """Set words beside one of several places: the first that is free, else the least crowded.

        Parameters
        ----------
        anchors_m : sequence of ndarray of float64, shape (2,)
            Places that the words may belong to, best first. [m]
        words : str
            What to say.
        colour, size_pt, weight
            How.
        away_mm : float
            From the place to the words, on paper.
        """
        best: tuple[float, Floats, str, str] | None = None
        gap = away_mm * self.mm
        sides = [
            (1, 0, "left", "center"), (-1, 0, "right", "center"), (0, 1, "center", "bottom"),
            (0, -1, "center", "top"), (0.8, 0.8, "left", "bottom"), (0.8, -0.8, "left", "top"),
            (-0.8, 0.8, "right", "bottom"), (-0.8, -0.8, "right", "top"),
        ]  # fmt: skip
        probe = self.text((0, 0), words, size_pt=size_pt, weight=weight, keep=False)
        for rank, anchor in enumerate(anchors_m):
            for number, (dx, dy, align, rise) in enumerate(sides):
                at = np.array([anchor[0] + dx * gap, anchor[1] + dy * gap])
                probe.set_position((float(at[0]), float(at[1])))
                probe.set(ha=align, va=rise)
                cost = self._crowd(self.box_of(probe)) + 0.02 * rank + 0.01 * number
                if best is None or cost < best[0]:
                    best = (cost, at, align, rise)
            if best is not None and best[0] < 1:
                break
        assert best is not None
        probe.remove()
        return self.text(
            best[1], words, colour=colour, size_pt=size_pt, align=best[2], rise=best[3],
            weight=weight,
        )  # fmt: skip

    def along(self, places_m: Sequence[Floats], words: str, turn_deg: float) -> None:
        """Set quiet words at the least crowded of several places, turned."""
        size = 0.85 * self.text_pt
        probe = self.text((0, 0), words, turn_deg=turn_deg, size_pt=size, keep=False)
        costs = []
        for rank, place in enumerate(places_m):
            probe.set_position((float(place[0]), float(place[1])))
            costs.append(self._crowd(self.box_of(probe)) + 0.01 * rank)
        probe.remove()
        best = places_m[int(np.argmin(costs))]
        if min(costs) < 50:
            self.text(best, words, turn_deg=turn_deg, size_pt=size, colour=QUIET_HEX)

    def beside(self, at_m: Floats, words: str) -> bool:
        """Set words to the right of a place if it is free; whether it was."""
        made = self.text(at_m, words, align="left", keep=False)
        box = self.box_of(made)
        if self._crowd(box) >= 1:  # not even a line may run through it
            made.remove()
            return False
        self.boxes.append(box)
        return True

    def _crowd(self, box: Box) -> float:
        """How much is in a box already: other words cost most, lines little, outside too much."""
        x0, y0, x1, y1 = box
        pad = 1.5
        cost = 0.0
        frame = self.axes.get_window_extent()
        if x0 < frame.x0 or x1 > frame.x1 or y0 < frame.y0 or y1 > frame.y1:
            cost += 200.0
        for a0, b0, a1, b1 in self.boxes:
            wide = min(x1, a1) - max(x0, a0) + pad
            tall = min(y1, b1) - max(y0, b0) + pad
            if wide > 0 and tall > 0:
                cost += 50.0 + wide * tall
        for line in self.lines_px:
            for p, q in itertools.pairwise(line):
                if _crosses(p, q, (x0 - pad, y0 - pad, x1 + pad, y1 + pad)):
                    cost += 1.0
        return cost

    def size(
        self,
        from_m: float,
        to_m: float,
        at_m: float,
        words: str,
        *,
        upright: bool = False,
        reach_from_m: float | None = None,
        reach_to_m: float | None = None,
        colour: Colour = INK_HEX,
    ) -> None:
        """A dimension between two distances, with lines that reach out to it.

        Parameters
        ----------
        from_m, to_m : float
            The distances; heights for an upright one. [m]
        at_m : float
            Height of the dimension line, or where it stands. [m]
        words : str
            Name and value.
        upright : bool
            Whether it is between heights.
        reach_from_m, reach_to_m : float, optional
            Heights, or distances, from which the two ends come. [m]
        """

        def place(along_m: float, across_m: float) -> Floats:
            return np.array([across_m, along_m] if upright else [along_m, across_m])

        self._dimension(
            place(from_m, at_m), place(to_m, at_m), words,
            None if reach_from_m is None else place(from_m, reach_from_m),
            None if reach_to_m is None else place(to_m, reach_to_m), colour,
        )  # fmt: skip

    def _dimension(
        self,
        a: Floats,
        b: Floats,
        words: str,
        reach_a: Floats | None,
        reach_b: Floats | None,
        colour: Colour,
    ) -> None:
        mm = self.mm
        if (b - a).sum() < 0:
            a, b, reach_a, reach_b = b, a, reach_b, reach_a
        upright = abs(b[1] - a[1]) > abs(b[0] - a[0])
        for point, reach in ((a, reach_a), (b, reach_b)):
            if reach is not None and np.hypot(*(reach - point)) > 0.5 * mm:
                way = (point - reach) / np.hypot(*(point - reach))
                ends = np.array([reach + 0.8 * mm * way, point + 1.2 * mm * way])
                self.line(ends, QUIET_HEX, 0.3, avoid=False, clip=False, order=2.6)
        tick = 0.9 * mm * np.array([1.0, 1.0])
        for point in (a, b):
            self.line([point - tick, point + tick], colour, 0.8, avoid=False, clip=False, order=4)
        turn = 90.0 if upright else 0.0
        probe = self.text((a + b) / 2, words, turn_deg=turn, keep=False)
        box = self.box_of(probe)
        probe.remove()
        pixels = self.axes.transData.transform(np.array([a, b]))
        room = float(np.abs(pixels[1] - pixels[0]).max())
        needs = (box[3] - box[1]) if upright else (box[2] - box[0])
        px = 1 / self.px_m
        if needs + 2.5 * mm * px < room:
            self.line([a, b], colour, 0.4, avoid=False, clip=False, order=3.4)
            self.text((a + b) / 2, words, turn_deg=turn, colour=colour)
            return
        # beside the narrow dimension: after its far end
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-12)
        self.line([a - 2.2 * mm * way, b + 2.2 * mm * way], colour, 0.4, avoid=False, clip=False,
                  order=3.4)  # fmt: skip
        at = b + 3.2 * mm * way
        self.text(at, words, turn_deg=turn, colour=colour, align="left")

    @property
    def px_m(self) -> float:
        """Metres for each of the figure's pixels."""
        two = self.axes.transData.transform(np.array([[0.0, 0.0], [1.0, 0.0]]))
        return 1.0 / float(two[1, 0] - two[0, 0])

    def scale_bar(self, at_m: Floats, whole_m: float, parts: int, words: Sequence[str]) -> None:
        """A bar of equal parts, dark and light, with words under its two ends and its middle."""
        part, tall = whole_m / parts, 1.1 * self.mm
        for k in range(parts):
            x = float(at_m[0]) + k * part
            corners = [(x, at_m[1]), (x + part, at_m[1]), (x + part, at_m[1] + tall),
                       (x, at_m[1] + tall)]  # fmt: skip
            self.fill(
                np.array(corners), INK_HEX if k % 2 == 0 else PAPER_HEX, edge=INK_HEX,
                wide_pt=0.4, order=5, clip=False,
            )  # fmt: skip
        for share, word in zip(np.linspace(0, 1, len(words)), words, strict=True):
            self.text(
                (float(at_m[0]) + share * whole_m, float(at_m[1]) - 0.8 * self.mm), word,
                size_pt=0.85 * self.text_pt, rise="top", halo=False, colour=QUIET_HEX,
            )  # fmt: skip


def _crosses(p: Floats, q: Floats, box: Box) -> bool:
    """Whether a straight line meets a box (Liang and Barsky 1984, from memory)."""
    low, high = 0.0, 1.0
    step = q - p
    for axis, (a, b) in enumerate(((box[0], box[2]), (box[1], box[3]))):
        if abs(step[axis]) < 1e-12:
            if not a <= p[axis] <= b:
                return False
            continue
        t, u = (a - p[axis]) / step[axis], (b - p[axis]) / step[axis]
        low, high = max(low, min(t, u)), min(high, max(t, u))
    return low <= high and math.isfinite(low)
