"""A run plan made for tests of tables, captions and sentences."""

from dataclasses import replace

from rakelight.scene.run_plan import RunPlan

PLAN = RunPlan(
    tag="L1",
    lights="main",
    file="made.ies",
    count=4.0,
    luminaire_m=1.2,
    gap_m=0.0,
    start_m=0.0,
    end_m=4.8,
    lit_m=4.8,
    lumens=9600.0,
    watts=96.0,
    setback_m=0.1524,
    against=False,
    least_setback_m=0.0545,
    clear_gap_m=0.0994,
    backing_m=0.1904,
    drop_m=0.0762,
    lowest_edge_m=2.6238,
    tilt_rad=0.0,
    beam_aim_rad=0.2094395102393195,
    peak_on="main",
    peak_at_m=1.9068,
    turn_rad=0.0,
    throw_toward_wall=0.4,
    housing_width_m=0.05,
    housing_height_m=0.04,
    housing_stated=False,
    opening_width_m=0.02,
    dim=1.0,
    maintenance=1.0,
    cct_k=3000.0,
    zone="A",
    circuit="12",
    note="",
    line=0,
)


def made_plan(**changed):
    return replace(PLAN, **changed)
