"""Steps across cut-off lines, against the light that the scene's own pass computes."""

import math

import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.measure.cutoff_light import (
    cut_off_light_numbers,
    profile_along,
    step_across,
    tilted_step,
    turned_line,
)
from rakelight.measure.fields import fields
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import run_section
from rakelight.scene.quality import Quality
from reference.cut_rooms import ALL_ROUND, LENGTH, board, room_with, run_at, shell
from reference.grazed_walls import distribution
from reference.mountings import X, Y, rectangle

STEP = 0.004
CEILING = 2.7432


def lit_room(width=0.02, tilt=0.0, optic=ALL_ROUND):
    """A cove under a ceiling whose strip over mid-run is finely meshed; other_light none."""
    plan, line = run_at(0.1, 2.54, width, up=True, tilt_rad=tilt, optic=optic)
    parts = shell(4.8, CEILING, 0.5)
    # only a strip of the ceiling, and nothing else that costs light
    strip = rectangle("ceiling", (LENGTH / 2 + 0.01, 0, CEILING), -X, Y, (0.02, 4.8), STEP,
                      blocks=False)  # fmt: skip
    parts = [strip, *(p for p in parts if p.name in ("main", "floor", "opposite"))]
    room = room_with([*parts, *board("fascia F1", 0.2, 2.5908, 2.2)], line)
    section = run_section(room, plan, room.lines()[0], from_start_m=LENGTH / 2)
    return room, section, direct(prepare(room, Quality(steps=96)))


def test_the_lit_profile_steps_where_the_section_says():
    room, section, lit = lit_room()
    [line] = [k for k in section.cut_offs if k.on == "ceiling"]
    gathered = fields(room.surface("ceiling"), lit)
    places = np.arange(-0.3, 0.3, 0.001)
    lx = profile_along(section, line, gathered, places)
    light = float((line.full_light_m - line.lands_m) @ line.dark_side)
    dark = float((line.full_shadow_m - line.lands_m) @ line.dark_side)
    # black beyond full shadow, and not yet black one step before it
    assert lx[places > dark + STEP].max() == 0
    assert lx[(places > dark - 4 * STEP) & (places < dark - 2 * STEP)].min() > 0
    # before full light the fall is the free run's own: gentle; behind it, steep
    slope = np.gradient(lx, places)
    free = np.abs(slope[(places > light - 0.05) & (places < light - 2 * STEP)]).max()
    within = np.abs(slope[(places > light + STEP) & (places < dark - STEP)]).mean()
    assert within > 3 * free
    step = step_across(section, line, gathered)
    assert step.dark_lx == 0
    assert step.ratio == math.inf
    assert step.bright_lx == pytest.approx(np.interp(light - STEP, places, lx), rel=0.01)


def test_a_turn_changes_the_step_as_the_light_computed_anew():
    lobe = distribution(lambda d: 1000 * np.maximum(0.0, -d[..., 2]) ** 3)
    room, section, lit = lit_room(optic=lobe)
    [line] = [k for k in section.cut_offs if k.on == "ceiling"]
    gathered = fields(room.surface("ceiling"), lit)
    step = step_across(section, line, gathered)
    by = math.radians(15)  # narrows the penumbra, so that the place stays in full light
    told = tilted_step(section, line, step, gathered, by, 1.0)
    room2, section2, lit2 = lit_room(tilt=by, optic=lobe)
    [again] = [k for k in section2.cut_offs if k.on == "ceiling"]
    assert (again.full_light_m - line.full_light_m) @ line.dark_side > STEP
    place = float((line.full_light_m - line.lands_m) @ line.dark_side) - STEP
    seen = profile_along(section2, again, fields(room2.surface("ceiling"), lit2), np.array([place]))
    assert told.bright_lx == pytest.approx(float(seen[0]), rel=0.02)
    assert told.bright_lx != pytest.approx(step.bright_lx, rel=0.05)


def test_a_turned_run_stays_square_and_comes_back():
    _, line = run_at(0.1, 2.5, 0.02)
    turned = turned_line(line, 0.3)
    for a, b in ((turned.nadir, turned.across), (turned.nadir, turned.axis)):
        assert abs(float(a @ b)) < 1e-12
    assert turned.nadir @ line.nadir == pytest.approx(math.cos(0.3))
    # toward the lit side
    assert turned.nadir @ line.across > 0
    assert turned_line(turned, -0.3).c0 == pytest.approx(line.c0, abs=1e-12)


def test_the_numbers_carry_the_line_s_key():
    room, section, lit = lit_room()
    numbers = {n.key: n.value for n in cut_off_light_numbers(section, RoomLight(room, lit))}
    key = "run.L1.cutoff.fascia-F1.ceiling"
    assert numbers[f"{key}.step_lx"] == numbers[f"{key}.bright_lx"] - numbers[f"{key}.dark_lx"]
    assert f"{key}.tilted_out.step_ratio" in numbers
