"""Reliefs side by side: the same wall grazed and washed, each relief in turn, for one sheet."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.scene import build_read_scene
from rakelight.picture.exposure import automatic_ev100
from rakelight.picture.shade import Picture, develop
from rakelight.picture.tone import WHITE
from rakelight.read.relief import read_texture
from rakelight.read.toml import SceneFile, lay_values
from rakelight.scene.texture import Texture
from rakelight.study.stills import light_scene

#: What the picture of a wall is drawn larger than the tile that it becomes.
_ROOM_AROUND = 1.12


@dataclass(frozen=True, slots=True, eq=False)
class SampleWall:
    """One relief under one light after the other, cropped to the wall.

    Parameters
    ----------
    texture : Texture
        The relief.
    pictures : tuple of Picture
        One a scene.
    average_lx : tuple of float
        Average on the wall's plane, one a scene. [lx]
    """

    texture: Texture
    pictures: tuple[Picture, ...]
    average_lx: tuple[float, ...]


def sample_walls(
    scenes: Sequence[SceneFile],
    reliefs: Sequence[str],
    width_px: int,
    progress: Callable[[str], None],
) -> Iterator[SampleWall]:
    """Light and draw every relief in every scene.

    Parameters
    ----------
    scenes : sequence of SceneFile
        Of one room whose main wall has the relief; the texture stated there is replaced.
    reliefs : sequence of str
        Names of shipped reliefs, or paths.
    width_px : int
        About how wide the wall's picture is to be.
    progress : callable
        Told what is done next.

    Raises
    ------
    InputError
        If a relief cannot be read or does not fit the scene.
    """
    for name in reliefs:
        pictures, averages = [], []
        for scene_file in scenes:
            room = scene_file.tables.room
            wide = round(width_px * _ROOM_AROUND)
            laid = lay_values(
                scene_file,
                {
                    "relief.1.texture": name,
                    "picture.width": wide,
                    "picture.height": round(wide * room.height_m / room.width_m),
                    "picture.supersample": 3,
                },
            )
            lit = light_scene(build_read_scene(laid), ("front",), progress)
            shot = lit.shots[0]
            main = shot.view.names.index("main")
            pictures.append(shot.picture)
            averages.append(next(n.value for n in lit.numbers if n.key == "main.flat.average_lx"))
        box = _box(pictures, main)
        shown = tuple(_cropped(picture, box) for picture in pictures)
        yield SampleWall(read_texture(name), shown, tuple(averages))


def _box(pictures: Sequence[Picture], owner: int) -> tuple[slice, slice]:
    """Rows and columns in which every picture shows the surface, and little before it."""
    here = np.logical_and.reduce([picture.ids == owner for picture in pictures])
    # a rough relief frays the wall's borders, so a line counts where most of it is the wall;
    # what hangs before the wall hides its top: the lowest rows that it leaves free
    columns = _longest(here.sum(axis=0) > 0.5 * here.sum(axis=0).max())
    rows = _longest(here[:, columns].mean(axis=1) > 0.9)
    return rows, _longest(here[rows].mean(axis=0) > 0.9)


def _longest(kept: NDArray[np.bool_]) -> slice:
    """Return the longest stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], kept, [False]]).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - starts))
    return slice(int(starts[best]), int(ends[best]))


def _cropped(picture: Picture, box: tuple[slice, slice]) -> Picture:
    none = np.zeros(0, np.int64)
    return Picture(
        np.ascontiguousarray(picture.rgb_cd_m2[box]),
        np.zeros(picture.ids[box].shape, np.int16),
        none,
        np.zeros((0, 1, 3), np.float32),
        np.zeros((0, 1), np.float32),
    )


def developed(walls: Sequence[SampleWall]) -> tuple[float, list[list[NDArray[np.uint8]]]]:
    """EV100 that serves all walls together, and their codes at it."""
    readings = [picture.luminance_cd_m2() for wall in walls for picture in wall.pictures]
    ev100 = automatic_ev100(readings, WHITE)
    return ev100, [[develop(picture, ev100) for picture in wall.pictures] for wall in walls]
