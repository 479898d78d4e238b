"""A wall's height field and its reflectance, made by `build.wall`, lit by `light`."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.grid import Grid


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """The image that a relief was made from, with what is finer than the relief's mesh.

    Parameters
    ----------
    heights : ndarray of float32, shape (rows, columns)
        0 to 1, row 0 at the *foot*; samples stand for the middles of their cells.
    depth_m : float
        Height that 1 stands for. [m]
    width_m, height_m : float
        Physical size of the whole image before it repeats. [m]
    offset_uv_m : tuple of float
        Where its lower left corner lies on the wall. [m]
    mirror : bool
        True: every second copy is mirrored; False: plain tiles.
    """

    heights: NDArray[np.float32]
    depth_m: float
    width_m: float
    height_m: float
    offset_uv_m: tuple[float, float] = (0.0, 0.0)
    mirror: bool = False

    def __post_init__(self) -> None:
        self.heights.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Relief:
    """Heights over a wall's mean plane, one for each vertex of the wall's grid.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Toward the viewer, 0 = mean plane; rows run up v, columns along u. [m]
    grid : Grid
        Where the vertices lie; its rows and columns are those of `heights_m`.
    mask : ndarray of bool, shape (rows, columns)
        True where there is relief; statistics leave out the rest. A plain part of the wall stands
        in the light as it is; a hole, and what lies beyond the wall, does not.
    backing_m : float
        Height of the backing (the plane that the relief is fixed to), negative. [m]
    feature_m : tuple of float
        Size of a typical feature along u and along v: the wavelength above which half of the
        height variance lies. [m]
    name : str
        For captions only.
    softened : bool
        Whether cliffs steeper than the mesh shows were softened over a step of it.
    detail : Detail or None
        What pictures take the stone's own slopes from; None: from the mesh.
    highest_m, lowest_m : float
        Highest and lowest point over the mean plane; found here, once. [m]
    """

    heights_m: NDArray[np.float32]
    grid: Grid
    mask: NDArray[np.bool_]
    backing_m: float
    feature_m: tuple[float, float]
    name: str
    softened: bool = False
    detail: Detail | None = None
    highest_m: float = field(init=False)
    lowest_m: float = field(init=False)

    def __post_init__(self) -> None:
        shape = (self.grid.rows, self.grid.columns)
        if self.heights_m.shape != shape or self.mask.shape != shape:
            raise ValueError(
                f"heights {self.heights_m.shape} and mask {self.mask.shape} must both be {shape}"
            )
        self.heights_m.setflags(write=False)
        self.mask.setflags(write=False)
        shown = self.heights_m if self.mask.all() else self.heights_m[self.mask]
        object.__setattr__(self, "highest_m", float(shown.max(initial=-np.inf)))
        object.__setattr__(self, "lowest_m", float(shown.min(initial=np.inf)))


@dataclass(frozen=True, slots=True, eq=False)
class ReflectanceMap:
    """Diffuse reflectance over a surface, repeated like the relief it belongs to.

    Parameters
    ----------
    encoded : ndarray of uint8, shape (rows, columns, 3)
        sRGB-encoded (IEC 61966-2-1) reflectance, row 0 at the *foot* (v = 0).
    scale : float
        Factor on the linear values, so that the mean is the stated reflectance.
    width_m, height_m : float
        Physical size of the whole image before it repeats. [m]
    mirror : bool
        True: every second copy is mirrored; False: plain tiles.
    """

    encoded: NDArray[np.uint8]
    scale: float
    width_m: float
    height_m: float
    mirror: bool = False

    def __post_init__(self) -> None:
        self.encoded.setflags(write=False)
