"""`rakelight relief` with a scan or a photograph: a texture is written, then measured."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from rakelight.read.meshes import Axis, MeshUnit
    from rakelight.scene.number import Number

_AXES = ("+x", "-x", "+y", "-y", "+z", "-z")
_SCANS = (".obj", ".ply", ".stl", ".gltf", ".glb")
MOST_SCAN_TRIANGLES = 50_000_000
USUAL_STEP_M = 0.001


@dataclass(frozen=True, slots=True)
class Making:
    """The options that make a texture, as typed; `options` declares them."""

    unit: "MeshUnit | None"
    up: "Axis | None"
    front: "Axis | None"
    turn: str
    crop: str | None
    holes: float
    tile: bool
    blend: str | None
    photo: Path | None
    reflectance: float | None
    out: Path | None


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: its TOML file, numbers and notes."""

    toml: Path
    written: tuple[Path, ...]
    numbers: "tuple[Number, ...]"
    notes: tuple[str, ...]


def options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of `Making` to a command."""
    axis = click.Choice(_AXES)
    declared = (
        click.option(
            "--unit",
            type=click.Choice(["mm", "cm", "m", "in", "ft"]),
            help="Scan: the unit it was exported in; glTF is in metres.",
        ),
        click.option("--up", type=axis, help="Scan: its axis that points up. [+z; glTF +y]"),
        click.option("--front", type=axis, help="Scan: its axis toward the viewer, roughly."),
        click.option(
            "--turn", default="0", metavar="ANGLE", help="Scan: turn it in its plane, +: left."
        ),
        click.option(
            "--crop",
            metavar="LEFT,FOOT,WIDTH,HEIGHT",
            help="Scan: the part to keep. [largest rectangle]",
        ),
        click.option(
            "--holes",
            type=click.FloatRange(0, 1),
            default=0.05,
            show_default=True,
            help="Scan: largest share of holes to fill.",
        ),
        click.option("--tile", is_flag=True, help="Scan: blend its borders so that it repeats."),
        click.option("--blend", metavar="LENGTH", help="With --tile: width. [an eighth]"),
        click.option(
            "--photo",
            type=click.Path(path_type=Path),
            help="Photograph of the same area, made into its reflectance.",
        ),
        click.option(
            "--reflectance",
            type=click.FloatRange(0, 1, min_open=True),
            help="Mean reflectance of what is written.",
        ),
        click.option(
            "-o",
            "--out",
            type=click.Path(path_type=Path),
            metavar="FOLDER/NAME",
            help="Where to write the texture: NAME.toml and a folder NAME.",
        ),
    )
    for option in reversed(declared):
        command = option(command)
    return command


def taken(typed: dict[str, Any]) -> Making:
    """Collect the typed options."""
    return Making(**{field.name: typed[field.name] for field in fields(Making)})


def is_scan(file: str) -> bool:
    """Whether a file is a mesh, by its ending."""
    return Path(file).suffix.lower() in _SCANS


def make_texture(
    file: str,
    making: Making,
    step_m: float | None,
    length: Callable[[str, str], float],
    sizes_m: tuple[float | None, float | None, float | None],
) -> Made | None:
    """Write a texture if the options ask for one.

    Parameters
    ----------
    file : str
        A scan, or anything that is a relief.
    making : Making
        The options.
    step_m : float or None
        As typed. [m]
    length : callable
        Reads a length from an option's name and text, in metres.
    sizes_m : tuple
        Width, height and depth as typed. [m]

    Returns
    -------
    Made or None
        None where a relief is only measured.
    """
    scan = is_scan(file)
    if scan and making.out is None:
        raise click.UsageError(f"{file} is a scan: say where its texture goes, -o FOLDER/NAME.")
    if scan and any(size is not None for size in sizes_m):
        raise click.UsageError("--width, --height and --depth are a height image's; use --unit.")
    if not scan and (making.unit or making.front or making.up or making.crop or making.tile):
        raise click.UsageError(
            f"{file} is no scan; --unit, --up, --front, --crop and --tile are a scan's "
            f"({', '.join(_SCANS)})."
        )
    if making.photo is not None and making.reflectance is None:
        raise click.UsageError(
            "--photo needs --reflectance, the surface's mean: a photograph does not know it."
        )
    if making.photo is not None and making.tile:
        raise click.UsageError(
            "--photo and --tile: the photograph would not be blended alike. Leave --tile out."
        )
    if making.blend is not None and not making.tile:
        raise click.UsageError("--blend is the width of --tile: give --tile too.")
    if making.out is None:
        if making.photo is not None:
            raise click.UsageError("--photo: say where the texture goes, -o FOLDER/NAME.")
        return None
    folder, name = _place(making.out, file)
    if scan:
        return _from_scan(Path(file), making, step_m or USUAL_STEP_M, length, folder, name)
    if making.photo is None:
        raise click.UsageError("-o writes a texture from a scan or with --photo: give one.")
    return _from_heights(file, making, sizes_m, folder, name)


def _place(out: Path, file: str) -> tuple[Path, str]:
    from rakelight.errors import InputError
    from rakelight.tell.texture_files import MADE

    out = out.with_suffix("") if out.suffix.lower() == ".toml" else out
    name, folder = out.name, out.parent
    if not name or not name.replace("-", "").replace("_", "").isalnum():
        raise click.UsageError(f'-o "{out}": name the texture in letters, digits, - and _.')
    toml = folder / f"{name}.toml"
    if toml.exists():
        with toml.open("rb") as existing:
            own = existing.read(len(MADE)) == MADE.encode()
        if not own or toml.resolve() == Path(file).resolve():
            raise InputError(f"{toml}: exists and would be lost. Choose another name.")
    return folder, name


def _from_scan(
    file: Path,
    making: Making,
    step_m: float,
    length: Callable[[str, str], float],
    folder: Path,
    name: str,
) -> Made:
    import numpy as np

    from rakelight.build.project_scan import ScanWish, project_scan
    from rakelight.errors import InputError
    from rakelight.read.memory import available_memory_bytes
    from rakelight.read.meshes import read_mesh, turned_up
    from rakelight.tell.texture_files import texture_files
    from rakelight.units import parse_angle

    try:
        turn_rad = parse_angle(making.turn)
    except ValueError as error:
        raise click.UsageError(f"--turn: {error}.") from None
    crop = None
    if making.crop is not None:
        parts = making.crop.split(",")
        if len(parts) != 4:
            raise click.UsageError(f'--crop "{making.crop}": left, foot, width and height.')
        left, foot, width, height = (length("--crop", part.strip()) for part in parts)
        crop = (left, foot, width, height)
    up = making.up or ("+y" if file.suffix.lower() in (".gltf", ".glb") else "+z")
    front = None
    if making.front is not None:
        axis = np.zeros((1, 3))
        axis[0, "xyz".index(making.front[1])] = 1.0 if making.front[0] == "+" else -1.0
        x, y, z = turned_up(axis, up)[0]
        front = (float(x), float(y), float(z))
    wish = ScanWish(
        step_m=step_m,
        front=front,
        turn_rad=turn_rad,
        crop_m=crop,
        most_holes=making.holes,
        tile=making.tile,
        blend_m=None if making.blend is None else length("--blend", making.blend),
    )
    mesh = read_mesh(file, making.unit, up=up, most_triangles=MOST_SCAN_TRIANGLES)
    notes = mesh.notes
    try:
        scanned = project_scan(
            mesh.points_m, mesh.faces, wish, memory_bytes=available_memory_bytes()
        )
    except ValueError as error:
        raise InputError(f"{file}: {error}.") from None
    del mesh
    rows, columns = scanned.heights_m.shape
    width_m, height_m = columns * step_m, rows * step_m
    depth_m = float(scanned.heights_m.max())
    numbers, notes = scanned.numbers, (*notes, *scanned.notes)
    encoded = None
    if making.photo is not None:
        encoded, more, said = _photo(making, width_m, height_m)
        numbers, notes = (*numbers, *more), (*notes, *said)
    files = texture_files(
        name,
        scanned.heights_m / np.float32(depth_m),
        width_m=width_m,
        height_m=height_m,
        depth_m=depth_m,
        repeat="tile" if scanned.tile else "mirror",
        reflectance=making.reflectance,
        reflectance_map=encoded,
        done=(f"From {file.name}.", *_done(numbers, notes)),
    )
    return _written(folder, name, files, numbers, notes)


def _from_heights(
    file: str,
    making: Making,
    sizes_m: tuple[float | None, float | None, float | None],
    folder: Path,
    name: str,
) -> Made:
    from rakelight.read.relief import read_texture
    from rakelight.tell.texture_files import texture_files

    width, height, depth = sizes_m
    texture = read_texture(file, width_m=width, height_m=height, depth_m=depth)
    encoded, numbers, said = _photo(making, texture.width_m, texture.height_m)
    behind = texture.backing_m / texture.depth_m if texture.depth_m > 0 else 0.0
    backing: str | float = "black" if behind == 0 else behind
    if not 0 <= behind <= 1:
        backing = f"{1000 * (texture.heights.min() * texture.depth_m - texture.backing_m):.7g} mm"
    files = texture_files(
        name,
        texture.heights,
        title=texture.title,
        width_m=texture.width_m,
        height_m=texture.height_m,
        depth_m=texture.depth_m,
        repeat=texture.repeat,
        backing=backing,
        reflectance=making.reflectance,
        reflectance_map=encoded,
        gloss=texture.gloss,
        suits_setback_m=texture.suits_setback_m,
        done=(f"From {Path(file).name}.", *_done(numbers, said)),
    )
    # the reader says the rest again when it measures what was written
    return _written(folder, name, files, numbers, said)


def _photo(
    making: Making, width_m: float, height_m: float
) -> "tuple[Any, tuple[Number, ...], tuple[str, ...]]":
    from rakelight.build.photo_reflectance import check_shape, photo_reflectance
    from rakelight.errors import InputError
    from rakelight.read.photo import read_photo

    assert making.photo is not None
    assert making.reflectance is not None
    photo = read_photo(making.photo)
    notes = list(photo.notes)
    try:
        rows, columns = photo.linear.shape[:2]
        stretch = check_shape((rows, columns), width_m, height_m)
        if abs(stretch - 1) > 1e-3:
            notes.append(f"{making.photo.name}: stretched by {stretch - 1:+.1%} to fit the heights")
        found = photo_reflectance(photo.linear, photo.clipped, photo.black, making.reflectance)
    except ValueError as error:
        raise InputError(f"{making.photo}: {error}.") from None
    notes += [f"{making.photo.name}: {note}" for note in found.notes]
    return found.encoded, found.numbers, tuple(notes)


def _written(
    folder: Path,
    name: str,
    files: dict[str, bytes],
    numbers: "tuple[Number, ...]",
    notes: tuple[str, ...],
) -> Made:
    from rakelight.cli.outputs import output_folder, write_all

    output_folder(str(folder / name))
    write_all(folder, files)
    return Made(folder / f"{name}.toml", tuple(folder / f for f in files), numbers, notes)


def _done(numbers: "tuple[Number, ...]", notes: tuple[str, ...]) -> list[str]:
    return [*(f"{said_number(n)} {n.says}" for n in numbers), *notes]


def said_number(number: "Number") -> str:
    """Write a number of a scan or a photograph as people read it."""
    if number.unit == "m":
        return f"{1000 * number.value:.1f} mm"
    if number.key.endswith("_share"):
        return f"{number.value:.1%}"
    if number.key.endswith("_ratio"):
        return f"{number.value:.1f}:1"
    return f"{number.value:,.0f}"
