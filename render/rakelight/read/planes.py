"""A file's measured planes, opened out over its symmetry to the whole sphere.

The file's own nodes are kept to the last digit; nothing is extended beyond the last plane of a
symmetric file, and outside the file's vertical range the candela is 0 behind a hard edge.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.angle_grid import HARD_EDGE_RAD, NativeGrid

Floats = NDArray[np.float64]
Symmetry = Literal["rotational", "quadrants", "C0-C180", "C90-C270", "none"]

SYMMETRY_WORDS: dict[Symmetry, str] = {
    "rotational": "rotational (one plane for all)",
    "quadrants": "four quadrants alike (C0-C90)",
    "C0-C180": "mirrored about the plane C0-C180",
    "C90-C270": "mirrored about the plane C90-C270",
    "none": "none (full circle)",
}
# Values at a pole, or on the two ends of the circle, that differ by less are taken as equal.
SAME = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Sphere:
    """Candela on a C-gamma grid over the whole sphere, with what was repaired on the way.

    Parameters
    ----------
    c_rad : ndarray of float64, shape (planes,)
        0 to 2 pi inclusive. [rad]
    gamma_rad : ndarray of float64, shape (angles,)
        0 to pi inclusive. [rad]
    candela : ndarray of float64, shape (planes, angles)
        [cd]
    notes : tuple of str
        For the user.
    """

    c_rad: Floats
    gamma_rad: Floats
    candela: Floats
    notes: tuple[str, ...]


def open_out(c_deg: Floats, gamma_deg: Floats, candela: Floats, symmetry: Symmetry) -> Sphere:
    """Expand stored type C planes over their symmetry.

    Parameters
    ----------
    c_deg : ndarray of float64, shape (planes,)
        Stored planes, increasing. Symmetric sets hold their whole half or quarter; ``none``
        runs from 0 to 360 inclusive. [deg]
    gamma_deg : ndarray of float64, shape (angles,)
        Stored vertical angles, increasing, within 0 to 180. [deg]
    candela : ndarray of float64, shape (planes, angles)
        [cd]
    symmetry : str
        Which set of planes this is.

    Returns
    -------
    Sphere
        The file's nodes and their mirror images.
    """
    notes: list[str] = []
    if symmetry == "rotational":
        c_deg, candela = np.linspace(0, 360, 5), np.repeat(candela[:1], 5, axis=0)
    elif symmetry == "none":
        candela = _closed(candela, notes)
    else:
        images = {
            "quadrants": (c_deg, 180 - c_deg, 180 + c_deg, 360 - c_deg),
            "C0-C180": (c_deg, 360 - c_deg),
            "C90-C270": (c_deg, 180 - c_deg),
        }[symmetry]
        c_deg, candela = _whole_circle(np.concatenate(images), np.tile(candela, (len(images), 1)))
    c_rad = np.deg2rad(c_deg)
    c_rad[0], c_rad[-1] = 0.0, 2 * np.pi
    gamma_rad, candela = _whole_meridian(np.deg2rad(gamma_deg), candela)
    candela = np.array(candela)
    for column, pole in ((0, "gamma 0"), (-1, "gamma 180")):
        _one_value(candela[:, column], c_rad, pole, "C planes", notes)
    return Sphere(c_rad, gamma_rad, candela, tuple(notes))


def open_out_native(
    photometric_type: Literal["A", "B"], h_deg: Floats, v_deg: Floats, candela: Floats
) -> tuple[NativeGrid, tuple[str, ...]]:
    """Expand a stored type A or B grid to -90..90 in both angles.

    Parameters
    ----------
    photometric_type : {"A", "B"}
        The file's frame.
    h_deg, v_deg : ndarray of float64, shape (planes,), (angles,)
        Stored angles, -90..90 or 0..90 each. [deg]
    candela : ndarray of float64, shape (planes, angles)
        [cd]

    Returns
    -------
    grid : NativeGrid
        The file's nodes and their mirror images.
    notes : tuple of str
        For the user.
    """
    notes: list[str] = []
    if h_deg[0] == 0:
        h_deg = np.concatenate([-h_deg[:0:-1], h_deg])
        candela = np.concatenate([candela[:0:-1], candela])
    if v_deg[0] == 0:
        v_deg = np.concatenate([-v_deg[:0:-1], v_deg])
        candela = np.concatenate([candela[:, :0:-1], candela], axis=1)
        notes.append(
            f"type {photometric_type} with vertical angles 0-90 only: the other half is not in "
            "the file and was taken as its mirror image"
        )
    candela = np.array(candela)
    h_rad, v_rad = np.deg2rad(h_deg), np.deg2rad(v_deg)
    for end, sign in ((0, "-"), (-1, "")):
        if photometric_type == "B":
            _one_value(candela[end], v_rad, f"H {sign}90", "vertical angles", notes)
        else:
            _one_value(candela[:, end], h_rad, f"V {sign}90", "horizontal angles", notes)
    return NativeGrid(photometric_type, h_rad, v_rad, candela), tuple(notes)


def seen_in_type_c(grid: NativeGrid) -> Sphere:
    """Resample a type A or B grid every 2.5 deg in C and gamma, for tables and drawings.

    Parameters
    ----------
    grid : NativeGrid
        The file's own grid, which stays the one that is computed with.

    Returns
    -------
    Sphere
        With the edge of the measured half kept hard.
    """
    quarter = np.pi / 2
    c, gamma = np.deg2rad(np.arange(0, 361, 2.5)), np.deg2rad(np.arange(0, 181, 2.5))
    if grid.photometric_type == "B":
        gamma = np.sort(np.append(gamma, quarter + 2 * HARD_EDGE_RAD))
    else:
        edges = [quarter + 2 * HARD_EDGE_RAD, 3 * quarter - 2 * HARD_EDGE_RAD]
        c = np.sort(np.append(c, edges))
    cc, gg = np.meshgrid(c, gamma, indexing="ij")
    directions = np.stack([np.sin(gg) * np.cos(cc), np.sin(gg) * np.sin(cc), -np.cos(gg)], axis=-1)
    candela = grid.candela_toward(directions)
    candela[-1] = candela[0]
    return Sphere(c, gamma, candela, ())


def _whole_circle(c_deg: Floats, candela: Floats) -> tuple[Floats, Floats]:
    """Planes in any order to 0..360 inclusive, the plane C0 interpolated if it was not stored."""
    c_deg, first = np.unique(np.mod(c_deg, 360.0), return_index=True)
    candela = candela[first]
    if c_deg[0] > 0:
        gap = c_deg[0] + 360 - c_deg[-1]
        share = c_deg[0] / gap
        zero = candela[0] * (1 - share) + candela[-1] * share
        c_deg, candela = np.append(0.0, c_deg), np.concatenate([zero[None], candela])
    return np.append(c_deg, 360.0), np.concatenate([candela, candela[:1]])


def _closed(candela: Floats, notes: list[str]) -> Floats:
    """Make the last plane, C360, repeat the first."""
    first, last = candela[0], candela[-1]
    if np.abs(first - last).max() > SAME * candela.max():
        notes.append(
            f"the plane C360 differs from C0 by up to {np.abs(first - last).max():.4g} cd: "
            "their mean was used for both"
        )
        mean = (first + last) / 2
        return np.concatenate([mean[None], candela[1:-1], mean[None]])
    return np.concatenate([candela[:-1], first[None]])


def _whole_meridian(gamma_rad: Floats, candela: Floats) -> tuple[Floats, Floats]:
    """Add what lies outside the file's vertical range: 0 candela behind a hard edge."""
    nothing = np.zeros((candela.shape[0], 1))
    start, end = float(gamma_rad[0]), float(gamma_rad[-1])
    if start > 0:
        edge = [0.0, start - HARD_EDGE_RAD] if candela[:, 0].any() else [0.0]
        gamma_rad = np.concatenate([edge, gamma_rad])
        candela = np.concatenate([np.repeat(nothing, len(edge), axis=1), candela], axis=1)
    if end < np.pi:
        edge = [end + HARD_EDGE_RAD, np.pi] if candela[:, -1].any() else [np.pi]
        gamma_rad = np.concatenate([gamma_rad, edge])
        candela = np.concatenate([candela, np.repeat(nothing, len(edge), axis=1)], axis=1)
    return gamma_rad, candela


def _one_value(
    values: Floats, around_rad: Floats, pole: str, planes: str, notes: list[str]
) -> None:
    """Give a pole one value, in place: the mean around it, which leaves the flux as it was."""
    largest, least = float(values.max()), float(values.min())
    if largest == least:
        return
    mean = float(np.trapezoid(values, around_rad) / (around_rad[-1] - around_rad[0]))
    values[:] = mean
    if largest - least > SAME * largest:
        notes.append(
            f"at {pole} the {planes} differ ({least:.4g} to {largest:.4g} cd) though it is one "
            f"direction: their mean, {mean:.4g} cd, was used"
        )
