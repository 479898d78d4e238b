"""Candela on two angle lists: interpolation, flux, and the grids of types A and B."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A file that ends at gamma = 90 holds its own value there and nothing just beyond: the edge is
# this wide, far below any file's step and far above a direction's rounding. [rad]
HARD_EDGE_RAD = 1e-9


def sine_integral(low: Floats, high: Floats, start_rad: Floats, end_rad: Floats) -> Floats:
    """Integral of an intensity times sin(gamma) where the intensity is linear in gamma.

    Parameters
    ----------
    low, high : ndarray of float64, shape (..., k)
        Intensities at the intervals' starts and ends. [cd]
    start_rad, end_rad : ndarray of float64, shape (k,)
        The intervals. [rad]

    Returns
    -------
    ndarray of float64, shape (...)
        Sum over the intervals. [cd]

    Notes
    -----
    I_a cos a - I_b cos b + m (sin b - sin a), m = (I_b - I_a) / (b - a), re-derived. The
    difference of the sines is taken as a product, so that an edge of `HARD_EDGE_RAD` costs
    no digits.
    """
    half = (end_rad - start_rad) / 2
    mean_cos = np.cos((start_rad + end_rad) / 2) * np.sinc(half / np.pi)
    rings = low * np.cos(start_rad) - high * np.cos(end_rad) + (high - low) * mean_cos
    total: Floats = rings.sum(axis=-1)
    return total


def interpolate(
    rows_rad: Floats, columns_rad: Floats, table: Floats, row: Floats, column: Floats
) -> Floats:
    """Bilinear value of a table over two increasing angle lists; ends are held, not extended.

    Parameters
    ----------
    rows_rad, columns_rad : ndarray of float64, shape (r,) and (k,)
        Nodes, increasing. [rad]
    table : ndarray of float64, shape (r, k)
        Values at the nodes.
    row, column : ndarray of float64, shape (...)
        Where to look. [rad]

    Returns
    -------
    ndarray of float64, shape (...)
        Values in the table's unit.
    """
    i = np.clip(np.searchsorted(rows_rad, row, "right") - 1, 0, rows_rad.size - 2)
    j = np.clip(np.searchsorted(columns_rad, column, "right") - 1, 0, columns_rad.size - 2)
    f = np.clip((row - rows_rad[i]) / (rows_rad[i + 1] - rows_rad[i]), 0.0, 1.0)
    g = np.clip((column - columns_rad[j]) / (columns_rad[j + 1] - columns_rad[j]), 0.0, 1.0)
    low = table[i, j] * (1 - g) + table[i, j + 1] * g
    high = table[i + 1, j] * (1 - g) + table[i + 1, j + 1] * g
    out: Floats = low * (1 - f) + high * f
    return out


@dataclass(frozen=True, slots=True, eq=False)
class NativeGrid:
    """Candela on a goniometer's own H and V angles, photometric type A or B.

    Type B: planes share the horizontal axis along the width, y; (H, V) points to
    (cos H sin V, -sin H, -cos H cos V). Type A: vertical axis; (H, V) points to
    (cos V cos H, -cos V sin H, sin V), so that V = -90 deg is nadir. Derived from the
    definitions of ANSI/IES LM-63-2002.

    Parameters
    ----------
    photometric_type : {"A", "B"}
        Which of the two frames.
    horizontal_rad, vertical_rad : ndarray of float64, shape (planes,), (angles,)
        H and V, increasing, both from -pi/2 to pi/2 inclusive. [rad]
    candela : ndarray of float64, shape (planes, angles)
        Absolute intensities. [cd]
    """

    photometric_type: Literal["A", "B"]
    horizontal_rad: Floats
    vertical_rad: Floats
    candela: Floats

    def __post_init__(self) -> None:
        shape = (self.horizontal_rad.size, self.vertical_rad.size)
        if self.candela.shape != shape:
            raise ValueError(f"candela {self.candela.shape} must be (planes, angles) = {shape}")
        for array in (self.horizontal_rad, self.vertical_rad, self.candela):
            array.setflags(write=False)

    def candela_toward(self, directions: Floats) -> Floats:
        """Intensity toward unit vectors, linear in H and V; 0 in the half that is not measured."""
        x, y, z = directions[..., 0], directions[..., 1], directions[..., 2]
        if self.photometric_type == "B":
            h, v, outside = np.arctan2(-y, np.hypot(x, z)), np.arctan2(x, -z), z
        else:
            h, v, outside = np.arctan2(-y, x), np.arctan2(z, np.hypot(x, y)), -x
        here = interpolate(self.horizontal_rad, self.vertical_rad, self.candela, h, v)
        return np.where(outside > HARD_EDGE_RAD, 0.0, here)

    def toward(self, h_rad: float | Floats, v_rad: float | Floats) -> Floats:
        """Unit vectors of (H, V) in the luminaire's frame, shape (..., 3)."""
        h, v = np.broadcast_arrays(h_rad, v_rad)
        sin_h, cos_h, sin_v, cos_v = np.sin(h), np.cos(h), np.sin(v), np.cos(v)
        if self.photometric_type == "B":
            parts = (cos_h * sin_v, -sin_h, -cos_h * cos_v)
        else:
            parts = (cos_v * cos_h, -cos_v * sin_h, sin_v)
        out: Floats = np.stack(parts, axis=-1)
        return out

    @property
    def lumens(self) -> float:
        """Luminous flux, exact for intensities linear in H and V between the nodes. [lm]

        Solid angle cos H dH dV (type B), cos V dV dH (type A): the closed form of
        `sine_integral` shifted by a quarter turn, then the trapezium.
        """
        if self.photometric_type == "B":
            polar, other, table = self.horizontal_rad, self.vertical_rad, self.candela.T
        else:
            polar, other, table = self.vertical_rad, self.horizontal_rad, self.candela
        polar = polar + np.pi / 2
        rings = sine_integral(table[:, :-1], table[:, 1:], polar[:-1], polar[1:])
        return float(np.trapezoid(rings, other))
