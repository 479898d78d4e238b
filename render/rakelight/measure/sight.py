"""Sight lines: whether an eye sees an opening behind a lip or above a fascia, in a section.

A section is (distance from the wall, height). The opening lies nearer to the wall than the
edge that should hide it; the eye lies farther.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

#: Eyes that are looked from unless others are stated: seated, standing, tall; common practice.
EYES_M = (1.2, 1.6, 1.8)
#: No eye comes nearer to a lit wall than this unless stated; common practice. [m]
NEAREST_EYE_M = 0.6


def sight_line_at_m(opening_y_m: float, edge_m: ArrayLike, eye_m: ArrayLike) -> float:
    """Height of the line from the eye over the edge, where it passes the opening. [m]

    Parameters
    ----------
    opening_y_m : float
        Distance of the opening from the wall. [m]
    edge_m, eye_m : array_like, shape (2,)
        (distance from the wall, height). [m]

    Raises
    ------
    ValueError
        If the eye is not farther from the wall than the edge.
    """
    (ye, ze), (d, e) = np.asarray(edge_m, np.float64), np.asarray(eye_m, np.float64)
    if not d > ye:
        raise ValueError("the eye must be farther from the wall than the edge")
    return float(ze + (ye - opening_y_m) / (d - ye) * (ze - e))


def hidden_behind_lip(opening_m: ArrayLike, lip_m: ArrayLike, eye_m: ArrayLike) -> bool:
    """Whether a lip below the line of sight hides an opening behind it from an eye.

    Parameters
    ----------
    opening_m, lip_m, eye_m : array_like, shape (2,)
        (distance from the wall, height) of the opening, the lip's edge and the eye. [m]
    """
    y, z = np.asarray(opening_m, np.float64)
    return bool(z <= sight_line_at_m(float(y), lip_m, eye_m))


def hidden_above_fascia(opening_m: ArrayLike, fascia_m: ArrayLike, eye_m: ArrayLike) -> bool:
    """Whether a fascia that hangs before an opening hides it from an eye below.

    Parameters
    ----------
    opening_m, fascia_m, eye_m : array_like, shape (2,)
        (distance from the wall, height) of the opening, the fascia's lower edge and the eye. [m]
    """
    (y, z), (yf, _) = np.asarray(opening_m, np.float64), np.asarray(fascia_m, np.float64)
    (d, _) = np.asarray(eye_m, np.float64)
    if d <= yf:
        return False  # an eye on the wall's side of the fascia sees past it
    return bool(z >= sight_line_at_m(float(y), fascia_m, eye_m))


def lip_height_m(opening_m: ArrayLike, lip_y_m: float, eye_m: ArrayLike) -> float:
    """Least height of a lip's edge that hides an opening behind it. [m]

    Parameters
    ----------
    opening_m, eye_m : array_like, shape (2,)
        (distance from the wall, height). [m]
    lip_y_m : float
        The lip's distance from the wall. [m]

    Notes
    -----
    z = (z_o + k e) / (1 + k), k = (y_l - y_o) / (D - y_l). The worst eye is the farthest and
    the tallest.
    """
    return _edge_height(opening_m, lip_y_m, eye_m)


def fascia_height_m(opening_m: ArrayLike, fascia_y_m: float, eye_m: ArrayLike) -> float:
    """Greatest height of a fascia's lower edge that hides an opening above it. [m]

    Parameters
    ----------
    opening_m, eye_m : array_like, shape (2,)
        (distance from the wall, height). [m]
    fascia_y_m : float
        The fascia's distance from the wall. [m]

    Notes
    -----
    As `lip_height_m`. The worst eye is the nearest and the shortest.
    """
    return _edge_height(opening_m, fascia_y_m, eye_m)


def _edge_height(opening_m: ArrayLike, edge_y_m: float, eye_m: ArrayLike) -> float:
    (y, z), (d, e) = np.asarray(opening_m, np.float64), np.asarray(eye_m, np.float64)
    if not d > edge_y_m:
        raise ValueError("the eye must be farther from the wall than the edge")
    k = (edge_y_m - y) / (d - edge_y_m)
    return float((z + k * e) / (1 + k))


@dataclass(frozen=True, slots=True)
class Seen:
    """From where on the floor an eye of some height sees an opening.

    Parameters
    ----------
    nearest_m, farthest_m : float
        Distances from the wall between which it is seen; nan where it never is. [m]
    """

    nearest_m: float
    farthest_m: float

    @property
    def ever(self) -> bool:
        """Whether it is seen from anywhere."""
        return not math.isnan(self.nearest_m)


def seen_over_lip(
    opening_m: ArrayLike, lip_m: ArrayLike, eye_height_m: float, room_depth_m: float,
    nearest_eye_m: float = NEAREST_EYE_M,
) -> Seen:  # fmt: skip
    """From which distances an eye sees an opening behind a lip: from some on, to the far wall.

    Parameters
    ----------
    opening_m, lip_m : array_like, shape (2,)
        (distance from the wall, height) of the opening and the lip's edge. [m]
    eye_height_m : float
        Over the floor. [m]
    room_depth_m, nearest_eye_m : float
        Where eyes may be: from the latter to the former. [m]
    """
    (y, z), (yl, zl) = np.asarray(opening_m, np.float64), np.asarray(lip_m, np.float64)
    if z <= zl and eye_height_m <= zl:
        # the line over the lip falls toward the opening as the eye goes back
        reach = (yl - y) * (zl - eye_height_m)
        distance = math.inf if z == zl else yl + reach / (z - zl)
        if distance < 0 or distance == math.inf or z < zl:
            return Seen(math.nan, math.nan)
    elif eye_height_m > zl:
        return Seen(nearest_eye_m, room_depth_m)
    else:
        distance = float(yl + (yl - y) * (zl - eye_height_m) / (z - zl))
    near = max(distance, nearest_eye_m)
    return Seen(near, room_depth_m) if near < room_depth_m else Seen(math.nan, math.nan)


def seen_under_fascia(
    opening_m: ArrayLike, fascia_m: ArrayLike, eye_height_m: float, room_depth_m: float,
    nearest_eye_m: float = NEAREST_EYE_M,
) -> Seen:  # fmt: skip
    """From which distances an eye sees an opening above a fascia's edge: from near to some.

    Parameters
    ----------
    opening_m, fascia_m : array_like, shape (2,)
        (distance from the wall, height) of the opening and the fascia's lower edge. [m]
    eye_height_m : float
        Over the floor. [m]
    room_depth_m, nearest_eye_m : float
        Where eyes may be: from the latter to the former. [m]
    """
    (y, z), (yf, zf) = np.asarray(opening_m, np.float64), np.asarray(fascia_m, np.float64)
    if z <= zf:
        return Seen(nearest_eye_m, room_depth_m)
    limit = float(yf + (yf - y) * (zf - eye_height_m) / (z - zf))
    far = min(limit, room_depth_m)
    return Seen(nearest_eye_m, far) if far > nearest_eye_m else Seen(math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class LipRange:
    """Heights of a lip's edge that do both: hide the opening, and let the throw out.

    Parameters
    ----------
    hides_m : float
        Least that hides it from every eye. [m]
    clears_m : float
        Most that lets the light through to where it should go. [m]
    """

    hides_m: float
    clears_m: float

    @property
    def possible(self) -> bool:
        """Whether there is such a lip."""
        return self.hides_m <= self.clears_m


def lip_range(
    opening_m: ArrayLike,
    lip_y_m: float,
    *,
    room_depth_m: float,
    target_m: ArrayLike,
    eyes_m: tuple[float, ...] = EYES_M,
) -> LipRange:
    """Find the heights of a lip that hide an opening and clear its throw.

    Parameters
    ----------
    opening_m : array_like, shape (2,)
        (distance from the wall, height) of the opening. [m]
    lip_y_m : float
        The lip's distance from the wall. [m]
    room_depth_m : float
        From the wall to the farthest eye. [m]
    target_m : array_like, shape (2,)
        The place that light should still reach: the far corner of the ceiling, say. [m]
    eyes_m : tuple of float
        Heights of eyes. [m]
    """
    hides = max(lip_height_m(opening_m, lip_y_m, (room_depth_m, eye)) for eye in eyes_m)
    (y, z), (yt, zt) = np.asarray(opening_m, np.float64), np.asarray(target_m, np.float64)
    return LipRange(hides, float(z + (zt - z) * (lip_y_m - y) / (yt - y)))
