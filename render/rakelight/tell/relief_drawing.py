"""A relief on one sheet: seen in raking light, and cut through."""

import io

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from rakelight.scene.relief import Relief

_TEXT = "#3a3836"
_STONE = "#b9b2a7"
_LINE = "#5b554e"


def raking_view(relief: Relief, elevation_rad: float) -> NDArray[np.float64]:
    """Parallel light from straight above, with its shadows: 1 where a flat wall would be 1.

    Parameters
    ----------
    relief : Relief
        What to look at.
    elevation_rad : float
        Angle of the light to the wall's plane. [rad], 0 to pi/2

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        Irradiance over that of a flat wall; row 0 at the foot.
    """
    heights = relief.heights_m.astype(np.float64)
    step_u, step_v = relief.grid.step_u_m, relief.grid.step_v_m
    slope_v, slope_u = np.gradient(heights, step_v, step_u)
    rise = np.tan(elevation_rad)
    # how far above a point the last crest over it lets light pass
    along_ray = heights - relief.grid.v_m()[:, None] * rise
    above = np.maximum.accumulate(along_ray[::-1], axis=0)[::-1]
    # soft over a third of a step's fall, or edges are stairs
    soft = max(rise * step_v / 3, 1e-9)
    lit = np.clip(1 - (above - along_ray) / soft, 0, 1)
    facing = (np.sin(elevation_rad) - slope_v * np.cos(elevation_rad)) / np.sqrt(
        1 + slope_u**2 + slope_v**2
    )
    return np.asarray(lit * np.clip(facing, 0, None) / np.sin(elevation_rad))


def draw_relief(relief: Relief, elevation_rad: float | None = None) -> bytes:
    """Draw a relief in raking light, with a section up its middle.

    Parameters
    ----------
    relief : Relief
        What to draw.
    elevation_rad : float, optional
        Angle of the light to the wall's plane; not given: flatter for a shallower relief. [rad]

    Returns
    -------
    bytes
        PNG, the same every time. The section's depth is drawn to a scale of its own.
    """
    if elevation_rad is None:
        slope = float(np.sqrt(np.mean(np.square(np.gradient(relief.heights_m, axis=0)))))
        elevation_rad = float(np.clip(4 * slope / relief.grid.step_v_m, *np.radians((3.0, 15.0))))
    width, height = relief.grid.width_m, relief.grid.height_m
    # a little of a spread, as an opening has, or every shadow's edge is a stair
    spread = [raking_view(relief, elevation_rad * f) for f in (0.8, 0.9, 1.0, 1.1, 1.25)]
    view = 0.03 + 0.97 * np.mean(spread, axis=0)
    tall = float(np.clip(8.0 * height / width, 2.2, 12.0))
    wide = tall * width / height
    sheet_w, sheet_h = wide + 2.7, tall + 1.0
    figure = Figure(figsize=(sheet_w, sheet_h), dpi=150, facecolor="white")
    foot = 0.55 / sheet_h
    face = figure.add_axes((0.5 / sheet_w, foot, wide / sheet_w, tall / sheet_h))
    cut = figure.add_axes(((wide + 0.8) / sheet_w, foot, 1.6 / sheet_w, tall / sheet_h))
    face.imshow(
        (view / (1 + view)) ** (1 / 2.2), cmap="gray", vmin=0, vmax=0.95, origin="lower",
        extent=(0, width, 0, height), interpolation="antialiased", aspect="auto",
    )  # fmt: skip
    face.set_title(
        f"{relief.name}, light from above at about {np.degrees(elevation_rad):.0f}° to the "
        "wall (a sketch, not a prediction)",
        fontsize=8.5, color=_TEXT, loc="left",
    )  # fmt: skip
    face.set_xlabel("m", fontsize=8, color=_TEXT)
    column = relief.grid.columns // 2
    profile_mm = relief.heights_m[:, column] * 1000
    v = relief.grid.v_m()
    cut.fill_betweenx(v, relief.backing_m * 1000, profile_mm, color=_STONE, linewidth=0)
    cut.plot(profile_mm, v, color=_LINE, linewidth=0.6)
    cut.axvline(0, color=_TEXT, linewidth=0.5, dashes=(6, 4))
    span = max(relief.highest_m - relief.backing_m, 1e-4) * 1000
    cut.set_xlim(relief.backing_m * 1000 - 0.03 * span, relief.highest_m * 1000 + 0.12 * span)
    cut.set_ylim(0, height)
    cut.set_yticks([])
    cut.set_title(f"section at {relief.grid.u_m()[column]:.2f} m", fontsize=8.5, color=_TEXT)
    cut.set_xlabel("mm from the mean plane", fontsize=8, color=_TEXT)
    for axes in (face, cut):
        axes.tick_params(labelsize=7.5, color=_TEXT, labelcolor=_TEXT, length=2.5)
        for side in axes.spines.values():
            side.set_visible(False)
    buffer = io.BytesIO()
    with matplotlib.rc_context({"font.family": "DejaVu Sans"}):
        figure.savefig(buffer, format="png", metadata={"Software": None})
    return buffer.getvalue()
