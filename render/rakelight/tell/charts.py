"""Charts of a sweep: the drama map, profiles, and single values against what is swept.

Lines go from dark to light in the order of the sweep, maps take the colours of `cividis`, as
false colour does: both read in grey and to colour-blind eyes.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from textwrap import wrap
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, LogNorm, Normalize, PowerNorm
from matplotlib.figure import Figure
from numpy.typing import NDArray

from rakelight.tell.lettering import HAIRLINE, INK, QUIET
from rakelight.tell.plates.page import installed_family

Floats = NDArray[np.float64]

TEXT = "#{:02x}{:02x}{:02x}".format(*INK)
SOFT = "#{:02x}{:02x}{:02x}".format(*QUIET)
GRID = "#{:02x}{:02x}{:02x}".format(*HAIRLINE)
#: One hue from dark to light, as the candela curves have it.
SERIES = LinearSegmentedColormap.from_list("series", ["#0f3b46", "#2f6f7c", "#5f9aa3", "#a9ccd0"])
ACCENT = "#c2552d"


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """What is swept, as an axis.

    Parameters
    ----------
    at : sequence of float
        Place of each step.
    words : str
        Noun and unit.
    names : sequence of str
        Labels of the steps.
    named : bool
        True where the steps are names, not numbers.
    """

    at: Sequence[float]
    words: str
    names: Sequence[str]
    named: bool = False


def bytes_of(figure: Figure, kind: Literal["png", "svg"]) -> bytes:
    """Bytes of a chart, the same every time; type as on the plates, outlined in SVG."""
    buffer = io.BytesIO()
    metadata = {"Date": None} if kind == "svg" else {"Software": None}
    with matplotlib.rc_context(_type(**{"svg.hashsalt": "rakelight"})):
        figure.savefig(buffer, format=kind, dpi=160, facecolor="white", metadata=metadata)
    return buffer.getvalue()


def _type(**more: Any) -> Any:
    """The plates' face for matplotlib, with further settings."""
    more["font.family"] = installed_family()
    return more


def drama_map(
    axis: Axis,
    height: Floats,
    modulation: Floats,
    zones: Sequence[Sequence[tuple[float, float]]],
    centres: Sequence[float],
    *,
    unit: str,
    wall: float,
) -> Figure:
    """Texture modulation by height and by what is swept.

    Parameters
    ----------
    axis : Axis
        What is swept.
    height : ndarray of float64, shape (bands,)
        Middles of the bands. [`unit`]
    modulation : ndarray of float64, shape (bands, steps)
        S over the lit wall's mean luminance.
    zones : sequence of sequence of (float, float)
        Drama zones of each step. [`unit`]
    centres : sequence of float
        Drama centre of each step. [`unit`]
    unit : str
        Of heights.
    wall : float
        Height of the wall. [`unit`]
    """
    with matplotlib.rc_context(_type()):
        figure = Figure(figsize=(9.6, 6.4))
        plot = figure.add_axes((0.085, 0.115, 0.78, 0.775))
        edges = _edges(axis.at)
        bands = np.linspace(0.0, wall, height.size + 1)
        drawn = plot.pcolormesh(
            edges,
            bands,
            100 * modulation,
            cmap="cividis",
            norm=PowerNorm(0.5, vmin=0.0),
            rasterized=True,
            linewidth=0,
        )
        for left, right, step in zip(edges[:-1], edges[1:], zones, strict=True):
            for low, high in step:
                plot.plot([left, right], [low, low], color="white", lw=1.6, solid_capstyle="butt")
                plot.plot([left, right], [high, high], color="white", lw=1.6, solid_capstyle="butt")
        _join_zones(plot, edges, zones)
        plot.plot(axis.at, centres, color="black", lw=3.4, alpha=0.55)
        plot.plot(axis.at, centres, color="white", lw=2.0, marker="o", ms=5)
        _label_line(plot, axis, centres)
        _frame(plot)
        _ticks(plot, axis, edges)
        plot.set_ylim(0, wall)
        plot.set_ylabel(f"height on the wall, {unit}", fontsize=11, color=TEXT)
        bar_axes = figure.add_axes((0.885, 0.115, 0.018, 0.775))
        bar = figure.colorbar(drawn, cax=bar_axes)
        bar.outline.set_visible(False)
        bar.ax.tick_params(labelsize=10, colors=TEXT, length=0)
        bar.set_label(
            "light and shade, % of the lit wall's mean luminance", fontsize=11, color=TEXT
        )
        _title(
            figure,
            "Where the texture shows",
            "outlined, the drama: half of the step's strongest, or more",
        )
    return figure


def profiles(
    axis: Axis,
    curves: Sequence[tuple[Floats, Floats]],
    *,
    along: str,
    light: str,
    title: str,
    upright: bool,
) -> Figure:
    """Light by height, or by distance across a ceiling, one line a step.

    Parameters
    ----------
    axis : Axis
        What is swept.
    curves : sequence of (ndarray, ndarray)
        Places and illuminances of each step.
    along, light : str
        Words of the two axes.
    title : str
        Over the chart.
    upright : bool
        True: places go up the page, as on a wall.
    """
    with matplotlib.rc_context(_type()):
        figure = Figure(figsize=(9.6, 6.0))
        plot = figure.add_axes((0.085, 0.12, 0.74, 0.76))
        colours = [SERIES(v) for v in np.linspace(0, 1, max(len(curves), 2))]
        for (place, lx), colour in zip(curves, colours, strict=False):
            plot.plot(*((lx, place) if upright else (place, lx)), color=colour, lw=1.7)
        _frame(plot)
        plot.grid(color=GRID, lw=0.6)
        plot.set_axisbelow(True)
        (plot.set_xlim if upright else plot.set_ylim)(0, None)
        (plot.set_ylim if upright else plot.set_xlim)(
            min(float(place.min()) for place, _ in curves) if not upright else 0,
            max(float(place.max()) for place, _ in curves),
        )
        plot.set_xlabel(light if upright else along, fontsize=11, color=TEXT)
        plot.set_ylabel(along if upright else light, fontsize=11, color=TEXT)
        _key(figure, axis, colours)
        _title(figure, title, "")
    return figure


def values_chart(
    axis: Axis, panels: Sequence[tuple[str, Sequence[tuple[str, Sequence[float]]]]]
) -> Figure:
    """Single values against what is swept, one panel above the other.

    Parameters
    ----------
    axis : Axis
        What is swept.
    panels : sequence of (str, lines)
        Words of a panel, and its lines as (name, values).
    """
    with matplotlib.rc_context(_type()):
        tall = 1.75 * len(panels) + 1.0
        figure = Figure(figsize=(9.6, tall))
        for number, (words, lines) in enumerate(panels):
            low = (0.7 + 1.75 * (len(panels) - 1 - number)) / tall
            plot = figure.add_axes((0.085, low, 0.74, 1.35 / tall))
            nudges = _apart([values[-1] for _, values in lines])
            for k, (name, values) in enumerate(lines):
                colour = (SERIES(0.12), SERIES(0.7), ACCENT)[k % 3]
                style = "none" if axis.named else "-"
                plot.plot(axis.at, values, color=colour, lw=1.8, ls=style, marker="o", ms=4.5)
                shown = [(x, v) for x, v in zip(axis.at, values, strict=True) if np.isfinite(v)]
                if shown and name:
                    plot.annotate(
                        name, shown[-1], (9, nudges[k]), textcoords="offset points", va="center",
                        fontsize=10.5, color=colour, annotation_clip=False,
                    )  # fmt: skip
            _frame(plot)
            plot.grid(color=GRID, lw=0.6)
            plot.set_axisbelow(True)
            finite = [v for _, values in lines for v in values if np.isfinite(v)]
            plot.set_ylim(min(0.0, *finite) if finite else 0.0, 1.12 * max(finite, default=1.0))
            plot.set_title(words, loc="left", fontsize=11, color=TEXT, pad=5)
            _ticks(plot, axis, _edges(axis.at), words=number == len(panels) - 1)
    return figure


def value_map(
    across: Axis,
    up: Axis,
    values: Floats,
    title: str,
    say: Sequence[Sequence[str]],
    *,
    more: str = "",
    by_factors: bool = False,
) -> Figure:
    """One value over two that are swept.

    Parameters
    ----------
    across, up : Axis
        The first and the second of them; their places are those of columns and rows.
    values : ndarray of float64, shape (rows, columns)
        NaN where a step could not be built, or has no such value.
    title : str
        What the value is.
    say : sequence of sequence of str
        Words of each cell; empty where there is no step.
    more : str
        Of what, under the title.
    by_factors : bool
        True for ratios, whose colours go by factors: one very large one else leaves no colours
        for the others.
    """
    with matplotlib.rc_context(_type()):
        rows, columns = values.shape
        figure = Figure(figsize=(max(6.4, 0.72 * columns + 2.4), max(4.2, 0.5 * rows + 1.9)))
        plot = figure.add_axes((0.14, 0.15, 0.82, 0.72))
        masked = np.ma.masked_invalid(values)
        low, high = masked.min(), masked.max()
        norm = (LogNorm if by_factors else Normalize)(low, high)
        plot.pcolormesh(
            np.arange(columns + 1) - 0.5, np.arange(rows + 1) - 0.5, masked, cmap="cividis",
            edgecolor="white", linewidth=1.2, norm=norm,
        )  # fmt: skip
        for (row, column), value in np.ndenumerate(values):
            if np.isfinite(value):
                dark = norm(value) < 0.55
                plot.text(
                    column, row, say[row][column], ha="center", va="center", fontsize=9.5,
                    color="white" if dark else TEXT,
                )  # fmt: skip
            else:
                plot.text(
                    column, row, say[row][column] or "–", ha="center", va="center", fontsize=9.5,
                    color=SOFT,
                )  # fmt: skip
        plot.set_xticks(range(columns), across.names)
        plot.set_yticks(range(rows), up.names)
        _frame(plot)
        plot.set_xlabel(across.words.split(",")[0], fontsize=11, color=TEXT)
        plot.set_ylabel(up.words.split(",")[0], fontsize=11, color=TEXT)
        _title(figure, title, "")
        figure.text(0.085, 0.897, more, fontsize=10, color=SOFT, va="center")
    return figure


def _edges(at: Sequence[float]) -> Floats:
    """Borders half way between places; the outer ones as far out as the next half way."""
    places = np.asarray(at, np.float64)
    if places.size == 1:
        return np.array([places[0] - 0.5, places[0] + 0.5])
    middles = (places[1:] + places[:-1]) / 2
    first, last = 2 * places[0] - middles[0], 2 * places[-1] - middles[-1]
    return np.concatenate([[first], middles, [last]])


def _apart(values: Sequence[float]) -> list[float]:
    """How far to move the names of lines that end close together. [points]"""
    if len(values) != 2 or not all(np.isfinite(values)):
        return [0.0] * len(values)
    one, other = values
    if abs(one - other) > 0.12 * max(abs(one), abs(other)):
        return [0.0, 0.0]
    return [7.0, -7.0] if one >= other else [-7.0, 7.0]


def _join_zones(plot: Axes, edges: Floats, zones: Sequence[Sequence[tuple[float, float]]]) -> None:
    """Uprights between the outlines of neighbouring steps, wherever only one of them is inside."""
    for number, x in enumerate(edges):
        before = zones[number - 1] if number > 0 else ()
        after = zones[number] if number < len(zones) else ()
        cuts = sorted({v for zone in (*before, *after) for v in zone})
        for low, high in pairwise(cuts):
            middle = (low + high) / 2
            inside = [any(a < middle < b for a, b in side) for side in (before, after)]
            if inside[0] != inside[1]:
                plot.plot([x, x], [low, high], color="white", lw=1.6, solid_capstyle="butt")


def _label_line(plot: Axes, axis: Axis, centres: Sequence[float]) -> None:
    k = (len(axis.at) - 1) // 2  # the words run to the right, on the side that the line leaves
    up = 14 if centres[-1] <= centres[k] else -14
    plot.annotate(
        "drama centre: mean height of all light and shade", (axis.at[k], centres[k]), (4, up),
        textcoords="offset points", ha="left", va="center", fontsize=10.5, color="white",
    )  # fmt: skip


def _ticks(plot: Axes, axis: Axis, edges: Floats, *, words: bool = True) -> None:
    plot.set_xlim(float(edges[0]), float(edges[-1]))
    if axis.named:
        plot.set_xticks(list(axis.at), axis.names if words else [""] * len(axis.names))
    elif not words:
        plot.tick_params(labelbottom=False)
    if words:
        plot.set_xlabel(axis.words, fontsize=11, color=TEXT)


def _frame(plot: Axes) -> None:
    plot.tick_params(labelsize=10, colors=TEXT, length=0, pad=4)
    for name, spine in plot.spines.items():
        spine.set_visible(name in ("bottom", "left"))
        spine.set_color(SOFT)
        spine.set_linewidth(0.8)


def _key(figure: Figure, axis: Axis, colours: Sequence[Any]) -> None:
    """Names of the steps beside the chart, in the lines' colours; few of many."""
    count = len(axis.names)
    shown = range(count) if count <= 16 else np.unique(np.linspace(0, count - 1, 12).round())
    head = wrap(axis.words.split(",")[0], 20)
    for row, words in enumerate(head):
        figure.text(0.85, 0.9 - 0.035 * row, words, fontsize=10.5, color=SOFT, va="center")
    top = 0.9 - 0.035 * len(head) - 0.01
    for row, k in enumerate(int(k) for k in shown):
        figure.text(
            0.85, top - 0.045 * row, axis.names[k], fontsize=10.5, color=colours[k], va="center",
        )  # fmt: skip


def _title(figure: Figure, title: str, more: str) -> None:
    figure.text(0.085, 0.945, title, fontsize=15, color=TEXT, va="center")
    if more:
        figure.text(0.865, 0.943, more, fontsize=10.5, color=SOFT, va="center", ha="right")
