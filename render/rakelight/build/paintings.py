"""Paintings, graphics and murals: an image on a wall, or on a board that hangs before it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rakelight.build.areas import LEAST_TEXEL_M, MOST_TEXELS, map_at, srgb_encode
from rakelight.build.faces import Finish, Prism, flat_face, prism_faces
from rakelight.build.openings import Opening, inside_convex
from rakelight.build.sources import picture_of
from rakelight.build.standing import Standing, Where, tag_of
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.photo import read_photo
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.painting import Painting
from rakelight.scene.painting_tables import PaintingTable
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.surfaces import Surface
from rakelight.units import LengthUnit, say_length

Floats = NDArray[np.float64]

#: Height of a painting's middle, and its distance from the wall; common practice, no source.
MIDDLE_UP_M = 1.5
USUAL_DEPTH_M = 0.025
#: Proportions that differ by more than this are said to be stretched; ours.
STRETCHED = 0.02
#: Gloss of picture glass.
GLASS = 0.95

_CODE = np.arange(256) / 255
#: Linear values of sRGB codes (IEC 61966-2-1).
_DECODED = np.where(_CODE <= 0.04045, _CODE / 12.92, ((_CODE + 0.055) / 1.055) ** 2.4).astype(
    np.float32
)


@dataclass(frozen=True, slots=True, eq=False)
class BuiltPainting:
    """A painting in its room.

    Parameters
    ----------
    painting : Painting
        For the measures.
    image : ReflectanceMap
        Its reflectance; width and height are its own.
    standing : Standing or None
        Its board and frame; None for a mural.
    note : str
        What was assumed; may be empty.
    """

    painting: Painting
    image: ReflectanceMap
    standing: Standing | None
    note: str


def build_paintings(
    scene_file: SceneFile,
    surfaces: Mapping[str, Surface],
    openings: Sequence[Opening],
    step_m: float,
) -> tuple[BuiltPainting, ...]:
    """Build the paintings of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    surfaces : mapping of str to Surface
        The shell.
    openings : sequence of Opening
        Doors and windows, over which nothing hangs.
    step_m : float
        Largest step of the faces' grids. [m]

    Raises
    ------
    InputError
        With one line for every image that cannot be used and every painting that does not fit.
    """
    found: list[BuiltPainting] = []
    outer: list[tuple[str, Floats, Floats]] = []
    faults: list[str] = []
    for index, table in enumerate(scene_file.tables.painting):
        where: Where = ("painting", index)
        tag = tag_of("painting", index, table.tag)
        wall = surfaces[table.on]
        try:
            path = picture_of(scene_file, index)
            image, note = _image(path, table)
        except InputError as error:
            faults.extend(error.faults)
            continue
        low, high = _bounds(table, wall, image)
        border = table.frame.width_m if table.frame is not None else 0.0
        rim = (low - border, high + border)
        fault = _misfit(scene_file, where, table, wall, rim, openings)
        for other, (on, a, b) in zip(found, outer, strict=True):
            if on == table.on and ((rim[1] > a + 1e-9) & (rim[0] < b - 1e-9)).all():
                says = f"overlaps painting {other.painting.tag}. Move one of them."
                fault = fault or stated_fault(scene_file.stated, where, says)
        if fault:
            faults.append(fault)
            continue
        if table.kind == "mural":
            painting = Painting(tag, table.on, table.on, _pair(low), _pair(high), table.glazed)
            found.append(BuiltPainting(painting, image, None, note))
        else:
            other_lx = wall.other_light_lx
            standing = _hung(table, tag, where, wall, image, low, high, other_lx, step_m)
            painting = Painting(
                tag,
                table.on,
                standing.faces[0].name,
                (0.0, 0.0),
                _pair(high - low),
                table.glazed,
            )
            found.append(BuiltPainting(painting, image, standing, note))
        outer.append((table.on, *rim))
    if faults:
        raise InputError(*faults)
    return tuple(found)


def with_murals(
    surfaces: Mapping[str, Surface], paintings: Sequence[BuiltPainting]
) -> dict[str, Surface]:
    """Return the walls with what is painted on them laid over their own reflectance."""
    out = dict(surfaces)
    for one in paintings:
        if one.standing is None:
            out[one.painting.on] = _painted_over(out[one.painting.on], one)
    return out


def _pair(at: Floats) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def _image(path: Path, table: PaintingTable) -> tuple[ReflectanceMap, str]:
    photo = read_photo(path)
    encoded = np.rint(255 * srgb_encode(photo.linear)).astype(np.uint8)[::-1]
    rows, columns = encoded.shape[:2]
    width, height = table.width_m, table.height_m
    note = ""
    if width is not None and height is not None:
        stretch = width / height * rows / columns
        if abs(stretch - 1) > STRETCHED:
            note = (
                f"{path.name}: {columns} x {rows} pixels shown at other proportions, "
                f"{'wider' if stretch > 1 else 'taller'} by "
                f"{abs(max(stretch, 1 / stretch) - 1):.0%}"
            )
    elif width is not None:
        height = width * rows / columns
    elif height is not None:
        width = height * columns / rows
    if width is None or height is None:
        raise ValueError("a painting needs a width or a height")
    # mirrored beyond its border, so that opposite edges do not blend into each other
    image = ReflectanceMap(
        np.ascontiguousarray(encoded), table.white_reflectance, width, height, mirror=True
    )
    return image, note


def _bounds(table: PaintingTable, wall: Surface, image: ReflectanceMap) -> tuple[Floats, Floats]:
    size = np.array([image.width_m, image.height_m])
    left, foot = table.from_left_m, table.from_foot_m
    low = np.array(
        [
            (wall.grid.width_m - size[0]) / 2 if left is None else left,
            MIDDLE_UP_M - size[1] / 2 if foot is None else foot,
        ]
    )
    return low, low + size


def _misfit(
    scene_file: SceneFile,
    where: Where,
    table: PaintingTable,
    wall: Surface,
    rim: tuple[Floats, Floats],
    openings: Sequence[Opening],
) -> str:
    stated, unit = scene_file.stated, scene_file.tables.units.length
    low, high = rim
    size = high - low
    room = wall.corners_uv_m.max(axis=0)
    for k, (key, way) in enumerate((("width", "wide"), ("height", "high"))):
        if size[k] > room[k] + 1e-9:
            says = (
                f'with its frame it is {_m(size[k], unit)} {way}, larger than the "{table.on}" '
                f"wall, which is {_m(room[k], unit)} {way}."
            )
            at = (*where, key) if getattr(table, f"{key}_m") is not None else where
            return stated_fault(stated, at, says)
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    if not inside_convex(corners, wall.corners_uv_m):
        beyond = low[0] < -1e-6 or high[0] > room[0] + 1e-6
        key = "from_left" if beyond else "from_foot"
        says = (
            f'it would reach from {_m(low[0], unit)} to {_m(high[0], unit)} along the "{table.on}" '
            f"wall and from {_m(low[1], unit)} to {_m(high[1], unit)} up; the wall is "
            f"{_m(room[0], unit)} wide and {_m(room[1], unit)} high."
        )
        at = (*where, key) if getattr(table, f"{key}_m") is not None else where
        return stated_fault(stated, at, says)
    for opening in openings:
        cut = opening.cut
        if opening.on == table.on and ((high > cut.low_m) & (low < cut.high_m)).all():
            says = f"hangs over {opening.kind} {opening.tag}. Move it to a free part of the wall."
            return stated_fault(stated, where, says)
    return ""


def _m(value: float, unit: LengthUnit) -> str:
    return say_length(float(value), unit)


def _hung(
    table: PaintingTable,
    tag: str,
    where: Where,
    wall: Surface,
    image: ReflectanceMap,
    low: Floats,
    high: Floats,
    other_lx: float,
    step_m: float,
) -> Standing:
    """Board with its picture first among its faces; a frame has four bars round it."""
    name = f"painting {tag}"
    depth = USUAL_DEPTH_M if table.depth_m is None else table.depth_m
    frame, border = wall.frame, table.frame
    wide = border.width_m if border is not None else 0.0
    front = depth + (border.proud_m if border is not None else 0.0)
    rgb = np.array(border.reflectance) if border is not None else np.full(3, 0.6)
    finish = Finish(rgb, other_lx, step_m)

    def rectangle(a: Floats, b: Floats, n: float) -> Floats:
        flat = np.array([[a[0], a[1], n], [b[0], a[1], n], [b[0], b[1], n], [a[0], b[1], n]])
        return frame.to_room(flat)

    face = flat_face(name, rectangle(low, high, depth), frame.n, finish, up=frame.v)
    mean = _DECODED[image.encoded].mean(axis=(0, 1), dtype=np.float64) * image.scale
    gloss = GLASS if table.glazed else 0.0
    faces = [replace(face, reflectance_map=image, reflectance_rgb=mean, gloss=gloss)]
    a, b = low - wide, high + wide
    section = np.array([[0.0, a[1]], [front, a[1]], [front, b[1]], [0.0, b[1]]])
    box = Prism(frame, section, float(a[0]), float(b[0]))
    words = {0: "under", 2: "top", 3: "back", -1: "left", -2: "right"}
    faces += prism_faces(box, lambda k: f"{name} {words[k]}" if k in words else None, finish)
    if border is not None:
        faces += _frame_faces(name, frame, (a, low, high, b), (depth, front), finish)
    return Standing("painting", tag, where, (box,), tuple(faces))


def _frame_faces(
    name: str,
    frame: Frame,
    edges: tuple[Floats, Floats, Floats, Floats],
    levels: tuple[float, float],
    finish: Finish,
) -> list[Surface]:
    """Four bars round a picture, and where they stand before it their inner sides."""
    a, low, high, b = edges
    depth, front = levels
    bars = {
        "bar left": ((a[0], a[1]), (low[0], b[1])),
        "bar right": ((high[0], a[1]), (b[0], b[1])),
        "bar foot": ((low[0], a[1]), (high[0], low[1])),
        "bar head": ((low[0], high[1]), (high[0], b[1])),
    }
    faces = [
        flat_face(
            f"{name} {word}",
            frame.to_room(
                np.array([[*p, front], [q[0], p[1], front], [*q, front], [p[0], q[1], front]])
            ),
            frame.n,
            finish,
            up=frame.v,
        )
        for word, (p, q) in bars.items()
    ]
    if front - depth > 1e-6:
        ring = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
        inward = (frame.v, -frame.u, -frame.v, frame.u)
        for k, word in enumerate(("foot", "right", "head", "left")):
            p, q = ring[k], ring[(k + 1) % 4]
            side = np.array([[*p, depth], [*q, depth], [*q, front], [*p, front]])
            faces.append(flat_face(f"{name} inside {word}", frame.to_room(side), inward[k], finish))
    return faces


def _painted_over(wall: Surface, one: BuiltPainting) -> Surface:
    """A wall whose reflectance map shows the mural where it is."""
    width, height = wall.grid.width_m, wall.grid.height_m
    texel = max(LEAST_TEXEL_M, width / MOST_TEXELS, height / MOST_TEXELS)
    columns, rows = max(1, round(width / texel)), max(1, round(height / texel))
    u, v = (np.arange(columns) + 0.5) * width / columns, (np.arange(rows) + 0.5) * height / rows
    own = wall.reflectance_map
    linear = np.empty((rows, columns, 3), np.float32)
    linear[:] = wall.reflectance_rgb if own is None else map_at(own, v, u)
    low, high = np.array(one.painting.low_m), np.array(one.painting.high_m)
    i, j = (
        slice(*np.searchsorted(v, [low[1], high[1]])),
        slice(*np.searchsorted(u, [low[0], high[0]])),
    )
    linear[i, j] = _smooth_at(one.image, v[i] - low[1], u[j] - low[0])
    top = max(float(linear.max()), 1e-6)
    encoded = np.rint(255 * srgb_encode(linear / top)).astype(np.uint8)
    mean = linear.mean(axis=(0, 1), dtype=np.float64)
    return replace(
        wall,
        reflectance_map=ReflectanceMap(encoded, top, width, height, mirror=True),
        reflectance_rgb=mean,
    )


def _smooth_at(image: ReflectanceMap, v: Floats, u: Floats) -> NDArray[np.float32]:
    """Linear reflectance of an image at places on it, linear between its pixels' middles."""
    rows, columns = image.encoded.shape[:2]
    linear = _DECODED[image.encoded]
    y = np.clip(v / image.height_m * rows - 0.5, 0, rows - 1)
    x = np.clip(u / image.width_m * columns - 0.5, 0, columns - 1)
    i, j = y.astype(np.int64), x.astype(np.int64)
    up, right = np.minimum(i + 1, rows - 1), np.minimum(j + 1, columns - 1)
    f = (y - i).astype(np.float32)[:, None, None]
    g = (x - j).astype(np.float32)[None, :, None]
    foot = linear[np.ix_(i, j)] * (1 - g) + linear[np.ix_(i, right)] * g
    head = linear[np.ix_(up, j)] * (1 - g) + linear[np.ix_(up, right)] * g
    out: NDArray[np.float32] = (foot * (1 - f) + head * f) * np.float32(image.scale)
    return out
