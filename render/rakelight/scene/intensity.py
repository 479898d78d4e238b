"""A photometric file's intensity distribution, independent of the format it came in.

Luminaire frame: nadir is -z, C0 is +x, C90 is +y (counter-clockwise seen from above).

                 C90 (+y)
                   |
        C180 ------o------ C0 (+x)        seen from above; gamma = 0 points away
                   |                      from the reader, gamma = 180 toward
                 C270
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.angle_grid import NativeGrid, interpolate, sine_integral

Floats = NDArray[np.float64]

# Horizontal part of the flux's vector sum, over the flux, under which a file throws to no side.
LEAST_LEAN = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class LampTilt:
    """Lamp output against the luminaire's tilt, as an LM-63 file states it; never applied here.

    Parameters
    ----------
    geometry : int
        1 lamp upright or base up, 2 lamp horizontal and stays so, 3 lamp horizontal but tilts
        along.
    angles_rad : tuple of float
        Tilts. [rad]
    multipliers : tuple of float
        Factor on the candela at each tilt.
    """

    geometry: int
    angles_rad: tuple[float, ...]
    multipliers: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Intensity:
    """Candela over directions, type C, expanded over all symmetries.

    Parameters
    ----------
    c_rad : ndarray of float64, shape (planes,)
        C angles, increasing, from 0 to 2 pi inclusive (the last plane repeats the first). [rad]
    gamma_rad : ndarray of float64, shape (angles,)
        Angles from nadir, increasing, from 0 to pi inclusive. [rad]
    candela : ndarray of float64, shape (planes, angles)
        Absolute intensities of one luminaire, all factors applied. [cd]
    watts : float
        Input power of one luminaire; nan where the file says 0. [W]
    length_m, width_m, height_m : float
        Luminous opening along C0, along C90, and vertical; 0 where the file has none. [m]
    name : str
        For captions: the file's name without its folder.
    notes : tuple of str
        What was assumed, repaired or is odd, in the words shown to the user.
    native : NativeGrid, optional
        The file's own grid if it is of type A or B. It is then what `candela_toward` and
        `lumens` use; `candela` is a resampled view of it for drawings and tables.
    file_format : str
        Edition or standard that the file was read as, ``LM-63-2019`` or ``EULUMDAT``.
    symmetry : str
        What the file's set of planes says, in words.
    lamp_lumens : float
        Rated lumens of all lamps together; nan for absolute photometry. [lm]
    opening_shape : str
        ``rectangle``, ``circle``, ``point``, ... as the file codes it.
    round_opening : bool
        True if the file marks any dimension of the opening as rounded.
    lamp_tilt : LampTilt, optional
        Read and reported, not applied.
    keywords : tuple of (str, str)
        Keyword lines as read, in the file's order, for the writer and for captions.
    """

    c_rad: Floats
    gamma_rad: Floats
    candela: Floats
    watts: float
    length_m: float
    width_m: float
    height_m: float
    name: str
    notes: tuple[str, ...] = ()
    native: NativeGrid | None = None
    file_format: str = ""
    symmetry: str = "none"
    lamp_lumens: float = float("nan")
    opening_shape: str = "rectangle"
    round_opening: bool = False
    lamp_tilt: LampTilt | None = None
    keywords: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        shape = (self.c_rad.size, self.gamma_rad.size)
        if self.candela.shape != shape:
            raise ValueError(f"candela {self.candela.shape} must be (planes, angles) = {shape}")
        for array in (self.c_rad, self.gamma_rad, self.candela):
            array.setflags(write=False)

    def candela_toward(self, directions: Floats) -> Floats:
        """Intensity toward unit vectors in the luminaire's frame, linear in the file's angles.

        Parameters
        ----------
        directions : ndarray of float64, shape (..., 3)
            Unit vectors.

        Returns
        -------
        ndarray of float64, shape (...)
            Intensity. [cd]
        """
        if self.native is not None:
            return self.native.candela_toward(directions)
        x, y, z = directions[..., 0], directions[..., 1], directions[..., 2]
        gamma = np.arctan2(np.hypot(x, y), -z)
        c = np.mod(np.arctan2(y, x), 2 * np.pi)
        return interpolate(self.c_rad, self.gamma_rad, self.candela, c, gamma)

    @property
    def lumens(self) -> float:
        """Luminous flux, exact for intensities linear in the file's angles. [lm]

        Integral of I sin(gamma) over each interval in closed form, trapezium in C
        (re-derived; cross-checked against the zonal-constant form of the IES Lighting
        Handbook in the tests).
        """
        if self.native is not None:
            return self.native.lumens
        rings = sine_integral(
            self.candela[:, :-1], self.candela[:, 1:], self.gamma_rad[:-1], self.gamma_rad[1:]
        )
        return float(np.trapezoid(rings, self.c_rad))

    @property
    def absolute(self) -> bool:
        """True if the candela were measured as such, without rated lamp lumens."""
        return bool(np.isnan(self.lamp_lumens))

    @property
    def long_side_m(self) -> float:
        """Longer horizontal side of the luminous opening: one luminaire's lit length. [m]"""
        return max(self.length_m, self.width_m)

    @property
    def short_side_m(self) -> float:
        """Shorter horizontal side of the luminous opening. [m]"""
        return min(self.length_m, self.width_m)

    @property
    def long_side_c_rad(self) -> float:
        """C angle along which the longer side lies: 0 (C0-C180) or pi/2 (C90-C270). [rad]"""
        return 0.0 if self.length_m >= self.width_m else np.pi / 2


@dataclass(frozen=True, slots=True)
class Peak:
    """The largest intensity of a distribution and where it points.

    Parameters
    ----------
    candela : float
        [cd]
    c_rad, gamma_rad : float
        Its direction; C is 0 where it has no meaning (nadir, zenith). [rad]
    """

    candela: float
    c_rad: float
    gamma_rad: float


def toward(c_rad: float | Floats, gamma_rad: float | Floats) -> Floats:
    """Unit vectors of type C directions in the luminaire's frame.

    Parameters
    ----------
    c_rad, gamma_rad : float or ndarray, shapes (...) that broadcast
        [rad]

    Returns
    -------
    ndarray of float64, shape (..., 3)
        (sin gamma cos C, sin gamma sin C, -cos gamma).
    """
    c, gamma = np.broadcast_arrays(c_rad, gamma_rad)
    sine = np.sin(gamma)
    out: Floats = np.stack([sine * np.cos(c), sine * np.sin(c), -np.cos(gamma)], axis=-1)
    return out


def peak(intensity: Intensity) -> Peak:
    """Largest intensity; a bilinear table has it at a node.

    Parameters
    ----------
    intensity : Intensity
        Any distribution.

    Returns
    -------
    Peak
        Of equal peaks the one nearest to their mean direction, then the first in the order
        of C and gamma.
    """
    native = intensity.native
    if native is None:
        table, value = intensity.candela, float(intensity.candela.max())
        i, j = np.nonzero(table >= value * (1 - 1e-9))
        directions = toward(intensity.c_rad[i], intensity.gamma_rad[j])
    else:
        table, value = native.candela, float(native.candela.max())
        i, j = np.nonzero(table >= value * (1 - 1e-9))
        directions = native.toward(native.horizontal_rad[i], native.vertical_rad[j])
    # rounded files hold their peak at several neighbours: take the one in their middle
    nearness = np.round(directions @ directions.mean(axis=0), 9)
    x, y, z = directions[int(nearness.argmax())]
    gamma = float(np.arctan2(np.hypot(x, y), -z))
    c = 0.0 if np.sin(gamma) < 1e-9 else float(np.mod(np.arctan2(y, x), 2 * np.pi))
    return Peak(value, c, gamma)


def flux_vector(intensity: Intensity) -> Floats:
    """Integral of intensity times direction over the sphere.

    Parameters
    ----------
    intensity : Intensity
        Any distribution.

    Returns
    -------
    ndarray of float64, shape (3,)
        In the luminaire's frame. [lm]

    Notes
    -----
    Type C: Gauss-Legendre with three points in each of the file's intervals, better than
    1e-6 for steps up to 15 deg. Types A and B: midpoints of a raster of 4 deg in C and 2 deg
    in gamma, good to well under a degree in azimuth.
    """
    if intensity.native is not None:
        c = np.deg2rad(np.arange(2.0, 360.0, 4.0))[:, None]
        gamma = np.deg2rad(np.arange(1.0, 180.0, 2.0))[None, :]
        directions = toward(c, gamma)
        weight = intensity.native.candela_toward(directions) * np.sin(gamma)
        raster_sr = np.deg2rad(4.0) * np.deg2rad(2.0)
        vector: Floats = np.einsum("ij,ijk->k", weight * raster_sr, directions)
        return vector
    gamma, share, weight = _gauss_points(intensity.gamma_rad)
    rows = intensity.candela[:, :-1, None] * (1 - share) + intensity.candela[:, 1:, None] * share
    sideways = np.sum(rows * np.sin(gamma) ** 2 * weight, axis=(1, 2))
    down = np.sum(rows * np.sin(gamma) * np.cos(gamma) * weight, axis=(1, 2))
    c, share, weight = _gauss_points(intensity.c_rad)
    around = (sideways[:-1, None] * (1 - share) + sideways[1:, None] * share) * weight
    z = -np.trapezoid(down, intensity.c_rad)
    return np.array([np.sum(around * np.cos(c)), np.sum(around * np.sin(c)), z])


def _gauss_points(nodes_rad: Floats) -> tuple[Floats, Floats, Floats]:
    """Three points in each interval, their share of the way through it, and their weights."""
    at, weights = np.polynomial.legendre.leggauss(3)
    half = np.diff(nodes_rad)[:, None] / 2
    share = np.broadcast_to((at + 1) / 2, (half.size, 3))
    return nodes_rad[:-1, None] + 2 * half * share, share, half * weights


def throw_azimuth(intensity: Intensity) -> float:
    """C angle toward which the light leans: azimuth of the flux's centroid.

    Parameters
    ----------
    intensity : Intensity
        Any distribution.

    Returns
    -------
    float
        0 to 2 pi; nan where the flux leans to no side (by less than 0.1 %). [rad]
    """
    x, y, _ = flux_vector(intensity)
    flux = intensity.lumens
    if not flux > 0 or np.hypot(x, y) < LEAST_LEAN * flux:
        return float("nan")
    # a mirror-symmetric file's throw is exact but for rounding: print 90, not 90.0000001
    return float(np.deg2rad(np.mod(np.round(np.rad2deg(np.arctan2(y, x)), 6), 360.0)))
