"""Box rooms with one long run and one board before it, for tests of sections; no reliefs."""

import math

import numpy as np

from rakelight.scene.run_plan import RunPlan
from reference.grazed_walls import distribution
from reference.mountings import X, Y, Z, line_at, lit_by, rectangle

ALL_ROUND = distribution(lambda d: 1000 * np.sqrt(np.maximum(0, 1 - d[..., 0] ** 2)))
LENGTH = 8.0


def shell(depth_m, height_m, step_m=0.5):
    """A box; the wall that runs lie beside is `main`, at y = 0, its normal along +y."""
    w = LENGTH
    return [
        rectangle("main", (w, 0, 0), -X, Z, (w, height_m), step_m, blocks=False),
        rectangle("opposite", (0, depth_m, 0), X, Z, (w, height_m), step_m, blocks=False),
        rectangle("left", (w, depth_m, 0), -Y, Z, (depth_m, height_m), step_m, blocks=False),
        rectangle("right", (0, 0, 0), Y, Z, (depth_m, height_m), step_m, blocks=False),
        rectangle("floor", (0, 0, 0), X, Y, (w, depth_m), step_m, blocks=False),
        rectangle("ceiling", (w, 0, height_m), -X, Y, (w, depth_m), step_m, blocks=False),
    ]


def board(name, y_m, from_z_m, to_z_m):
    """An upright board without thickness, seen from both sides."""
    low, tall = min(from_z_m, to_z_m), abs(to_z_m - from_z_m)
    return [
        rectangle(f"{name} front", (0, y_m, low), X, Z, (LENGTH, tall), 1.0),
        rectangle(f"{name} back", (LENGTH, y_m, low), -X, Z, (LENGTH, tall), 1.0),
    ]


def run_at(y_m, z_m, width_m, *, up=False, toward_wall=False, tilt_rad=0.0, optic=ALL_ROUND):
    """A run over the whole wall, level, its opening down or up, and its plan."""
    side = -Y if toward_wall else Y
    whole = (math.pi if up else 0.0) + tilt_rad
    cos, sin = math.cos(whole), math.sin(whole)
    nadir, across = -cos * Z + sin * side, cos * side + sin * Z
    line = line_at((0, y_m, z_m), X, nadir, [(0, LENGTH)], optic, width_m, toward=across)
    plan = RunPlan(
        tag="L1", lights="main" if toward_wall else "ceiling", file="made", count=1.0,
        luminaire_m=LENGTH, gap_m=0.0, start_m=0.0, end_m=LENGTH, lit_m=LENGTH, lumens=1.0,
        watts=1.0, setback_m=y_m, against=False, least_setback_m=0.0, clear_gap_m=y_m,
        backing_m=y_m, drop_m=0.1, lowest_edge_m=z_m, tilt_rad=whole,
        beam_aim_rad=whole, peak_on="main", peak_at_m=1.0,
        turn_rad=0.0, throw_toward_wall=1.0, housing_width_m=0.04, housing_height_m=0.04,
        housing_stated=True, opening_width_m=width_m, dim=1.0, maintenance=1.0, cct_k=3000.0,
        zone="", circuit="", note="", line=0, beside="main",
        kind="wall" if toward_wall else "out", height_m=z_m,
    )  # fmt: skip
    return plan, line


def room_with(parts, line):
    """A room of surfaces and one run."""
    return lit_by(parts, line)
