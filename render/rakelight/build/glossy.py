"""Warnings about gloss: a finish that is grazed, and openings mirrored toward eyes and cameras."""

from collections.abc import Sequence

from rakelight.build.runs import BuiltRun
from rakelight.build.seen import GLOSSY, source_mirrored
from rakelight.scene.camera import Camera
from rakelight.scene.scene import Caveat
from rakelight.scene.surfaces import Room
from rakelight.units import LengthUnit, say_length

#: A run nearer to its wall than this share of the wall's height grazes it; common practice,
#: no source.
GRAZE_SHARE = 1 / 8


def gloss_warnings(
    room: Room, runs: Sequence[BuiltRun], cameras: Sequence[Camera], unit: LengthUnit
) -> tuple[Caveat, ...]:
    """Caveats of glossy surfaces; the stated eyes are `build.seen`'s.

    Parameters
    ----------
    room : Room
        Its surfaces.
    runs : sequence of BuiltRun
        The runs.
    cameras : sequence of Camera
        A picture shows what its camera sees mirrored.
    unit : {"m", "mm", "ft", "in"}
        Unit of the lengths in the texts.
    """
    found: list[Caveat] = []
    glossy = [surface for surface in room.surfaces if surface.gloss >= GLOSSY]
    if not glossy:
        return ()
    for run in runs:
        plan = run.plan
        wall = room.surface(plan.lights)
        grazed = plan.kind == "wall" and plan.setback_m < GRAZE_SHARE * wall.grid.height_m
        if wall.gloss >= GLOSSY and grazed:
            says = (
                f"it grazes the {plan.lights} wall from {say_length(plan.setback_m, unit)}, whose "
                f"finish has a gloss of {wall.gloss:g}: the source shows in it as streaks, and "
                "every unevenness with it. A dull finish would hide both."
            )
            found.append(Caveat("gloss_grazed", f"run {plan.tag}", says))
        bodies = [body for body in room.bodies if body.kind == "mesh"]
        for camera in cameras:
            for surface in glossy:
                found += source_mirrored(
                    camera.eye_m,
                    f"of camera {camera.name}",
                    run,
                    surface,
                    room.surfaces,
                    bodies,
                    unit,
                )
    return tuple(found)
