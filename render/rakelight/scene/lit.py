"""What `light` returns: illuminance on every vertex of every surface."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.white import LUMINANCE_WEIGHTS


@dataclass(frozen=True, slots=True, eq=False)
class EdgeLight:
    """Direct light between a relief's vertices, in the cells where shadows' edges run.

    Parameters
    ----------
    cells : ndarray of int32, shape (rows - 1, columns - 1)
        Number of each such cell; -1 for the others.
    around : ndarray of int32, shape (cells, 5)
        Numbers of the points in the middle of each cell's lower side, its left one, itself,
        its right side and its upper one.
    rows, columns : ndarray of int32, shape (points,)
        Place of each point, in half steps of the relief's grid.
    direct_lx : ndarray of float32, shape (groups, points)
        As `Lit.direct_lx`; their normals lie halfway between the vertices'. [lx]
    toward_lx : ndarray of float32, shape (groups, 3, points)
        As `Lit.toward_lx`. [lx]
    """

    cells: NDArray[np.int32]
    around: NDArray[np.int32]
    rows: NDArray[np.int32]
    columns: NDArray[np.int32]
    direct_lx: NDArray[np.float32]
    toward_lx: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Lit:
    """Illuminance by surface; dim, maintenance and colour stay multiplications.

    Parameters
    ----------
    direct_lx : mapping of str to ndarray of float32, shape (groups, rows, columns)
        Direct illuminance of each group at full output, per true area, on the vertices of
        the surface's grid (or of its relief). [lx]
    flat_lx : mapping of str to ndarray of float32, shape (groups, rows, columns)
        The same on the mean plane without relief, for surfaces that have a relief. [lx]
    bounced_lx : mapping of str to ndarray of float32, shape (rows, columns[, 3])
        By interreflection, with the groups' output applied; empty until it is computed. With a
        last axis of 3: linear Rec.709, its luminance is the illuminance. [lx]
    other_lx : mapping of str to ndarray of float32, shape (rows, columns)
        Stated other light as each vertex receives it: times its openness. [lx]
    output : ndarray of float64, shape (groups,)
        Each group's dim x maintenance.
    white_rgb : ndarray of float64, shape (groups, 3)
        Each group's colour, luminance 1.
    flat_bounced_lx : mapping of str to ndarray of float32, shape (rows, columns)
        `bounced_lx` as the mean plane would receive it, for surfaces that have a relief:
        hollows receive less of the room, and a meter held to the wall reads this. [lx]
    toward_lx : mapping of str to ndarray of float32, shape (groups, 3, rows, columns)
        Each group's direct light at full output as it arrives across its own direction, times
        that direction as (u, v, n): its product with a normal is what a plane there receives.
        For reliefs, as far as it is known; else 0. Where edges are not asked for, of those alone
        whose detail is finer than their mesh. [lx]
    edges : mapping of str to EdgeLight
        Light in the cells of the same reliefs where shadows' edges run: what pictures draw there,
        and what those cells send on.
    """

    direct_lx: Mapping[str, NDArray[np.float32]]
    flat_lx: Mapping[str, NDArray[np.float32]]
    bounced_lx: Mapping[str, NDArray[np.float32]]
    other_lx: Mapping[str, NDArray[np.float32]]
    output: NDArray[np.float64]
    white_rgb: NDArray[np.float64]
    flat_bounced_lx: Mapping[str, NDArray[np.float32]] = field(default_factory=dict)
    toward_lx: Mapping[str, NDArray[np.float32]] = field(default_factory=dict)
    edges: Mapping[str, EdgeLight] = field(default_factory=dict)

    def total_lx(self, surface: str) -> NDArray[np.float32]:
        """All light on a surface's vertices, shape (rows, columns). [lx]"""
        total: NDArray[np.float32] = self.runs_lx(surface) + self.other_lx[surface]
        if surface in self.bounced_lx:
            total = total + self.indirect_lx(surface)
        return total

    def indirect_lx(self, surface: str) -> NDArray[np.float32]:
        """Bounced light weighted for luminance, shape (rows, columns), once there is any. [lx]"""
        bounced = self.bounced_lx[surface]
        if bounced.ndim == 2:
            return bounced
        out: NDArray[np.float32] = bounced @ LUMINANCE_WEIGHTS.astype(np.float32)
        return out

    def runs_lx(self, surface: str) -> NDArray[np.float32]:
        """Direct light of the runs with dim and maintenance, shape (rows, columns). [lx]"""
        out: NDArray[np.float32] = np.tensordot(
            self.output.astype(np.float32), self.direct_lx[surface], axes=1
        )
        return out

    def flat_runs_lx(self, surface: str) -> NDArray[np.float32]:
        """`runs_lx` as the mean plane would receive it; equal to it where no relief is. [lx]"""
        flat = self.flat_lx.get(surface)
        if flat is None:
            return self.runs_lx(surface)
        out: NDArray[np.float32] = np.tensordot(self.output.astype(np.float32), flat, axes=1)
        return out

    def rgb_lx(self, surface: str) -> NDArray[np.float32]:
        """Illuminance in linear Rec.709 whose luminance is `total_lx`, shape (rows, columns, 3).

        Other light, and bounced light of one band, has the mean colour of the runs: nothing is
        known of its own.
        """
        weights = (self.output[:, None] * self.white_rgb).astype(np.float32)
        direct = self.direct_lx[surface]
        rgb = np.empty((*direct.shape[1:], 3), np.float32)
        rest = self.other_lx[surface]
        bounced = self.bounced_lx.get(surface)
        coloured = bounced is not None and bounced.ndim == 3
        if bounced is not None and not coloured:
            rest = rest + bounced
        total = float(self.output.sum())
        colour = weights.sum(axis=0) / np.float32(total) if total > 0 else np.ones(3, np.float32)
        for channel in range(3):
            rgb[..., channel] = np.tensordot(weights[:, channel], direct, axes=1)
            rgb[..., channel] += rest * colour[channel]
        if bounced is not None and coloured:
            rgb += bounced
        return rgb
