"""As much light falls on surfaces of shipped scenes as luminaires give, and is absorbed there."""

from pathlib import Path

import numpy as np
import pytest

from rakelight import api
from rakelight.light.bounce import bounce, prepare_bounce
from rakelight.light.on_bodies import light_on_bodies

SCENES = Path(__file__).parents[2] / "scenes"


def emitted_lm(room):
    """Luminous flux of a room's runs: intensity over the whole sphere, by equal solid angles."""
    height = (np.arange(400) + 0.5) / 200 - 1
    turn = (np.arange(800) + 0.5) * np.pi / 400
    n, t = np.meshgrid(height, turn)
    flat = np.sqrt(1 - n**2)
    ways = np.stack([flat * np.cos(t), flat * np.sin(t), n], axis=-1).reshape(-1, 3)
    return sum(
        group.output
        * line.candela_per_metre(ways).mean()
        * 4
        * np.pi
        * np.ptp(line.lit_m, axis=1).sum()
        for group in room.groups
        for line in group.lines
    )


@pytest.mark.parametrize("name", ["chapel-cove", "clinic-corridor"])
def test_what_luminaires_give_arrives(name):
    # with grids of 10 mm on a cove's lips, 0.1 m from the runs, 1.9 % more arrived in the chapel
    scene = api.load(SCENES / f"{name}.toml")
    ready = api.prepare(scene)
    around = prepare_bounce(ready)
    _, balance = bounce(around, api.light(scene, ready), light_on_bodies(around))
    assert balance.arrived_lm == pytest.approx(emitted_lm(scene.room), rel=0.005)
    assert abs(balance.error) < 0.005
