"""A photometric file's intensity distribution, independent of the format it came in.

Luminaire frame: nadir is -z, C0 is +x, C90 is +y (counter-clockwise seen from above).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


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

    def __post_init__(self) -> None:
        shape = (self.c_rad.size, self.gamma_rad.size)
        if self.candela.shape != shape:
            raise ValueError(f"candela {self.candela.shape} must be (planes, angles) = {shape}")
        for array in (self.c_rad, self.gamma_rad, self.candela):
            array.setflags(write=False)

    def candela_toward(self, directions: Floats) -> Floats:
        """Intensity toward unit vectors in the luminaire's frame, linear in C and gamma.

        Parameters
        ----------
        directions : ndarray of float64, shape (..., 3)
            Unit vectors.

        Returns
        -------
        ndarray of float64, shape (...)
            Intensity. [cd]
        """
        x, y, z = directions[..., 0], directions[..., 1], directions[..., 2]
        gamma = np.arctan2(np.hypot(x, y), -z)
        c = np.mod(np.arctan2(y, x), 2 * np.pi)
        i = np.clip(np.searchsorted(self.c_rad, c, "right") - 1, 0, self.c_rad.size - 2)
        j = np.clip(np.searchsorted(self.gamma_rad, gamma, "right") - 1, 0, self.gamma_rad.size - 2)
        f = (c - self.c_rad[i]) / (self.c_rad[i + 1] - self.c_rad[i])
        g = (gamma - self.gamma_rad[j]) / (self.gamma_rad[j + 1] - self.gamma_rad[j])
        low = self.candela[i, j] * (1 - g) + self.candela[i, j + 1] * g
        high = self.candela[i + 1, j] * (1 - g) + self.candela[i + 1, j + 1] * g
        out: Floats = low * (1 - f) + high * f
        return out

    @property
    def lumens(self) -> float:
        """Luminous flux, exact for intensities linear in gamma between the nodes. [lm]

        Integral of I sin(gamma) over each interval in closed form, trapezium in C
        (re-derived; cross-checked against the zonal-constant form of the IES Lighting
        Handbook in the tests).
        """
        a, b = self.gamma_rad[:-1], self.gamma_rad[1:]
        low, high = self.candela[:, :-1], self.candela[:, 1:]
        slope = (high - low) / (b - a)
        rings = low * np.cos(a) - high * np.cos(b) + slope * (np.sin(b) - np.sin(a))
        return float(np.trapezoid(rings.sum(axis=1), self.c_rad))
