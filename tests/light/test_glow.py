"""Which way a relief sends its first reflection."""

import numpy as np
import pytest

from rakelight.light.bounce import BounceQuality, prepare_bounce
from rakelight.light.glow import EDGES_DEG, beyond_terms, bin_shares, left_out, table_directions
from rakelight.light.openness import THIN, around_rad, thin_places
from reference.plain_rooms import box_room, even_lit, prepared

COARSE = BounceQuality(edge_m=0.1, patch_m=0.2, point_edge_m=0.1, point_m=0.2)
TURNS_DEG = np.degrees(around_rad())


def test_even_light_leaves_nothing_over():
    table = left_out(around_rad())
    assert abs(table.sum(axis=0)).max() < 1e-5


def test_what_is_left_over_has_no_flux():
    _, share = table_directions()
    assert abs(left_out(around_rad()) @ share).max() < 1e-6
    assert bin_shares(72).sum() == pytest.approx(1.0)


@pytest.mark.parametrize("period", [3, 4, 5, 8, 16])
def test_thinned_vertices_meet_flutes_everywhere(period):
    for place in thin_places(16 * THIN, 16 * THIN):
        counts = np.bincount((place % period).ravel(), minlength=period)
        assert counts.max() <= 1.25 * counts.min()


def ramp():
    """A room whose main wall is one slope of 45 degrees that looks up."""
    v = np.linspace(0, 0.6, 61)
    heights = np.repeat(0.3 - v[:, None], 81, axis=1)
    return box_room(0.8, 1.0, 0.6, 0.5, step=0.1, heights=heights)


def test_a_slope_sends_light_as_its_own_half_space_does():
    """Beside rays drawn about the slope's normal, by azimuth and elevation over the wall."""
    room = ramp()
    glow = prepare_bounce(prepared(room), COARSE).walls["main"].glow
    found = glow.of(np.ones((61, 81), np.float32)).sum(axis=0).reshape(len(TURNS_DEG), -1)
    rng = np.random.default_rng(3)
    radius, turn = np.sqrt(rng.random(400_000)), 2 * np.pi * rng.random(400_000)
    u, s, t = radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2)
    v, n = (t + s) / np.sqrt(2), (t - s) / np.sqrt(2)  # s up the slope, t along its normal
    ahead = n > 0
    azimuth = np.degrees(np.arctan2(u, v))[ahead]
    elevation = np.degrees(np.arcsin(n[ahead]))
    width = 360 / len(TURNS_DEG)
    turned = (azimuth - (TURNS_DEG[0] - width / 2)) % 360
    edges = np.arange(len(TURNS_DEG) + 1) * width
    drawn, *_ = np.histogram2d(turned, elevation, [edges, EDGES_DEG])
    assert found / found.sum() == pytest.approx(drawn / drawn.sum(), abs=0.006)
    # flux over the slope's area is what goes before the wall's plane
    area = 0.6 * 0.8 * np.sqrt(2) * (60 / 61) ** 2
    assert found.sum() / area == pytest.approx(drawn.sum() / 400_000, rel=0.05)


def test_nothing_is_gained_or_lost_by_it():
    room = ramp()
    lit = even_lit(room, {"main": 500.0})
    ready = prepare_bounce(prepared(room), COARSE)
    wall = ready.walls["main"]
    exitance = np.full((wall.own.size, 1), 200.0, np.float32)
    sent = wall.glow.of(lit.direct_lx["main"][0])
    sent[:, :24] *= 3  # as if much more went to one side
    beyond = beyond_terms(wall.glow, sent[..., None], wall.zone, exitance)
    reaching, _ = beyond.arriving(wall.cells, wall.seen[0], wall.given[0])
    flux = ready.patches.areas_m2 @ reaching.sum(axis=1, dtype=np.float64)[:, 0]
    there = ready.patches.areas_m2 @ np.abs(reaching).sum(axis=1)[:, 0]
    assert there > 1.0
    assert abs(flux) < 1e-3 * there
