"""A run as it is installed: what the run table, the schedule and the section print.

Cross-section, facing along the run:

      ceiling ------------------------------
             |        ^ drop
             |        v
    wall     |<-setback->(o) opening's centre
             |
      relief |  clear gap: highest point to the housing's or opening's nearest edge
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RunPlan:
    """One run's facts, in SI, resolved.

    Parameters
    ----------
    tag : str
        The run's name.
    lights : str
        The wall that it lights.
    file : str
        Name of the photometric file.
    count : float
        Luminaires; not whole when one lit length is not a multiple of the file's.
    luminaire_m, gap_m : float
        Lit length of one luminaire, and the dark length to the next. [m]
    start_m, end_m : float
        First and last lit end, from the wall's left end. [m]
    lit_m : float
        Sum of lit lengths. [m]
    lumens, watts : float
        At full output; watts are nan where the file says none. [lm], [W]
    setback_m : float
        Mean plane to the opening's centre. [m]
    against : bool
        True if the setback was stated as ``against``.
    least_setback_m : float
        What ``against`` gives with this tilt. [m]
    clear_gap_m : float
        Highest point of the wall to the nearest edge of housing and opening. [m]
    backing_m : float
        From the backing to the opening's centre, which can be taped on site. [m]
    drop_m : float
        Finished ceiling down to the opening's centre. [m]
    lowest_edge_m : float
        Height of the housing's lowest edge over the floor. [m]
    tilt_rad, beam_aim_rad : float
        Turn of the housing, and where the file's peak then points from straight down, both
        toward the wall. [rad]
    peak_on : str
        Surface on which the peak lands.
    peak_at_m : float
        Height over the floor where it lands on a wall; distance from the lit wall where it
        lands on floor or ceiling. [m]
    turn_rad : float
        Turn in plan that was used. [rad]
    throw_toward_wall : float
        Share of the flux's lean across the run that points to the wall: 1 all, -1 all away,
        0 for a file that leans to no side.
    housing_width_m, housing_height_m : float
        The body's cross-section. [m]
    housing_stated : bool
        False if the body's size is an assumption.
    opening_width_m : float
        Width of the luminous opening, across the run. [m]
    dim, maintenance : float
        Shares of the light output.
    cct_k : float
        Colour temperature. [K]
    zone, circuit, note : str
        As stated.
    line : int
        Index into `Room.lines()`.
    beam_on_wall : float
        Largest intensity toward the lit wall over the peak, in the cross-section: 1 if the
        peak lands on it, under a half if the beam misses it.
    along : str
        What it is fixed to: ``ceiling``, ``floor``, a wall, or the tag of what it lies on.
    beside : str
        The wall that setback, start and end count from; not stated: the wall that it lights.
    kind : {"wall", "out", "upright", "free"}
        Lights the wall it lies beside, throws away from it, stands, goes from point to point.
    height_m : float
        The opening's centre over the floor, at the middle of the run; nan: see `drop_m`. [m]
    span_m : float
        How far a run could go beside that wall; nan if not known. [m]
    in_slot : bool
        Whether it is up in a slot that is built.
    click_rad : float
        Step of the hardware's tilt; 0: none, or it is fixed. [rad]
    """

    tag: str
    lights: str
    file: str
    count: float
    luminaire_m: float
    gap_m: float
    start_m: float
    end_m: float
    lit_m: float
    lumens: float
    watts: float
    setback_m: float
    against: bool
    least_setback_m: float
    clear_gap_m: float
    backing_m: float
    drop_m: float
    lowest_edge_m: float
    tilt_rad: float
    beam_aim_rad: float
    peak_on: str
    peak_at_m: float
    turn_rad: float
    throw_toward_wall: float
    housing_width_m: float
    housing_height_m: float
    housing_stated: bool
    opening_width_m: float
    dim: float
    maintenance: float
    cct_k: float
    zone: str
    circuit: str
    note: str
    line: int
    beam_on_wall: float = 1.0
    along: str = "ceiling"
    beside: str = ""
    kind: str = "wall"
    height_m: float = math.nan
    span_m: float = math.nan
    in_slot: bool = False
    click_rad: float = 0.0
