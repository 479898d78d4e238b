"""Cut-off lines: where the edge of a fascia, lip or slot ends the light, in a section.

A section is (y from the wall, z up). Light leaves an opening at A and passes the edge B:

    ceiling -----------------
            |      A o
            |    B +/           A above and behind B: the wall is lit below the line,
       wall |     /             dark above it
            |    /
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def meets_wall_m(source_m: ArrayLike, edge_m: ArrayLike) -> float:
    """Height at which the line from a source over an edge meets the wall y = 0.

    Parameters
    ----------
    source_m, edge_m : array_like, shape (2,)
        (y, z) of A and B. [m]

    Returns
    -------
    float
        z; nan if the line does not go to the wall. [m]
    """
    (ya, za), (yb, zb) = np.asarray(source_m, np.float64), np.asarray(edge_m, np.float64)
    if not yb < ya:
        return math.nan
    return float(za + (zb - za) * ya / (ya - yb))


def meets_ceiling_m(source_m: ArrayLike, edge_m: ArrayLike, ceiling_m: float) -> float:
    """Distance from the wall at which the line from a source over an edge meets the ceiling.

    Parameters
    ----------
    source_m, edge_m : array_like, shape (2,)
        (y, z) of A and B. [m]
    ceiling_m : float
        z of the ceiling. [m]

    Returns
    -------
    float
        y; nan if the line does not rise to the ceiling. [m]
    """
    (ya, za), (yb, zb) = np.asarray(source_m, np.float64), np.asarray(edge_m, np.float64)
    if not zb > za:
        return math.nan
    return float(ya + (yb - ya) * (ceiling_m - za) / (zb - za))


def edge_height_for_m(source_m: ArrayLike, edge_y_m: float, target_m: ArrayLike) -> float:
    """Height of an edge that puts the cut-off line exactly through a point.

    Parameters
    ----------
    source_m : array_like, shape (2,)
        (y, z) of the opening. [m]
    edge_y_m : float
        y of the edge. [m]
    target_m : array_like, shape (2,)
        Where the line should end: a corner, say (0, ceiling). [m]

    Raises
    ------
    ValueError
        If source and target lie straight above each other.
    """
    (ya, za), (yt, zt) = np.asarray(source_m, np.float64), np.asarray(target_m, np.float64)
    if ya == yt:
        raise ValueError("source and target have one distance from the wall; no edge parts them")
    return float(za + (zt - za) * (ya - edge_y_m) / (ya - yt))


def source_height_for_m(edge_m: ArrayLike, source_y_m: float, target_m: ArrayLike) -> float:
    """Height of a source whose cut-off line over an edge goes exactly through a point. [m]

    Parameters
    ----------
    edge_m, target_m : array_like, shape (2,)
        (y, z) of the edge, and of where the line should end. [m]
    source_y_m : float
        y of the source. [m]
    """
    (yb, zb), (yt, zt) = np.asarray(edge_m, np.float64), np.asarray(target_m, np.float64)
    if yb == yt:
        raise ValueError("edge and target have one distance from the wall; no source fits")
    return float(zb + (zb - zt) * (source_y_m - yb) / (yb - yt))


def source_distance_for_m(edge_m: ArrayLike, source_z_m: float, target_m: ArrayLike) -> float:
    """Distance from the wall of a source whose cut-off line goes exactly through a point. [m]

    Parameters
    ----------
    edge_m, target_m : array_like, shape (2,)
        (y, z) of the edge, and of where the line should end. [m]
    source_z_m : float
        z of the source. [m]
    """
    (yb, zb), (yt, zt) = np.asarray(edge_m, np.float64), np.asarray(target_m, np.float64)
    if zb == zt:
        raise ValueError("edge and target have one height; no source fits")
    return float(yb + (yb - yt) * (source_z_m - zb) / (zb - zt))


@dataclass(frozen=True, slots=True)
class CutOff:
    """Where the light of an opening of some width ends.

    Parameters
    ----------
    centre_m : float
        Cut-off of the opening's centre. [m]
    full_light_m, full_shadow_m : float
        Up to where all of the opening is seen, and from where on none of it. [m]
    """

    centre_m: float
    full_light_m: float
    full_shadow_m: float

    @property
    def softness_m(self) -> float:
        """Length of the penumbra. [m]"""
        return abs(self.full_shadow_m - self.full_light_m)


def wall_cutoff(
    source_m: ArrayLike, width_m: float, edge_m: ArrayLike, *, edge_above: bool
) -> CutOff:
    """Cut-off on the wall of an opening that lies level, `width_m` wide.

    Parameters
    ----------
    source_m, edge_m : array_like, shape (2,)
        (y, z) of the opening's centre and of the edge. [m]
    width_m : float
        Of the opening. [m]
    edge_above : bool
        True where the blocker hangs above the edge, and the wall is lit below the line.
    """
    y, z = np.asarray(source_m, np.float64)
    ends = [meets_wall_m((y + side * width_m / 2, z), edge_m) for side in (-1.0, 1.0)]
    light, shadow = (min(ends), max(ends)) if edge_above else (max(ends), min(ends))
    return CutOff(meets_wall_m(source_m, edge_m), light, shadow)


def ceiling_cutoff(
    source_m: ArrayLike, width_m: float, edge_m: ArrayLike, ceiling_m: float
) -> CutOff:
    """Cut-off on the ceiling of an opening that lies level behind a lip.

    Parameters
    ----------
    source_m, edge_m : array_like, shape (2,)
        (y, z) of the opening's centre and of the lip's edge. [m]
    width_m : float
        Of the opening. [m]
    ceiling_m : float
        z of the ceiling. [m]
    """
    y, z = np.asarray(source_m, np.float64)
    ends = [meets_ceiling_m((y + side * width_m / 2, z), edge_m, ceiling_m) for side in (-1.0, 1.0)]
    return CutOff(meets_ceiling_m(source_m, edge_m, ceiling_m), min(ends), max(ends))


def aim_limit_rad(source_m: ArrayLike, edge_m: ArrayLike) -> float:
    """Angle from the vertical of the line from a source to an edge, 0 to pi / 2. [rad]"""
    (ya, za), (yb, zb) = np.asarray(source_m, np.float64), np.asarray(edge_m, np.float64)
    return math.atan2(abs(float(yb - ya)), abs(float(zb - za)))


def base_aim_rad(setback_m: float, height_m: float) -> float:
    """Direction from straight down in which the foot of the wall lies. [rad]

    Parameters
    ----------
    setback_m, height_m : float
        Of the opening, from the wall and over the floor. [m]

    Notes
    -----
    A beam aim, where the file's peak should point; not a tilt of the housing.
    """
    return math.atan2(setback_m, height_m)
