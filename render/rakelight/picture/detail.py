"""What a relief's image holds finer than its mesh, for the light in pictures.

Shadows are found on the mesh. A graze's facets are finer: a slope that turns by a degree within
a mesh step takes or loses a third of the light that comes along the wall at three. So the mesh
carries what arrives, as a vector between its vertices, and each sample of a picture takes the slope
that it falls on from the image. Where a shadow's edge runs through a cell, it takes what arrives
from the points between its vertices too (`Lit.edges`).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.wall import resample
from rakelight.light.normals import vertex_normals
from rakelight.light.shadow_edges import halfway_to
from rakelight.picture.kernels.detail import sharpen
from rakelight.scene.lit import Lit
from rakelight.scene.relief import Detail, Relief
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float32]
#: Texels finer than this share of the mesh's step are averaged: a sample would jump over them.
_FINEST = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Fine:
    """A relief's fine slopes, and the light that falls on them.

    Parameters
    ----------
    points : ndarray of float32, shape (rows x columns + edge points, 5)
        The relief's vertices, row by row, then the points on shadows' edges: illuminance; the
        part of it that has no one direction; where the rest comes from, as in `Lit.toward_lx`,
        with the groups' outputs. [lx]
    cells : ndarray of int32, shape (rows - 1, columns - 1)
        Number of each cell on a shadow's edge; -1 for the others.
    around : ndarray of int32, shape (cells, 5)
        Which of the points lie around them, as in `EdgeLight`.
    slopes : ndarray of float32, shape (texel rows, texel columns, 2)
        Rise over run along u and v in the middles of the image's texels.
    source : Detail
        How the image lies on the wall.
    """

    points: Floats
    cells: NDArray[np.int32]
    around: NDArray[np.int32]
    slopes: Floats
    source: Detail

    @property
    def texel_m(self) -> float:
        """The larger side of a texel. [m]"""
        rows, columns = self.slopes.shape[:2]
        return float(max(self.source.width_m / columns, self.source.height_m / rows))


def details(room: Room, lit: Lit) -> Mapping[str, Fine]:
    """Fine slopes of all reliefs that have them and directed light, by surface; make them once.

    Parameters
    ----------
    room : Room
        Surfaces with reliefs; only those with an image (`Relief.detail`) count.
    lit : Lit
        Light on their vertices.
    """
    out: dict[str, Fine] = {}
    for surface in room.surfaces:
        relief, toward = surface.relief, lit.toward_lx.get(surface.name)
        if relief is None or relief.detail is None or toward is None:
            continue
        points = _points(relief, lit, surface.name, toward)
        cells = np.full((relief.grid.rows - 1, relief.grid.columns - 1), -1, np.int32)
        around = np.empty((0, 5), np.int32)
        edges = lit.edges.get(surface.name)
        if edges is not None:
            cells, around = edges.cells, edges.around + np.int32(relief.heights_m.size)
        step = max(relief.grid.step_u_m, relief.grid.step_v_m)
        slopes = slopes_of(relief.detail, _FINEST * step)
        out[surface.name] = Fine(points, cells, around, slopes, relief.detail)
    return out


def slopes_of(detail: Detail, finest_m: float) -> Floats:
    """Slopes in the middles of an image's texels, shape (rows, columns, 2).

    Parameters
    ----------
    detail : Detail
        The image.
    finest_m : float
        Texels smaller than this are averaged first. [m], > 0

    Notes
    -----
    Central differences: the derivative of the Catmull-Rom spline that brings the image to a
    finer mesh (`build.wall.resample`).
    """
    image = detail.heights
    rows, columns = image.shape
    rows = max(1, min(rows, int(detail.height_m / finest_m)))
    columns = max(1, min(columns, int(detail.width_m / finest_m)))
    if (rows, columns) != image.shape:
        at_v, at_u = (np.arange(rows) + 0.5) / rows, (np.arange(columns) + 0.5) / columns
        image = resample(image, at_v, at_u, mirror=detail.mirror)
    border = np.pad(image, 1, mode="symmetric" if detail.mirror else "wrap")
    out = np.empty((rows, columns, 2), np.float32)
    half_u = np.float32(detail.depth_m * columns / (2 * detail.width_m))
    half_v = np.float32(detail.depth_m * rows / (2 * detail.height_m))
    np.multiply(border[1:-1, 2:] - border[1:-1, :-2], half_u, out=out[..., 0])
    np.multiply(border[2:, 1:-1] - border[:-2, 1:-1], half_v, out=out[..., 1])
    return out


def refine(
    fine: Fine,
    surface: Surface,
    place: tuple[NDArray[np.int16], Floats, Floats, int, int],
    samples: Floats,
) -> None:
    """Bring the samples of one surface, shaded with light from its mesh, to its fine slopes.

    Parameters
    ----------
    fine : Fine
        From `details`.
    surface : Surface
        Its surface.
    place : tuple
        Ids, u and v of all the picture's samples, the band's first row, the surface's id.
    samples : ndarray of float32, shape (band rows, columns, 3)
        Multiplied in place. [cd/m2]
    """
    source = fine.source
    corner = (*source.offset_uv_m, 1 / source.width_m, 1 / source.height_m)
    sharpen(
        *place,
        fine.points,
        fine.cells,
        fine.around,
        1 / surface.grid.step_u_m,
        1 / surface.grid.step_v_m,
        fine.slopes,
        np.array(corner, np.float64),
        source.mirror,
        fine.texel_m,
        samples,
    )


def _points(relief: Relief, lit: Lit, name: str, toward: Floats) -> Floats:
    """Illuminance, the part of it without direction, and the vector of the rest, side by side."""
    rows, columns = relief.heights_m.shape
    edges = lit.edges.get(name)
    between = 0 if edges is None else edges.rows.size
    points = np.empty((rows * columns + between, 5), np.float32)
    normals = vertex_normals(relief.heights_m, relief.grid.step_u_m, relief.grid.step_v_m)
    total = lit.total_lx(name)
    if edges is not None:
        at = (edges.rows, edges.columns)
        lx = halfway_to((total - lit.runs_lx(name))[None], *at)[0]
        lx += np.tensordot(lit.output.astype(np.float32), edges.direct_lx, axes=1)
        facing = halfway_to(normals, *at)
        facing /= np.sqrt(np.einsum("kn,kn->n", facing, facing))
        _fill(points[rows * columns :], lit, lx, edges.toward_lx, facing)
    out = points[: rows * columns].reshape(rows, columns, 5)
    _fill(out, lit, total, toward, normals)
    return points


def _fill(out: Floats, lit: Lit, total: Floats, toward: Floats, normals: Floats) -> None:
    """Write a row of `Fine.points` for each place; `normals` is used up."""
    output = lit.output.astype(np.float32)
    directed = np.zeros(total.shape, np.float32)
    for k in range(3):
        part = np.tensordot(output, toward[:, k], axes=1)
        out[..., 2 + k] = part
        directed += np.multiply(part, normals[k], out=normals[k])
    out[..., 0] = total
    out[..., 1] = total - np.maximum(directed, 0.0)
