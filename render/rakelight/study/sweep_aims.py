"""How a sweep holds its runs' aim, and how near to the wall they may come."""

from collections.abc import Sequence

from rakelight.build.room import BareRoom
from rakelight.build.scene import build_read_scene
from rakelight.read.toml import SceneFile, lay_values
from rakelight.study.knobs import AGAINST
from rakelight.study.ranges import Range


def aimed_runs(
    scene_file: SceneFile,
    runs: Sequence[int],
    ranges: Sequence[Range],
    bare: BareRoom | None,
    *,
    re_aim: bool,
) -> SceneFile:
    """Hold every turned run's tilt where the scene states an aim instead, or aim at the base."""
    if re_aim:
        return lay_values(scene_file, {f"run.{i + 1}.beam_aim": "base" for i in runs})
    if any(one.knob.key == "tilt" for one in ranges):
        return scene_file
    aimed = [i for i in runs if scene_file.tables.run[i].beam_aim_rad is not None]
    if not aimed:
        return scene_file
    plans = build_read_scene(scene_file, bare_room=bare).runs
    return lay_values(
        scene_file, {f"run.{i + 1}.tilt": f"{plans[i].tilt_rad:.12g} rad" for i in aimed}
    )


def least_setback(scene_file: SceneFile, runs: Sequence[int], bare: BareRoom | None) -> float:
    """Least setback at which all the turned runs clear. [m]"""
    against = lay_values(scene_file, {f"run.{i + 1}.setback": AGAINST for i in runs})
    plans = build_read_scene(against, bare_room=bare).runs
    return max(plans[i].setback_m for i in runs)
