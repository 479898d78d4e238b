"""A scanned sample becomes a height field: seen from its front, cropped, filled, made to repeat."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.kernels.cells import (
    front_heights,
    hidden_area,
    largest_rectangle,
)
from rakelight.build.scan_frame import Floats, Indices, outline_turn_rad, scan_frame
from rakelight.build.scan_mending import Heights, fill_holes, tiled, widest_hole_m
from rakelight.scene.number import Number

# Points, faces and their copies; the grid with masks, labels and levels of filling.
_BYTES_PER_POINT, _BYTES_PER_FACE, _BYTES_PER_CELL = 100, 60, 60
_FLATTEST_M, _DEEPEST_M = 1e-6, 1.0
_FEWEST_CELLS = 8
_FINEST = 4
_SHOWS_M = 0.005
_WORTH_TURNING_RAD = math.radians(1.0)


@dataclass(frozen=True, slots=True)
class ScanWish:
    """What is asked of a projection.

    Parameters
    ----------
    step_m : float
        Side of a cell. [m], > 0
    front : tuple of float, optional
        Roughly toward the viewer, in the mesh's coordinates.
    turn_rad : float
        Turn in the plane, counter-clockwise for the viewer. [rad]
    crop_m : tuple of float, optional
        Left, foot, width and height from the lower left corner of the levelled sample; not
        given: the largest rectangle without a bay in it. [m]
    most_holes : float
        Largest share of the rectangle that may be filled. 0 to 1
    tile : bool
        Blend the borders, so that it repeats without a seam.
    blend_m : float, optional
        Width that opposite borders share; not given: an eighth of each side. [m]
    """

    step_m: float = 0.001
    front: tuple[float, float, float] | None = None
    turn_rad: float = 0.0
    crop_m: tuple[float, float, float, float] | None = None
    most_holes: float = 0.05
    tile: bool = False
    blend_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ScannedRelief:
    """A height field from a scan.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Toward the viewer, 0 = deepest; row 0 at the foot. [m]
    step_m : float
        Side of a cell. [m]
    tile : bool
        Whether it repeats without a seam.
    numbers : tuple of Number
        What was done and what was lost.
    notes : tuple of str
        What had to be guessed, and cautions.
    """

    heights_m: Heights
    step_m: float
    tile: bool
    numbers: tuple[Number, ...]
    notes: tuple[str, ...]


def project_scan(
    points_m: Floats, faces: Indices, wish: ScanWish, *, memory_bytes: int | None = None
) -> ScannedRelief:
    """Project a sample onto its plane.

    Parameters
    ----------
    points_m : ndarray of float64, shape (n, 3)
        z up. [m]
    faces : ndarray of int64, shape (m, 3)
        Triangles.
    wish : ScanWish
        What is asked for.
    memory_bytes : int, optional
        Memory that may be used; None: any.

    Returns
    -------
    ScannedRelief
        Heights at the cells' middles, or their mean over the cell where the scan is finer.

    Raises
    ------
    ValueError
        If there is no relief, too much of it is missing, or it would not fit the memory.
    """
    if not 0 < wish.step_m < math.inf:
        raise ValueError(f"the step is {wish.step_m} m; it must be above 0")
    front = None if wish.front is None else np.array(wish.front)
    frame = scan_frame(points_m, faces, front, wish.turn_rad)
    notes = list(frame.notes)
    placed = points_m @ frame.axes.T
    placed -= placed.min(axis=0)
    width, height, _ = (float(v) for v in placed.max(axis=0))
    columns, rows = (max(1, math.floor(s / wish.step_m + 1e-6)) for s in (width, height))
    _check_memory(len(points_m), len(faces), (width, height), wish.step_m, memory_bytes)
    if min(rows, columns) < _FEWEST_CELLS:
        raise ValueError(
            f"the sample is {_mm(width)} x {_mm(height)} mm, too small for a step of "
            f"{_mm(wish.step_m)} mm; use a finer step, or check the unit"
        )
    turn, filled = outline_turn_rad(placed[:, 0], placed[:, 1])
    if filled > 0.9 and abs(turn) > _WORTH_TURNING_RAD:
        stated = math.degrees(wish.turn_rad - turn)
        notes.append(f"its outline lies turned; --turn {stated:.1f} would set it upright")
    fine = _finer(faces, width * height, wish.step_m)
    if memory_bytes is not None:
        while fine > 1 and 12 * fine**2 * rows * columns > memory_bytes // 4:
            fine -= 1
    small, triangles = placed.astype(np.float32), faces.astype(np.int32)
    small[:, :2] = placed[:, :2] * (fine / wish.step_m)
    del placed
    raster = np.full((rows * fine, columns * fine), -np.inf, dtype=np.float32)
    front_heights(small, triangles, raster)
    heights = _averaged(raster, fine)

    seen = np.isfinite(heights)
    if not seen.any():
        raise ValueError(f"nothing is seen at a step of {_mm(wish.step_m)} mm; use a finer")
    window = _window(seen, wish)
    kept = heights[window[0] : window[1], window[2] : window[3]].copy()
    holes = ~np.isfinite(kept)
    hole_share = float(holes.mean())
    if hole_share > wish.most_holes:
        raise ValueError(
            f"holes are {hole_share:.1%} of the rectangle, more than the {wish.most_holes:.1%} "
            "allowed; --crop keeps a part without them, --holes allows more"
        )
    areas = np.zeros(3)
    at = np.array(window, dtype=np.int32) * fine
    hidden_area(small, triangles, raster, wish.step_m / fine, frame.outward, at, areas)
    del raster, small, triangles
    widest = widest_hole_m(holes, wish.step_m)
    if widest > 0:
        fill_holes(kept, holes)
    if widest > _SHOWS_M:
        notes.append(
            f"its widest hole, {_mm(widest)} mm across, is filled smoothly and will show as a "
            "smooth patch under a graze"
        )
    kept -= np.float32(kept.mean(dtype=np.float64))
    kept_share = int(seen[window[0] : window[1], window[2] : window[3]].sum()) / int(seen.sum())
    blend = (0, 0)
    if wish.tile:
        kept, blend = tiled(kept, wish.step_m, wish.blend_m)
    kept -= kept.min()
    depth = float(kept.max())
    _check_depth(depth)
    _note_spikes(kept, depth, notes)
    if frame.sided < 0.2 and areas[1] > 0:
        notes.append("what is turned away holds the sample's own rear, if it is closed")
    total = max(float(areas[0]), 1e-300)
    numbers: tuple[Number, ...] = (
        _number("triangles", float(len(faces)), "1", "triangles in the scan"),
        _number("outline_width_m", width, "m", "levelled sample, width"),
        _number("outline_height_m", height, "m", "levelled sample, height"),
        _number("left_m", window[2] * wish.step_m, "m", "cropped away on the left"),
        _number("foot_m", window[0] * wish.step_m, "m", "cropped away at the foot"),
        _number("width_m", kept.shape[1] * wish.step_m, "m", "width kept"),
        _number("height_m", kept.shape[0] * wish.step_m, "m", "height kept"),
        _number("depth_m", depth, "m", "deepest to highest point"),
        _number("step_m", wish.step_m, "m", "step of the height map"),
        _number("cropped_share", 1 - kept_share, "1", "of what is seen was cropped away"),
        _number("hole_share", hole_share, "1", "of the rectangle were holes, now filled"),
        _number("widest_hole_m", widest, "m", "across the widest hole"),
        _number("away_share", areas[1] / total, "1", "of the surface is turned away, lost"),
        _number("behind_share", areas[2] / total, "1", "of the surface lies behind, lost"),
    )
    if wish.tile:
        numbers += (
            _number("blend_u_m", blend[1] * wish.step_m, "m", "of the width spent on blending"),
            _number("blend_v_m", blend[0] * wish.step_m, "m", "of the height spent on blending"),
        )
    return ScannedRelief(kept, wish.step_m, wish.tile, numbers, tuple(notes))


def _mm(length_m: float) -> str:
    return f"{1000 * length_m:.0f}" if length_m >= 0.01 else f"{1000 * length_m:.3g}"


def _number(key: str, value: float, unit: str, says: str) -> Number:
    return Number(f"scan.{key}", float(value), unit, says)


def _check_memory(
    points: int, faces: int, size_m: tuple[float, float], step_m: float, memory_bytes: int | None
) -> None:
    if memory_bytes is None:
        return
    mesh = points * _BYTES_PER_POINT + faces * _BYTES_PER_FACE
    cells = max(1.0, size_m[0] / step_m) * max(1.0, size_m[1] / step_m)
    if mesh + cells * _BYTES_PER_CELL <= memory_bytes:
        return
    if mesh >= 0.9 * memory_bytes:
        raise ValueError(
            f"{faces:,} triangles need about {mesh / 1e9:.1f} GB and {memory_bytes / 1e9:.1f} GB "
            "are free; thin the mesh out"
        )
    fits = math.sqrt(size_m[0] * size_m[1] * _BYTES_PER_CELL / (memory_bytes - mesh))
    rounded = math.ceil(fits * 1e5 + 1) / 1e5
    raise ValueError(
        f"{cells:,.0f} cells at a step of {_mm(step_m)} mm need about "
        f"{(mesh + cells * _BYTES_PER_CELL) / 1e9:.1f} GB and {memory_bytes / 1e9:.1f} GB are "
        f"free; a step of {rounded * 1000:.2f} mm would fit"
    )


def _finer(faces: Indices, area_m2: float, step_m: float) -> int:
    """How many samples along a cell: several where triangles are smaller than a cell."""
    edge = math.sqrt(2 * area_m2 / len(faces))
    return int(np.clip(math.ceil(step_m / max(edge, 1e-9) - 1e-6), 1, _FINEST))


def _averaged(raster: Heights, fine: int) -> Heights:
    """Mean over each cell where half of it is seen, else NaN."""
    if fine == 1:
        out: Heights = np.where(np.isfinite(raster), raster, np.float32(np.nan))
        return out
    rows, columns = raster.shape[0] // fine, raster.shape[1] // fine
    total = np.zeros((rows, columns), dtype=np.float32)
    count = np.zeros((rows, columns), dtype=np.int32)
    for i in range(fine):
        for k in range(fine):
            part = raster[i::fine, k::fine]
            there = np.isfinite(part)
            total += np.where(there, part, np.float32(0))
            count += there
    total[2 * count < fine * fine] = np.nan
    total /= np.maximum(count, 1).astype(np.float32)
    return total


def _window(seen: NDArray[np.bool_], wish: ScanWish) -> tuple[int, int, int, int]:
    """First and end row, first and end column to keep."""
    rows, columns = seen.shape
    step = wish.step_m
    if wish.crop_m is not None:
        left, foot, width, height = wish.crop_m
        first, end = round(left / step), round((left + width) / step)
        low, top = round(foot / step), round((foot + height) / step)
        if first < 0 or low < 0 or end > columns or top > rows:
            raise ValueError(
                f"the crop reaches beyond the levelled sample, which is "
                f"{columns * step * 1000:.0f} x {rows * step * 1000:.0f} mm"
            )
        window = (low, top, first, end)
    else:
        from scipy.ndimage import label

        # holes within the sample are filled later; bays at its border are cropped away
        labels, _ = label(~seen)
        rim = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
        outside = np.isin(labels, rim[rim > 0])
        found = np.zeros(4, dtype=np.int64)
        largest_rectangle(~outside, found)
        window = (int(found[0]), int(found[1]), int(found[2]), int(found[3]))
    if min(window[1] - window[0], window[3] - window[2]) < _FEWEST_CELLS:
        raise ValueError(
            f"what can be kept is under {_FEWEST_CELLS} cells wide or high; use a finer step"
        )
    return window


def _check_depth(depth_m: float) -> None:
    if depth_m < _FLATTEST_M:
        raise ValueError("zero thickness: the sample is flat, so there is no relief to keep")
    if depth_m > _DEEPEST_M:
        raise ValueError(
            f"it stands out {depth_m:.3g} m; a relief has at most {_DEEPEST_M:g} m. "
            "Check the unit and --front"
        )


def _note_spikes(heights_m: Heights, depth_m: float, notes: list[str]) -> None:
    low, high = np.percentile(heights_m, [0.1, 99.9])
    if high - low < 0.5 * depth_m:
        notes.append(
            f"99.8 % of it lies within {1000 * (high - low):.1f} mm of the {1000 * depth_m:.1f} mm "
            "depth: single spikes or pits, perhaps stray points of the scan"
        )
