"""What a hand meter reads at points, how obliquely the light falls there, how sure that is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.lit_line import LightGroup, LitLine

Floats = NDArray[np.float64]

#: Light that falls farther from the normal than this is misread by hand meters, whose cosine
#: correction ends about there: common practice, no source. [rad]
OBLIQUE_RAD = math.radians(80.0)
#: What a meter's cosine error adds beyond that angle, one standard deviation; ours.
OBLIQUE_SHARE = 0.10

_STRIPS = 7
_NEAR_WIDTHS = 6.0
_NODES = 16


@dataclass(frozen=True, slots=True)
class Site:
    """How exact a mock-up is, one standard deviation each; defaults are common practice.

    Parameters
    ----------
    meter : float
        Scatter of one reading, as a share.
    height_m : float
        Where the meter is held along the surface. [m]
    head_m : float
        Height of its head off the surface. [m]
    setback_m, tilt_rad : float
        How the luminaire is mounted. [m], [rad]
    output : float
        Of the luminaire against its file, as a share.
    """

    meter: float = 0.03
    height_m: float = 0.002
    head_m: float = 0.001
    setback_m: float = 0.003
    tilt_rad: float = math.radians(0.5)
    output: float = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Oblique:
    """Light at points.

    Parameters
    ----------
    illuminance_lx : ndarray of float64, shape (points,)
        On the meter's head. [lx]
    angle_rad : ndarray of float64, shape (points,)
        Angle from the normal whose cosine is the mean over the light that arrives. [rad]
    """

    illuminance_lx: Floats
    angle_rad: Floats


def line_light(line: LitLine, points_m: Floats, normal: Floats) -> tuple[Floats, Floats]:
    """Illuminance of points by one run at full output, and what would fall square-on.

    Parameters
    ----------
    line : LitLine
        The run.
    points_m : ndarray of float64, shape (points, 3)
        In the room. [m]
    normal : ndarray of float64, shape (3,)
        Of the meter's head.

    Returns
    -------
    on_head, square_on : ndarray of float64, shape (points,)
        With and without the cosine of incidence. [lx]

    Notes
    -----
    Seven strips across the opening for points nearer than six of its widths, else three, because
    a sharp edge of the beam shows the opening's width farther off than its light does; along
    each lit length a Gauss-Legendre sum over the angle out of the plane across the run, in
    which dE = I cos(i) d(psi) / rho. Nothing stands in between.
    """
    away = points_m - line.origin_m
    rho = np.linalg.norm(away - (away @ line.axis)[:, None] * line.axis, axis=1)
    near = rho < _NEAR_WIDTHS * line.opening_width_m
    on_head, square_on = np.zeros(len(points_m)), np.zeros(len(points_m))
    for which, strips in ((near, _STRIPS), (~near, 3)):
        if which.any():
            on_head[which], square_on[which] = _strips(line, points_m[which], normal, strips)
    return on_head, square_on


def _strips(line: LitLine, points_m: Floats, normal: Floats, count: int) -> tuple[Floats, Floats]:
    at, weight = np.polynomial.legendre.leggauss(_NODES)
    strips = ((np.arange(count) + 0.5) / count - 0.5) * line.opening_width_m
    on_head = np.zeros(len(points_m))
    square_on = np.zeros(len(points_m))
    for off in strips.tolist():
        start = line.origin_m + off * line.across
        away = points_m - start
        along = away @ line.axis
        foot = away - along[:, None] * line.axis
        rho = np.linalg.norm(foot, axis=1)
        for low, high in line.lit_m.tolist():
            first, last = np.arctan((low - along) / rho), np.arctan((high - along) / rho)
            half = (last - first) / 2
            psi = (first + last)[:, None] / 2 + half[:, None] * at
            # from the source toward the point: across the run, less the way along it
            way = np.cos(psi)[..., None] * (foot / rho[:, None])[:, None, :]
            way = way - np.sin(psi)[..., None] * line.axis
            share = line.candela_per_metre(way) * weight * (half / rho)[:, None] / count
            cosine = np.maximum(0.0, -(way @ normal))
            on_head += np.sum(share * cosine, axis=1)
            square_on += np.sum(share * (cosine > 0), axis=1)
    return on_head, square_on


def light_at(groups: Sequence[LightGroup], points_m: Floats, normal: Floats) -> Oblique:
    """Initial light of all runs as dimmed, with nothing in between.

    Parameters
    ----------
    groups : sequence of LightGroup
        The runs; maintenance is left out, since a mock-up is new.
    points_m : ndarray of float64, shape (points, 3)
        [m]
    normal : ndarray of float64, shape (3,)
        Of the meter's head.
    """
    on_head = np.zeros(len(points_m))
    square_on = np.zeros(len(points_m))
    for group in groups:
        for line in group.lines:
            one, other = line_light(line, points_m, normal)
            on_head += group.dim * one
            square_on += group.dim * other
    cosine = np.divide(on_head, square_on, out=np.zeros_like(on_head), where=square_on > 0)
    return Oblique(on_head, np.arccos(np.clip(cosine, 0.0, 1.0)))


def scatter(slope_height: Floats, slope_head: Floats, angle_rad: Floats, site: Site) -> Floats:
    """Scatter of single readings about a smooth fall, one standard deviation, as shares.

    Parameters
    ----------
    slope_height, slope_head : ndarray of float64, shape (points,)
        Change of ln E with the place along the surface, and with the head's height. [1/m]
    angle_rad : ndarray of float64, shape (points,)
        Of the light from the normal. [rad]
    site : Site
        How exact the mock-up is.
    """
    oblique = np.where(angle_rad > OBLIQUE_RAD, OBLIQUE_SHARE, 0.0)
    out: Floats = np.sqrt(
        site.meter**2
        + (slope_height * site.height_m) ** 2
        + (slope_head * site.head_m) ** 2
        + oblique**2
    )
    return out


def expected(scattered: Floats, slope_setback: Floats, slope_tilt: Floats, site: Site) -> Floats:
    """How far a reading may be from its prediction, one standard deviation, as shares.

    Parameters
    ----------
    scattered : ndarray of float64, shape (points,)
        From `scatter`.
    slope_setback, slope_tilt : ndarray of float64, shape (points,)
        Change of ln E with setback and tilt. [1/m], [1/rad]
    site : Site
        How exact the mock-up is.
    """
    out: Floats = np.sqrt(
        scattered**2
        + (slope_setback * site.setback_m) ** 2
        + (slope_tilt * site.tilt_rad) ** 2
        + site.output**2
    )
    return out
