"""A run of luminaires as the light sees it: lit lengths on one axis, with one distribution.

The run's own frame at tilt 0, for a run under a ceiling beside a wall:

            axis (along the run, to the right when facing the lit wall)
    wall |
         |<- across --(o)         nadir turns toward `across` as the tilt grows
         |             |
         |             v nadir
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LitLine:
    """Lit lengths of one run, resolved: in room coordinates, tilted and aimed.

    Parameters
    ----------
    tag : str
        The run's tag, for captions and schedules.
    lights : str
        Name of the surface that it lights.
    origin_m : ndarray of float64, shape (3,)
        Centre of the opening at the start of the run. [m]
    axis, nadir, across : ndarray of float64, shape (3,)
        Unit vectors in the room, after the tilt: along the run; the file's nadir
        (gamma = 0); and toward the lit surface, perpendicular to both. The opening lies in
        the plane of `axis` and `across`.
    c0 : ndarray of float64, shape (3,)
        Where the file's plane C0 points, perpendicular to `nadir`. C90 is -nadir x c0
        (counter-clockwise from above).
    lit_m : ndarray of float64, shape (k, 2)
        Start and end of each lit length along `axis` from `origin_m`, increasing and
        disjoint; lengths that touch are merged. [m]
    opening_width_m : float
        Width of the luminous opening, across the run. [m]
    intensity : Intensity
        The file's distribution, of one luminaire.
    per_metre : float
        Luminaires' worth of candela for each metre of lit length: candela per metre in a
        direction = `intensity` there x `per_metre`, at full output. [1/m]
    watts_per_metre : float
        Input power for each metre of lit length at full output; nan if the file says 0. [W/m]
    rises : bool
        Whether the file was measured with its light going up, as that of coves often is: the
        opening then faces away from `nadir`.
    """

    tag: str
    lights: str
    origin_m: Floats
    axis: Floats
    nadir: Floats
    across: Floats
    c0: Floats
    lit_m: Floats
    opening_width_m: float
    intensity: Intensity
    per_metre: float
    watts_per_metre: float
    rises: bool = False

    @property
    def facing(self) -> Floats:
        """Unit vector off the opening's front."""
        return -self.nadir if self.rises else self.nadir

    @property
    def lit_length_m(self) -> float:
        """Sum of the lit lengths. [m]"""
        return float(np.sum(self.lit_m[:, 1] - self.lit_m[:, 0]))

    @property
    def lumens(self) -> float:
        """Luminous flux of the run at full output, from its distribution. [lm]"""
        return self.intensity.lumens * self.per_metre * self.lit_length_m

    def candela_per_metre(self, directions: Floats) -> Floats:
        """Candela per metre of lit length toward room directions.

        Parameters
        ----------
        directions : ndarray of float64, shape (..., 3)
            Unit vectors in the room, away from the run.

        Returns
        -------
        ndarray of float64, shape (...)
            At full output, before dim and maintenance. [cd/m]
        """
        c90 = np.cross(-self.nadir, self.c0)
        in_file = directions @ np.stack([self.c0, c90, -self.nadir], axis=1)
        return self.intensity.candela_toward(in_file) * self.per_metre


@dataclass(frozen=True, slots=True, eq=False)
class LightGroup:
    """Runs that share one dim level, one maintenance factor and one colour.

    Light is computed once for a group at full output; dimming it is a multiplication.

    Parameters
    ----------
    lines : tuple of LitLine
        The group's runs.
    dim : float
        Share of the light output, 0 to 1.
    maintenance : float
        1 = initial.
    white_rgb : ndarray of float64, shape (3,)
        Colour of the light, linear Rec.709, scaled to luminance 1
        (0.2126 R + 0.7152 G + 0.0722 B = 1).
    cct_k : float
        Correlated colour temperature. [K]
    """

    lines: tuple[LitLine, ...]
    dim: float
    maintenance: float
    white_rgb: Floats
    cct_k: float

    @property
    def output(self) -> float:
        """Factor on the full-output light: dim x maintenance."""
        return self.dim * self.maintenance
