"""Candela curves of photometric files: across the run and along it."""

import io
from collections.abc import Sequence
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from rakelight.measure.photometry import Curve, across_c_rad, curve_in_plane, downward_share
from rakelight.scene.intensity import Intensity
from rakelight.tell.photometry import peak_in_words

# One hue from dark to light; with the dashes four files can be told apart in grey too.
_INKS = ("#0f3b46", "#2f6f7c", "#5f9aa3", "#92bcc1")
_DASHES: tuple[str | tuple[int, tuple[float, ...]], ...] = (
    "solid",
    (0, (6, 2)),
    (0, (1.5, 1.5)),
    (0, (7, 2, 1.5, 2)),
)
_TEXT = "#23282a"
_GRID = "#c9cfd1"


def draw_candela_curves(intensities: Sequence[Intensity]) -> Figure:
    """Draw the curves of one or several files on one drawing.

    Parameters
    ----------
    intensities : sequence of Intensity
        Each is drawn in the plane across its own opening's longer side (throw to the right)
        and in the plane along it.

    Returns
    -------
    Figure
        Two panels with one scale, and a line of text for each file. Angles count from nadir,
        or from zenith where most of the light goes up.

    Raises
    ------
    ValueError
        If there is nothing to draw.
    """
    if not intensities:
        raise ValueError("no intensity distribution to draw")
    up = (
        sum(intensity.lumens * (1 - 2 * downward_share(intensity)) for intensity in intensities) > 0
    )
    panels = [
        [_panel_curve(i, across_c_rad(i), up=up) for i in intensities],
        [_panel_curve(i, i.long_side_c_rad, up=up) for i in intensities],
    ]
    largest = max(float(curve.candela.max()) for panel in panels for curve in panel)
    rows = len(intensities)
    below_in, plot_in, above_in = 0.75 + 0.25 * rows, 3.0, 0.4
    height_in = below_in + plot_in + above_in
    figure = Figure(figsize=(9.6, height_in), facecolor="none")
    for column, title in enumerate(("across the run", "along the run")):
        axes = figure.add_axes(
            (0.075 + 0.475 * column, below_in / height_in, 0.43, plot_in / height_in)
        )
        curves = panels[column]
        _style(axes, _span_deg(curves, largest), largest, numbered=column == 0)
        for k, curve in enumerate(curves):
            axes.plot(np.rad2deg(curve.angle_rad), curve.candela, **_pen(k))
        _name_sides(axes, curves, up=up)
        axes.set_title(title, fontsize=11, color=_TEXT, pad=8)
    for k, intensity in enumerate(intensities):
        y = (below_in - 0.72 - 0.25 * k) / height_in
        figure.add_artist(Line2D([0.075, 0.125], [y, y], **_pen(k)))
        figure.text(
            0.138, y,
            f"{intensity.name}: {intensity.lumens:.0f} lm, peak {peak_in_words(intensity)}",
            ha="left", va="center", fontsize=9.5, color=_TEXT,
        )  # fmt: skip
    return figure


def chart_bytes(figure: Figure, kind: Literal["png", "svg"]) -> bytes:
    """Turn a drawing into a file's bytes, the same every time.

    Parameters
    ----------
    figure : Figure
        Any drawing.
    kind : {"png", "svg"}
        SVG carries no date and fixed element names; text becomes outlines.

    Returns
    -------
    bytes
        Transparent background.
    """
    buffer = io.BytesIO()
    metadata = {"Date": None} if kind == "svg" else {"Software": None}
    with matplotlib.rc_context({"svg.hashsalt": "rakelight", "font.family": "DejaVu Sans"}):
        figure.savefig(buffer, format=kind, dpi=160, transparent=True, metadata=metadata)
    return buffer.getvalue()


def _pen(k: int) -> dict[str, Any]:
    """Ink and dashes of file k."""
    return {"color": _INKS[k % 4], "linestyle": _DASHES[(k + k // 4) % 4], "linewidth": 1.8}


def _panel_curve(intensity: Intensity, toward_c_rad: float, *, up: bool) -> Curve:
    """Curve with its angles from nadir, or from zenith, positive toward the named side."""
    curve = curve_in_plane(intensity, toward_c_rad)
    if not up:
        return curve
    # unroll at nadir: from -pi..pi about nadir to -pi..pi about zenith, mirrored back so that
    # the named side stays positive
    half = curve.angle_rad.size // 2
    rolled = np.concatenate([curve.candela[half:-1], curve.candela[: half + 1]])
    return Curve(curve.angle_rad, rolled[::-1], toward_c_rad)


def _span_deg(curves: Sequence[Curve], largest: float) -> tuple[float, float]:
    """Angles with more than a hundredth of the largest candela, out to the next 15 deg."""
    least, most = -30.0, 30.0
    for curve in curves:
        lit = np.rad2deg(curve.angle_rad[curve.candela > 0.01 * largest])
        if lit.size:
            least = min(least, 15 * np.floor(lit[0] / 15))
            most = max(most, 15 * np.ceil(lit[-1] / 15))
    reach = min(max(-least, most), 180.0)  # nadir in the middle: a lean is seen as a lean
    return -reach, reach


def _style(axes: Axes, span: tuple[float, float], largest: float, *, numbered: bool) -> None:
    step = _round_step(largest)
    top = step * np.ceil(1.02 * largest / step)
    axes.set_xlim(*span)
    axes.set_ylim(0, top)
    every = 15 if span[1] <= 90 else 30
    ticks = np.arange(0, span[1] + 1, every)
    ticks = np.concatenate([-ticks[:0:-1], ticks])
    axes.set_xticks(ticks, [f"{abs(v):.0f}°" for v in ticks])
    rings = np.arange(0, top + step / 2, step)
    labels = [f"{v:.0f}" if step >= 1 else f"{v:g}" for v in rings]
    axes.set_yticks(rings, labels if numbered else [""] * rings.size)
    if numbered:
        axes.set_ylabel("candela of one luminaire", fontsize=9.5, color=_TEXT)
    axes.grid(color=_GRID, linewidth=0.6)
    axes.axvline(0, color=_TEXT, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_facecolor("none")
    axes.tick_params(labelsize=9, colors=_TEXT, length=0, pad=4)
    for name, spine in axes.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_color(_TEXT)


def _name_sides(axes: Axes, curves: Sequence[Curve], *, up: bool) -> None:
    """Say what the middle and the two sides of the angle scale are."""
    toward = sorted({round(np.rad2deg(curve.toward_c_rad)) % 360 for curve in curves})
    right = " / ".join(f"C{v}" for v in toward)
    left = " / ".join(f"C{(v + 180) % 360}" for v in toward)
    for x, words, align in (
        (0.0, f"← {left}", "left"),
        (0.5, "from zenith" if up else "from nadir", "center"),
        (1.0, f"{right} →", "right"),
    ):
        axes.annotate(
            words, (x, 0), (0, -28), xycoords="axes fraction", textcoords="offset points",
            ha=align, va="center", fontsize=9.5, color=_TEXT,
        )  # fmt: skip


def _round_step(largest: float) -> float:
    """Spacing of 1, 2 or 5 times a power of ten that gives two to five lines."""
    power = 10.0 ** np.floor(np.log10(largest / 3))
    return float(next(m * power for m in (1, 2, 5, 10) if largest / (m * power) <= 5))
