"""Files that a scene names: shipped ones by their name, others by their path."""

import difflib
from pathlib import Path

from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.photometry import read_photometry
from rakelight.read.relief import read_finish, read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.read.toml import SceneFile, is_path
from rakelight.scene.intensity import Intensity
from rakelight.scene.texture import Texture

PHOTOMETRIC_ENDINGS = (".ies", ".ldt")


def photometry_of(scene_file: SceneFile, index: int) -> Intensity:
    """Read the photometric file of a run.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    index : int
        Which [[run]], from 0.

    Raises
    ------
    InputError
        If there is no such file, or it cannot be used.
    """
    where = ("run", index, "photometry")
    name = scene_file.tables.run[index].photometry
    if is_path(name):
        return read_photometry(_existing(scene_file, where, name), scene_file.folder)
    folder = shipped_folder("shared/photometry")
    for ending in PHOTOMETRIC_ENDINGS:
        if (folder / f"{name}{ending}").is_file():
            return read_photometry(folder / f"{name}{ending}")
    shipped = sorted(p.stem for p in folder.iterdir() if p.suffix in PHOTOMETRIC_ENDINGS)
    raise InputError(_no_such_name(scene_file, where, name, shipped))


def texture_of(
    scene_file: SceneFile, index: int, *, reflectance: tuple[float, float, float] | None
) -> Texture:
    """Read the texture of a relief.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    index : int
        Which [[relief]], from 0.
    reflectance : tuple of float or None
        Mean reflectance instead of the texture's own.

    Raises
    ------
    InputError
        If there is no such texture, or it cannot be used.
    """
    table = scene_file.tables.relief[index]
    name: str | Path = table.texture
    if is_path(table.texture):
        name = _existing(scene_file, ("relief", index, "texture"), table.texture)
    return read_texture(
        name,
        width_m=table.width_m,
        height_m=table.height_m,
        depth_m=table.depth_m,
        repeat=table.repeat,
        backing=table.backing,
        reflectance=reflectance,
    )


def finish_of(
    scene_file: SceneFile,
    surface: str,
    name: str,
    *,
    reflectance: tuple[float, float, float] | None,
) -> Texture:
    """Read the finish of a surface: a shipped one, the colours of a relief, or a TOML file.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    surface : str
        Key of the surface that states it.
    name : str
        What it states.
    reflectance : tuple of float or None
        Mean reflectance instead of the finish's own.

    Raises
    ------
    InputError
        If there is no such finish, or it cannot be used.
    """
    where = ("surface", surface, "finish")
    if is_path(name):
        return read_finish(_existing(scene_file, where, name), reflectance=reflectance)
    textures = shipped_folder("textures")
    for folder in (textures / "finishes", textures):
        if (folder / f"{name}.toml").is_file():
            return read_finish(folder / f"{name}.toml", reflectance=reflectance)
    shipped = sorted(path.stem for path in (textures / "finishes").glob("*.toml"))
    raise InputError(_no_such_name(scene_file, where, name, shipped))


PICTURE_ENDINGS = (".jpg", ".png")


def picture_of(scene_file: SceneFile, index: int) -> Path:
    """Find the image of a painting.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    index : int
        Which [[painting]], from 0.

    Raises
    ------
    InputError
        If there is none of that name or at that path.
    """
    where = ("painting", index, "image")
    name = scene_file.tables.painting[index].image
    if is_path(name):
        return _existing(scene_file, where, name)
    folder = shipped_folder("textures") / "pictures"
    shipped = {p.stem: p for p in sorted(folder.glob("*")) if p.suffix in PICTURE_ENDINGS}
    if name in shipped:
        return shipped[name]
    raise InputError(_no_such_name(scene_file, where, name, sorted(shipped)))


def _existing(scene_file: SceneFile, where: tuple[str | int, ...], name: str) -> Path:
    folder = scene_file.folder_of(*where)
    path = folder / name
    if not path.exists():
        says = "no such file. A path starts at the folder of the file that states it."
        raise InputError(stated_fault(scene_file.stated, where, says))
    return path


def _no_such_name(
    scene_file: SceneFile, where: tuple[str | int, ...], name: str, shipped: list[str]
) -> str:
    close = difflib.get_close_matches(name, shipped, n=1)
    guess = f' Did you mean "{close[0]}"?' if close else ""
    says = f"not shipped.{guess} There are {', '.join(shipped)}; or give a path."
    return stated_fault(scene_file.stated, where, says)
