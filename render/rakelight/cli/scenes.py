"""Scenes as commands take them: all faults of all of them at once."""

from collections import Counter
from collections.abc import Sequence

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.read.shipped import shipped_folder
from rakelight.scene.scene import Scene


def load_scenes(
    paths: Sequence[str], overrides: Sequence[str], cameras: Sequence[str] = ()
) -> tuple[Scene, ...]:
    """Read and build scenes; a name without a folder may be one of the shipped scenes.

    Raises
    ------
    InputError
        With every fault of every scene, or if two scenes or cameras would write the same file.
    """
    faults: list[str] = []
    scenes: list[Scene] = []
    for path in paths:
        try:
            scenes.append(build_scene(located(path), overrides))
        except InputError as error:
            faults += error.faults
    for name, count in Counter(scene.name for scene in scenes).items():
        if count > 1:
            faults.append(
                f"{name}: given {count} times, and outputs are named after the scene. "
                "Rename one of the files."
            )
    for scene in scenes:
        known = [camera.name for camera in scene.cameras]
        faults += [
            f"{scene.name}: no camera {name!r}; there are {', '.join(known)}."
            for name in cameras
            if name not in known
        ]
    if faults:
        raise InputError(*dict.fromkeys(faults))
    return tuple(scenes)


def located(path: str) -> str:
    """Return the path itself, or that of a shipped scene if nothing lies there."""
    from pathlib import Path

    if Path(path).exists() or Path(path).name != path:
        return path
    stem = path.removesuffix(".toml")
    shipped = shipped_folder("scenes") / f"{stem}.toml"
    return str(shipped) if shipped.is_file() else path
