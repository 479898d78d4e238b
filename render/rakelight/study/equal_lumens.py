"""Scenes dimmed to the same luminous flux, so that a comparison is of technique alone."""

from collections.abc import Sequence
from dataclasses import replace

from rakelight.scene.scene import Scene


def given_lumens(scene: Scene) -> float:
    """Luminous flux of all runs as dimmed and maintained. [lm]"""
    return sum(line.lumens * group.output for group in scene.room.groups for line in group.lines)


def at_equal_lumens(scenes: Sequence[Scene]) -> tuple[Scene, ...]:
    """Dim every scene to the flux of the one that gives least.

    Raises
    ------
    ValueError
        If a scene gives no light at all.
    """
    flux = [given_lumens(scene) for scene in scenes]
    if min(flux) <= 0:
        raise ValueError(f"{scenes[flux.index(min(flux))].name} gives no light")
    return tuple(dimmed(scene, min(flux) / own) for scene, own in zip(scenes, flux, strict=True))


def dimmed(scene: Scene, share: float) -> Scene:
    """Return the scene with every dim level times `share`."""
    groups = tuple(replace(group, dim=group.dim * share) for group in scene.room.groups)
    runs = tuple(replace(plan, dim=plan.dim * share) for plan in scene.runs)
    return replace(scene, room=replace(scene.room, groups=groups), runs=runs)
