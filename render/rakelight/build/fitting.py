"""Whether everything that a scene puts into its room fits in it together."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.build.clashes import clashing, housing_hits, housings_overlap
from rakelight.build.hanging import SHELL
from rakelight.build.room import BareRoom
from rakelight.build.runs import BuiltRun
from rakelight.build.sight_lines import blocked
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.surfaces import Body, Surface
from rakelight.units import say_length

Floats = NDArray[np.float64]

#: A run from whose openings less of the room than this is seen is shut in; ours.
LEAST_OUT = 0.05


def fit_faults(
    scene_file: SceneFile,
    bare: BareRoom,
    runs: Sequence[BuiltRun],
    by_run: Sequence[Sequence[Body]],
) -> list[str]:
    """One line for every two things that would have to be in one place, and every dead run.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    bare : BareRoom
        The room, with the runs' slots.
    runs : sequence of BuiltRun
        The runs.
    by_run : sequence of sequences of Body
        Their housings and openings.
    """
    stated = scene_file.stated
    unit = scene_file.tables.units.length
    faults: list[str] = []
    for one, other in clashing(bare.standing):
        says = f"runs into {one.kind} {one.tag}. Move one of them."
        faults.append(stated_fault(stated, other.where, says))
    housings = [[body for body in bodies if body.kind == "housing"] for bodies in by_run]
    for i, run in enumerate(runs):
        where = ("run", i)
        for k in range(i):
            if housings_overlap(housings[i], housings[k]):
                says = f"crosses run {runs[k].plan.tag}: their housings would be in one place."
                faults.append(stated_fault(stated, where, says))
        for thing in bare.standing:
            if housing_hits(housings[i], thing):
                says = f"its housing runs into {thing.kind} {thing.tag}. Move one of them."
                faults.append(stated_fault(stated, where, says))
                break
        else:
            behind = enclosed(run, bare.room.surfaces)
            if behind:
                says = (
                    f"hardly any of its light gets out to the {run.plan.lights}: {behind} "
                    "shuts it in."
                )
                faults.append(stated_fault(stated, where, says))
    clash = _slots_overlap(runs)
    if clash is not None:
        i, tag = clash
        says = f"overlaps the slot of run {tag}. Give both runs the same slot, or part them."
        faults.append(stated_fault(stated, ("run", i, "slot"), says))
    room = scene_file.tables.room
    for i, eye in enumerate(scene_file.tables.eye):
        x, y = eye.at_m
        if not (0 <= x <= room.width_m and 0 <= y <= room.depth_m):
            faults.append(stated_fault(stated, ("eye", i, "at"), "outside the room."))
    for i, run in enumerate(runs):
        if run.plan.lowest_edge_m < -1e-6:
            says = f"reaches {say_length(-run.plan.lowest_edge_m, unit)} below the floor."
            faults.append(stated_fault(stated, ("run", i), says))
    return faults


def opening_points(run: BuiltRun, along: int = 5, across: int = 3) -> Floats:
    """Points on a run's openings, shape (k, 3), just in front of them. [m]"""
    line = run.line
    lit = line.lit_m
    share = (np.arange(along) + 0.5) / along
    total = np.cumsum(lit[:, 1] - lit[:, 0])
    at = share * total[-1]
    which = np.searchsorted(total, at)
    u = lit[which, 1] - (total[which] - at)
    side = (np.arange(across) + 0.5) / across - 0.5
    out: Floats = (
        line.origin_m
        + u[:, None, None] * line.axis
        + (side * line.opening_width_m)[None, :, None] * line.across
        + 1e-4 * line.facing
    ).reshape(-1, 3)
    return out


def surface_points(surface: Surface, count: int = 9) -> Floats:
    """Points spread over a surface's bounding rectangle, shape (count^2, 3). [m]"""
    share = (np.arange(count) + 0.5) / count
    u, v = np.meshgrid(share * surface.grid.width_m, share * surface.grid.height_m)
    flat = np.stack([u.ravel(), v.ravel(), np.zeros(u.size)], axis=1)
    return surface.frame.to_room(flat)


def enclosed(run: BuiltRun, surfaces: Sequence[Surface]) -> str:
    """Name what keeps a run's light from the room; empty if enough of the room gets some.

    Only what its opening faces counts: a run that is merely aimed away is warned about.
    """
    faces = [s for s in surfaces if s.blocks and not s.name.startswith("housing ")]
    if not faces:
        return ""
    starts = opening_points(run, 5, 1)
    ends = np.concatenate([surface_points(s) for s in surfaces if s.name.startswith(SHELL)])
    a = np.repeat(starts, len(ends), axis=0)
    b = np.tile(ends, (len(starts), 1))
    ahead = (b - a) @ run.line.facing > 0
    a, b = a[ahead], b[ahead]
    if not len(a) or (~blocked(a, b, faces)).mean() >= LEAST_OUT:
        return ""
    counts = [(int(blocked(a, b, [face]).sum()), face.name) for face in faces]
    name = max(counts)[1]
    return " ".join(name.split()[:2])


def _slots_overlap(runs: Sequence[BuiltRun]) -> tuple[int, str] | None:
    for i, run in enumerate(runs):
        for k in range(i):
            one, other = run.slot, runs[k].slot
            if one is None or other is None:
                continue
            same = np.allclose(one.low_m, other.low_m) and np.allclose(one.high_m, other.high_m)
            apart = (one.low_m > other.high_m - 1e-9).any() or (
                other.low_m > one.high_m - 1e-9
            ).any()
            if not same and not apart:
                return i, runs[k].plan.tag
    return None
