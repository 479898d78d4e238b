"""Whether stated eyes see a run's opening, or its reflection in glass; pure functions."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.build.fitting import opening_points
from rakelight.build.room import BareRoom
from rakelight.build.runs import BuiltRun
from rakelight.build.sight_lines import blocked, within
from rakelight.read.toml import SceneFile
from rakelight.scene.scene import Caveat
from rakelight.scene.surfaces import Body, Room, Surface
from rakelight.units import LengthUnit, say_length

Floats = NDArray[np.float64]

#: A surface this glossy mirrors a bright opening visibly; ours.
GLOSSY = 0.2
#: Share that a clear coat or glass of index 1.5 mirrors square-on, and the luminance below which
#: a mirrored opening does not stand out in a lit room; ours.
MIRRORED = 0.04
SEEN_CD_M2 = 20.0


def sight_warnings(
    scene_file: SceneFile, room: Room, runs: Sequence[BuiltRun], bare: BareRoom
) -> tuple[Caveat, ...]:
    """Warn of every run that a stated eye sees, directly or in a mirror.

    Parameters
    ----------
    scene_file : SceneFile
        The scene, with its [[eye]] tables.
    room : Room
        Surfaces and bodies.
    runs : sequence of BuiltRun
        The runs.
    bare : BareRoom
        Its openings.
    """
    unit = scene_file.tables.units.length
    meshes = [body for body in room.bodies if body.kind == "mesh"]
    glass = {face.name for o in bare.openings if o.glazed for face in o.faces[-1:]}
    glass |= {surface.name for surface in room.surfaces if surface.gloss >= GLOSSY}
    found: list[Caveat] = []
    for index, eye in enumerate(scene_file.tables.eye):
        name = eye.name or f"E{index + 1}"
        at = np.array([*eye.at_m, eye.height_m])
        for run in runs:
            housings = [b for b in room.bodies if b.kind == "housing" and b.line != run.plan.line]
            bodies = [*meshes, *housings]
            found += source_seen(at, name, run, room.surfaces, bodies, unit)
            for surface in room.surfaces:
                if surface.name in glass:
                    found += source_mirrored(at, name, run, surface, room.surfaces, bodies, unit)
    return tuple(found)


def source_seen(
    eye_m: Floats,
    name: str,
    run: BuiltRun,
    surfaces: Sequence[Surface],
    bodies: Sequence[Body],
    unit: LengthUnit,
) -> list[Caveat]:
    """The eye sees part of the opening."""
    points = opening_points(run, 9, 3)
    facing = (eye_m - points) @ run.line.facing > 1e-3
    points = points[facing]
    if not len(points):
        return []
    free = ~blocked(points, np.tile(eye_m, (len(points), 1)), surfaces, bodies)
    if not free.any():
        return []
    far = float(np.linalg.norm(points[free] - eye_m, axis=1).min())
    says = (
        f"eye {name}, {say_length(float(eye_m[2]), unit)} over the floor, sees the source from "
        f"{say_length(far, unit)}; shield it, or raise what stands before it."
    )
    return [Caveat("source_seen", f"run {run.plan.tag}", says)]


def source_mirrored(
    eye_m: Floats,
    name: str,
    run: BuiltRun,
    mirror: Surface,
    surfaces: Sequence[Surface],
    bodies: Sequence[Body],
    unit: LengthUnit,
) -> list[Caveat]:
    """The eye sees the opening's image in a glossy surface."""
    frame = mirror.frame
    points = opening_points(run, 9, 3)
    local, eye = frame.from_room(points), frame.from_room(eye_m)
    before = (local[:, 2] > 1e-6) & (eye[2] > 1e-6)
    points, local = points[before], local[before]
    if not len(points):
        return []
    share = local[:, 2] / (local[:, 2] + eye[2])
    spots = local[:, :2] + share[:, None] * (eye[:2] - local[:, :2])
    there = within(spots, mirror.corners_uv_m)
    for hole in mirror.holes_uv_m:
        there &= ~within(spots, hole)
    at = frame.to_room(np.column_stack([spots, np.full(len(spots), 1e-5)]))
    there &= (at - points) @ run.line.facing > 1e-3
    ways = (at - points) / np.linalg.norm(at - points, axis=1, keepdims=True)
    glow = run.plan.dim * run.line.candela_per_metre(ways) / run.line.opening_width_m
    there &= MIRRORED * glow > SEEN_CD_M2 * (ways @ run.line.facing)
    points, at, spots = points[there], at[there], spots[there]
    if not len(points):
        return []
    others = [surface for surface in surfaces if surface is not mirror]
    free = ~blocked(points, at, others, bodies)
    free &= ~blocked(at, np.tile(eye_m, (len(at), 1)), others, bodies)
    if not free.any():
        return []
    u, v = spots[free].mean(axis=0)
    height = float(frame.to_room(np.array([u, v, 0.0]))[2])
    says = (
        f"eye {name} sees its reflection in {mirror.name}, {say_length(height, unit)} over the "
        "floor; a dull surface or another place for the run would hide it."
    )
    return [Caveat("source_mirrored", f"run {run.plan.tag}", says)]
