"""Hand-trowelled plaster: overlapping arcs, each with a faint ridge where the edge ran.

Strokes are laid one over the other. A stroke presses what it covers towards a slightly tilted
plane, leaves streaks along its way, and pushes up a ridge along one edge.
"""

import numpy as np

from rakelight.samples.periodic import Array, Sample, curve, field, rise, shape_of

DEPTH_M = 0.0018
_STROKES_PER_M2 = 95.0
_COLOUR = np.array([0.640, 0.610, 0.555])  # linear Rec.709 reflectance of an off-white finish


def trowelled_plaster(
    seed: int = 5, *, width_m: float = 2.4, height_m: float = 1.8, step_m: float = 0.002
) -> Sample:
    """Draw one repeat of hand-trowelled plaster.

    Parameters
    ----------
    seed : int
        Same seed, same plaster.
    width_m, height_m : float
        Size of the repeat, whole steps. [m]
    step_m : float
        Distance between samples. [m]

    Returns
    -------
    Sample
        Depth 1.8 mm; most of the wall lies within half of that.
    """
    rows, columns = shape_of(width_m, height_m, step_m)
    random = np.random.default_rng([seed, 1])
    shape = (rows, columns)
    sweep = field(random, shape, step_m, longest_m=0.9, shortest_m=0.12, fall=2.0)
    wander = field(random, shape, step_m, longest_m=0.25, shortest_m=0.02, fall=2.0)
    grain = field(random, shape, step_m, longest_m=0.012, shortest_m=0.004, fall=0.6)
    heights = 0.00085 + 0.00013 * sweep + 0.00005 * wander
    pressed = np.zeros(shape)
    for number in range(max(6, round(_STROKES_PER_M2 * width_m * height_m))):
        _stroke(np.random.default_rng([seed, 2, number]), heights, pressed, wander, step_m)
    heights = 0.00085 + 1.35 * (heights - 0.00085) + 0.000006 * grain
    tone = 1 + 0.012 * sweep + 0.008 * grain - 0.03 * pressed
    return Sample(
        heights_m=np.clip(heights, 0.0, DEPTH_M),
        reflectance_rgb=np.clip(_COLOUR * tone[..., None], 0.05, 0.85),
        width_m=width_m,
        height_m=height_m,
        depth_m=DEPTH_M,
    )


def _stroke(
    random: np.random.Generator, heights: Array, pressed: Array, wander: Array, step: float
) -> None:
    """Lay one trowel stroke over `heights`, in place."""
    rows, columns = heights.shape
    radius = random.uniform(0.28, 0.62)  # an arm's swing
    half = random.uniform(0.045, 0.085)  # half of the blade that bears
    span = random.uniform(0.7, 1.5)  # [rad]
    turn = random.uniform(-np.pi, np.pi)
    middle_x, middle_y = random.uniform(0, columns * step), random.uniform(0, rows * step)
    # the window just holds the arc; its middle is the stroke's middle
    reach = half + radius * (1 - np.cos(span / 2)) + 0.01
    wide = radius * np.sin(min(span / 2, np.pi / 2)) + half
    extent = np.hypot(reach, wide)
    count = min(int(extent / step), (min(rows, columns) - 1) // 2)
    steps = np.arange(-count, count + 1)
    x, y = np.meshgrid(steps * step, steps * step)
    cells = np.ix_(
        (steps + int(middle_y / step)) % rows,
        (steps + int(middle_x / step)) % columns,
    )
    centre_x, centre_y = radius * np.cos(turn), radius * np.sin(turn)
    from_x, from_y = x - centre_x, y - centre_y
    angle = np.angle(np.exp(1j * (np.arctan2(from_y, from_x) - turn - np.pi)))
    across = (np.hypot(from_x, from_y) - radius + 0.004 * wander[cells]) / half
    along = angle / (span / 2)

    edge = 0.006 / half
    inner = rise(across, -1, -1 + 5 * edge)
    outer = 1 - rise(across, 1 - edge, 1)
    ends = rise(along, -1, -0.72) * (1 - rise(along, 0.78, 1))
    cover = inner * outer * ends
    level = float((heights[cells] * cover).sum() / max(float(cover.sum()), 1e-9))
    tilt = random.normal(0, 0.00007)
    streaks = curve(random, 512, 2 * half / 400, longest_m=0.04, shortest_m=0.005, fall=1.0)
    streak = np.interp(across, np.linspace(-1.3, 1.3, 512), streaks)
    target = 0.45 * level + 0.55 * heights[cells] + tilt * across + 0.000018 * streak
    firm = random.uniform(0.55, 0.95)
    # what the blade pushes aside stays as a ridge along its outer edge, thinning out
    swell = np.interp(
        along, np.linspace(-1, 1, 64), curve(random, 64, 0.01, longest_m=0.4, shortest_m=0.03)
    )
    ridge = np.clip(0.00007 + 0.00007 * swell, 0, None) * (random.random() < 0.5)
    crest = np.exp(-(((across - 1) * half / 0.0065) ** 2)) * ends
    heights[cells] += firm * cover * (target - heights[cells]) + ridge * crest
    pressed[cells] += cover * (firm * (0.5 + 0.1 * streak) - pressed[cells])
