"""How bright the relief looks from an eye, beside a flat wall in the same light.

A graze's lit facets face the luminaire: seen from below they are foreshortened, and the eye
looks at dark undersides instead. That, and not the flux, is why a wash can look brighter.

In the section of one column, project every vertex along the sight line onto a plane parallel
to the wall; what an eye sees is where that projection passes its running maximum:

      eye                    q  ^        . visible again
       o . . . . .|             |    ___/   (hidden while q is under its maximum)
                 /|relief       |   /
                  |             +--------------> up the wall, away from the eye's height
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.fields import Fields
from rakelight.measure.settings import MeasureSettings
from rakelight.scene.number import Number

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Brightness:
    """Mean luminance of a wall as seen, with its mean reflectance.

    Parameters
    ----------
    relief_cd_m2, flat_cd_m2 : float
        Of the relief and of a flat wall in the same light, over what is visible. [cd/m2]
    square_on_cd_m2, square_on_flat_cd_m2 : float
        The same seen square-on from far away. [cd/m2]
    """

    relief_cd_m2: float
    flat_cd_m2: float
    square_on_cd_m2: float
    square_on_flat_cd_m2: float

    @property
    def share(self) -> float:
        """Relief over flat wall from the eye; nan in the dark."""
        return _ratio(self.relief_cd_m2, self.flat_cd_m2)

    @property
    def square_on_share(self) -> float:
        """Relief over flat wall square-on: what the relief's slopes do to the light."""
        return _ratio(self.square_on_cd_m2, self.square_on_flat_cd_m2)

    @property
    def view_share(self) -> float:
        """What the eye's place adds: foreshortened lit facets and dark ones in view."""
        return _ratio(self.share, self.square_on_share)


def _ratio(top: float, below: float) -> float:
    return top / below if below > 0 else math.nan


def seen_mean(
    values: NDArray[np.float32],
    projected: Floats,
    column_weights: Floats,
    toward_m: Floats | None = None,
) -> float:
    """Mean of values over what is visible, column by column.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
        In order along the sight: nearest the eye's height first.
    projected : ndarray of float64, shape (rows, columns)
        Place of each vertex across the sight lines, in its column's section. [m]
    column_weights : ndarray of float64, shape (columns,)
        Width that each column stands for.
    toward_m : ndarray of float64, shape (rows, columns), optional
        A further weight of each vertex, such as its solid angle for each projected area.

    Notes
    -----
    Values are linear between vertices; a part-hidden edge counts with the mean of the part
    that shows. Exact for ridges along the columns' normal; hiding along u is left out.
    """
    seen = _seen(projected, column_weights, toward_m)
    return seen.mean(values)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What shows of vertices from an eye: it hangs on their places alone, not on their light.

    Parameters
    ----------
    weights : ndarray of float32, shape (rows, columns)
        How much each counts.
    total : float
        All that shows, hidden edges taken out.
    """

    weights: NDArray[np.float32]
    total: float

    def mean(self, values: NDArray[np.float32]) -> float:
        """Mean of vertices' values over what shows; nan where nothing does."""
        by_row = np.einsum("ij,ij->i", self.weights, values)
        return _ratio(float(by_row.sum(dtype=np.float64)), self.total)


def _seen(projected: Floats, column_weights: Floats, toward_m: Floats | None) -> _Seen:
    """Weights for `seen_mean`; one column of places stands for all where they are alike."""
    horizon = np.maximum.accumulate(projected, axis=0)
    rise = np.diff(horizon, axis=0)  # what shows of each edge, 0 where it is hidden
    part = np.divide(rise, np.diff(projected, axis=0), out=np.zeros_like(rise), where=rise > 0)
    part *= 0.5  # of an edge's value the vertex before it gives so much, that after it the rest
    rise = rise * column_weights
    if toward_m is not None:
        rise *= 0.5 * (toward_m[1:] + toward_m[:-1])
    before = part * rise
    weights = np.zeros((len(rise) + 1, rise.shape[1]), np.float32)
    weights[:-1] = before
    weights[1:] += rise
    weights[1:] -= before
    return _Seen(weights, float(rise.sum()))


def brightness_along(fields: Fields, below_rad: float) -> Brightness:
    """Seen from far away, by an angle below the wall's normal.

    Parameters
    ----------
    fields : Fields
        The surface's light.
    below_rad : float
        Positive: the eye is below; negative: above. [rad], within +-pi/2
    """
    if not abs(below_rad) < math.pi / 2:
        raise ValueError(f"below_rad is {below_rad}; it must lie within +-pi/2")
    grid = fields.surface.grid
    v, heights = grid.v_m()[:, None], _heights(fields)
    widths = fields.plane_m2.sum(axis=0)
    # from below the sight runs up the wall, so lower parts come first and hide upper ones
    order = slice(None) if below_rad >= 0 else slice(None, None, -1)
    sign = 1.0 if below_rad >= 0 else -1.0
    lean = math.sin(abs(below_rad))
    upright = sign * v * math.cos(below_rad)
    flat = upright[order]
    relief = (upright + heights * lean)[order]
    per_lx = fields.luminance_per_lx
    return Brightness(
        per_lx * seen_mean(fields.total_lx[order], relief, widths),
        per_lx * seen_mean(fields.flat_lx[order], flat, widths),
        *_square_on(fields),
    )


def brightness_toward(fields: Fields, eye_m: Floats) -> Brightness:
    """Seen by an eye in the room: mean over the solid angle that shows.

    Parameters
    ----------
    fields : Fields
        The surface's light.
    eye_m : ndarray of float64, shape (3,)
        In room coordinates, in front of the relief's highest point. [m]

    Raises
    ------
    ValueError
        If the eye is behind the relief's highest point.
    """
    eye = np.asarray(eye_m, dtype=np.float64)
    frame = fields.surface.frame
    key = ("seen", *(part.tobytes() for part in (eye, frame.origin_m, frame.u, frame.v, frame.n)))
    found = fields.of_shape.get(key)
    if found is None:
        found = fields.of_shape[key] = _seen_from(fields, eye)
    relief, flat = found
    per_lx = fields.luminance_per_lx
    return Brightness(
        per_lx * relief.mean(fields.total_lx),
        per_lx * flat.mean(fields.flat_lx),
        *_square_on(fields),
    )


def _seen_from(fields: Fields, eye_m: Floats) -> tuple[_Seen, _Seen]:
    """What shows of the relief and of its mean plane to an eye in the room."""
    surface = fields.surface
    eye_u, eye_v, eye_n = surface.frame.from_room(eye_m)
    heights = _heights(fields)
    if not eye_n > float(heights.max()):
        raise ValueError(f"{surface.name}: the eye at {tuple(eye_m)} is not in front of it")
    plane = _seen_over(fields, np.zeros((len(heights), 1)), eye_u, eye_v, eye_n)
    if not fields.has_relief and not heights.any():
        return plane, plane
    return _seen_over(fields, heights, eye_u, eye_v, eye_n), plane


def _seen_over(
    fields: Fields, heights_m: Floats, eye_u: float, eye_v: float, eye_n: float
) -> _Seen:
    v, u = fields.surface.grid.v_m(), fields.surface.grid.u_m()
    widths = fields.plane_m2.sum(axis=0)
    weights = np.zeros((v.size, u.size), np.float32)
    total = 0.0
    split = int(np.searchsorted(v, eye_v))
    for rows, sign in ((slice(split, None), 1.0), (slice(split - 1, None, -1), -1.0)):
        if (sign < 0 and split == 0) or v[rows].size < 2:
            continue
        away = eye_n - heights_m[rows]
        across = sign * (v[rows, None] - eye_v) / away
        # projected on a plane parallel to the wall, 1 m from the eye; cos^3 makes it a
        # solid angle, 1 / away the width of the column there
        slope2 = 1 + across**2 + ((u - eye_u) / away) ** 2
        part = _seen(across, widths, 1 / (slope2 * np.sqrt(slope2) * away))
        weights[rows] += part.weights
        total += part.total
    return _Seen(weights, total)


def _square_on(fields: Fields) -> tuple[float, float]:
    """Mean luminance of relief and flat wall over plan area. [cd/m2]"""
    per_m2 = fields.luminance_per_lx / float(fields.plane_m2.sum())
    relief, flat = (
        per_m2 * float(np.einsum("ij,ij->", fields.plane_m2, lx))
        for lx in (fields.total_lx, fields.flat_lx)
    )
    return relief, flat


def _heights(fields: Fields) -> Floats:
    relief = fields.surface.relief
    if relief is None:
        return np.zeros((fields.surface.grid.rows, fields.surface.grid.columns))
    return relief.heights_m.astype(np.float64)


def brightness_numbers(fields: Fields, settings: MeasureSettings) -> tuple[Number, ...]:
    """How bright the surface looks square-on, and from the settings' eye if there is one."""
    name = fields.surface.name
    if settings.eye_m is None:
        square, flat = _square_on(fields)
        found = Brightness(square, flat, square, flat)
    else:
        eye = np.asarray(settings.eye_m, dtype=np.float64)
        relief = fields.surface.relief
        highest = 0.0 if relief is None else float(relief.heights_m.max())
        if not fields.surface.frame.from_room(eye)[2] > highest:
            return ()  # an eye on the floor's edge or in the wall sees nothing of it
        found = brightness_toward(fields, eye)
    out = [
        Number(
            f"{name}.seen_square_on_cd_m2",
            found.square_on_cd_m2,
            "cd/m2",
            "mean luminance seen square-on",
        ),
        Number(
            f"{name}.seen_square_on_share",
            found.square_on_share,
            "1",
            "the same over a flat wall's in the same light",
        ),
    ]
    if settings.eye_m is not None:
        out += [
            Number(f"{name}.seen_cd_m2", found.relief_cd_m2, "cd/m2", "mean luminance seen"),
            Number(f"{name}.seen_flat_cd_m2", found.flat_cd_m2, "cd/m2", "of a flat wall instead"),
            Number(f"{name}.seen_share", found.share, "1", "over a flat wall's from the same eye"),
            Number(
                f"{name}.seen_view_share",
                found.view_share,
                "1",
                "part of that which comes from where the eye is",
            ),
        ]
    return tuple(out)
