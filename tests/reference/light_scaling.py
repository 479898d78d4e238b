"""How the light's cost grows with the vertices of a relief.

    .venv/bin/python tests/reference/light_scaling.py [SCENE]

CPU seconds of horizons, direct and reflected light (all threads together) at four mesh steps, and
the exponent p of cost ~ vertices^p between neighbours: 1 is linear. What does not depend on the
mesh (form factors) lowers it, so the part that does is shown too: the cost above that of the
coarsest mesh over the vertices more than its own.
"""

import resource
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from rakelight import api
from rakelight.light.bounce import bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare

SCENES = Path(__file__).parents[2] / "scenes"
STEPS_MM = (5.0, 3.55, 2.5, 1.8)


def cpu_seconds() -> float:
    """User and system time of this process, all threads. [s]"""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def cost(name: str, step_m: float) -> tuple[int, float]:
    """Vertices on reliefs, and CPU seconds of all light."""
    scene = api.load(SCENES / f"{name}.toml", [f"quality.mesh_step={1000 * step_m} mm"])
    room = scene.room
    vertices = sum(s.grid.rows * s.grid.columns for s in room.surfaces if s.relief is not None)
    start = cpu_seconds()
    ready = prepare(room, replace(scene.quality, bounce=True))
    bounce(prepare_bounce(ready), direct(ready, room.groups))
    return vertices, cpu_seconds() - start


def main() -> None:
    """Print the table of one scene."""
    name = sys.argv[1] if len(sys.argv) > 1 else "ticket-hall-bounced"
    cost(name, STEPS_MM[0] / 1000)  # compiled
    found = [cost(name, step / 1000) for step in STEPS_MM]
    print("mesh step   vertices   CPU s   exponent   us a vertex more")
    for i, (step, (vertices, seconds)) in enumerate(zip(STEPS_MM, found, strict=True)):
        line = f"{step:6.2f} mm {vertices:11,d} {seconds:7.2f}"
        if i:
            ratio = np.log(seconds / found[i - 1][1]) / np.log(vertices / found[i - 1][0])
            more = (seconds - found[0][1]) / (vertices - found[0][0])
            line += f" {ratio:10.2f} {1e6 * more:18.2f}"
        print(line, flush=True)


if __name__ == "__main__":
    main()
