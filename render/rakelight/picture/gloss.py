"""Gloss: what a polished or sealed surface mirrors of the runs, as the eye sees it.

A microfacet lobe (Trowbridge and Reitz 1975, known as GGX since Walter et al. 2007; shadowing
by Smith, height-correlated as in Heitz 2014; Fresnel by Schlick 1994) stands over the dull
part, which loses what the lobe takes, so that nothing reflects more than it gets. Direct light
is summed over the openings themselves; light from all over is mirrored as if it were even.
What lies between the run and the surface counts by how much of the run's light arrives there.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.direct import point_light
from rakelight.light.normals import vertex_normals
from rakelight.light.table import MARGIN, axial_table
from rakelight.picture.kernels.gloss import add_gloss, add_surround, add_unhindered
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float64]

#: Reflectance of a clear coat, glass or polished stone seen square-on: index 1.5.
F0 = 0.04
#: Duller than this is shown dull; ours.
LEAST_GLOSS = 0.05
#: The sharpest lobe: a floor polished like glass.
LEAST_ALPHA = 0.003
_STEPS = 16


def roughness(gloss: float) -> float:
    """Width alpha of the lobe's slopes: (1 - gloss)^2, ours; 0.003 for a mirror, 1 for dull."""
    return max((1.0 - gloss) ** 2, LEAST_ALPHA)


def lobe_albedo(alpha: float, nodes: int = 65) -> Floats:
    """Share of even light that the lobe sends toward the eye, by cosine from 0 to 1.

    Parameters
    ----------
    alpha : float
        Width of the lobe.
    nodes : int
        Equal steps of the cosine.

    Returns
    -------
    ndarray of float64, shape (nodes,)
        Integral of the lobe times the cosine; by facets drawn evenly from their distribution.

    References
    ----------
    .. [1] Walter et al., Microfacet Models for Refraction through Rough Surfaces, 2007, eq. 35
       and 41.
    """
    xi = (np.arange(128) + 0.5) / 128
    phi = np.pi * (np.arange(64) + 0.5) / 64
    tan2 = alpha**2 * xi / (1 - xi)
    nh = (1 / np.sqrt(1 + tan2))[:, None]
    across = np.sqrt(1 - nh**2) * np.cos(phi)
    out = np.empty(nodes)
    a2 = alpha**2
    for k, no in enumerate(np.maximum(np.linspace(0, 1, nodes), 2e-3)):
        oh = across * np.sqrt(1 - no**2) + nh * no
        ni = 2 * oh * nh - no
        there = (oh > 0) & (ni > 0)
        i = np.where(there, ni, 1.0)
        # G2 / (4 no ni), Heitz 2014
        shadow = 0.5 / (no * np.sqrt(a2 + (1 - a2) * i**2) + i * np.sqrt(a2 + (1 - a2) * no**2))
        fresnel = F0 + (1 - F0) * (1 - np.clip(oh, 0, 1)) ** 5
        out[k] = np.where(there, fresnel * shadow * 4 * i * oh / nh, 0.0).mean()
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Gloss:
    """What the lobe of one surface needs, whatever the camera.

    Parameters
    ----------
    alpha : float
        Width of the lobe.
    heights_m : ndarray of float32, shape (rows, columns)
        Of the relief; (1, 1) where flat. [m]
    normals : ndarray of float32, shape (3, rows, columns)
        Of its vertices; (3, 1, 1) where flat.
    seen : tuple of ndarray of float32, shape (rows, columns)
        For each group of runs, the share of its light that arrives.
    around_lx : ndarray of float32, shape (rows, columns)
        Light that comes from all over. [lx]
    """

    alpha: float
    heights_m: NDArray[np.float32]
    normals: NDArray[np.float32]
    seen: tuple[NDArray[np.float32], ...]
    around_lx: NDArray[np.float32]


def sheens(room: Room, lit: Lit) -> Mapping[str, Gloss]:
    """What the lobes of all glossy surfaces need, by name: one answer for any number of views."""
    made = ((surface.name, gloss_of(surface, room, lit)) for surface in room.surfaces)
    return {name: gloss for name, gloss in made if gloss is not None}


def gloss_of(surface: Surface, room: Room, lit: Lit) -> Gloss | None:
    """Gather what a surface's lobe needs; None if it is dull.

    Parameters
    ----------
    surface : Surface
        One of the room's.
    room : Room
        Its runs.
    lit : Lit
        Its light: beside what would arrive unhindered it says what does.
    """
    if surface.gloss < LEAST_GLOSS:
        return None
    grid, relief = surface.grid, surface.relief
    shape = (grid.rows, grid.columns)
    heights, normals = np.zeros((1, 1), np.float32), np.zeros((3, 1, 1), np.float32)
    points = np.zeros((0, 3))
    if relief is not None:
        heights = relief.heights_m
        normals = vertex_normals(heights, grid.step_u_m, grid.step_v_m)
    else:
        u, v = np.meshgrid(grid.u_m(), grid.v_m())
        points = surface.frame.to_room(np.stack([u, v, 0 * u], axis=-1).reshape(-1, 3))
    seen = []
    for index, group in enumerate(room.groups):
        free = np.zeros(shape, np.float32)
        for line in group.lines:
            if relief is None:
                free += point_light(points, surface.frame.n, line, _STEPS).reshape(shape)
                continue
            add_unhindered(
                heights,
                normals,
                grid.step_u_m,
                grid.step_v_m,
                _run_on(surface, line),
                np.ascontiguousarray(line.lit_m, np.float64),
                axial_table(line, line.axis),
                MARGIN,
                _STEPS // 2,
                free,
            )
        there = lit.direct_lx[surface.name][index]
        share = np.divide(there, free, out=np.zeros(shape, np.float32), where=free > 1e-4)
        seen.append(np.clip(share, 0, 1).astype(np.float32))
    around = lit.total_lx(surface.name) - lit.runs_lx(surface.name)
    return Gloss(roughness(surface.gloss), heights, normals, tuple(seen), around)


def _run_on(surface: Surface, line: LitLine) -> Floats:
    """A run's start, axis, nadir, across and front in a surface's frame, shape (5, 3)."""
    frame = surface.frame
    ways = np.stack([line.axis, line.nadir, line.across, line.facing])
    return np.concatenate([frame.from_room(line.origin_m)[None], frame.direction_from_room(ways)])


def shine(
    gloss: Gloss,
    surface: Surface,
    room: Room,
    lit: Lit,
    camera: Camera,
    place: tuple[NDArray[np.int16], NDArray[np.float32], NDArray[np.float32], int, int],
    samples: NDArray[np.float32],
    *,
    in_pairs: bool = False,
) -> None:
    """Change a band of dull samples into glossy ones.

    Parameters
    ----------
    gloss : Gloss
        From `gloss_of`.
    surface, room, lit
        What it was made from.
    camera : Camera
        The eye.
    place : tuple
        ids, u and v of the view, first row of the band, and the surface's number.
    samples : ndarray of float32, shape (rows, columns, 3)
        The band's luminances; changed. [cd/m2]
    in_pairs : bool
        Whether two samples beside each other lie in one pixel, and may share what is smooth.
    """
    frame, grid = surface.frame, surface.grid
    eye = frame.from_room(camera.eye_m)
    mesh = (gloss.heights_m, gloss.normals, 1 / grid.step_u_m, 1 / grid.step_v_m, eye)
    total = float(lit.output.sum())
    mean = lit.output @ lit.white_rgb / total if total > 0 else np.ones(3)
    add_surround(*place, *mesh, lobe_albedo(gloss.alpha), gloss.around_lx, mean, samples)
    for index, group in enumerate(room.groups):
        colour = lit.output[index] * lit.white_rgb[index]
        for line in group.lines:
            add_gloss(
                *place,
                *mesh,
                gloss.seen[index],
                _run_on(surface, line),
                np.ascontiguousarray(line.lit_m, np.float64),
                line.opening_width_m,
                axial_table(line, line.axis),
                MARGIN,
                gloss.alpha,
                F0,
                colour,
                in_pairs,
                samples,
            )
