"""Our direct light against the best brute force, side by side in one run.

    .venv/bin/python tests/reference/benchmark.py [RELIEF ...]

For each relief and setback: RMS and mean error of ours against 1,024 samples a vertex, time per
million vertices with everything counted (normals, horizons, sum) and for each further setback
(the sum alone), and the same for brute force: Embree on all cores, samples stratified in angle
along the run, as many as give the same RMS error (interpolated between the counts tried). The
tree's construction counts as everything; for a further setback it does not.
"""

import math
import multiprocessing
import os
import sys
import time
from pathlib import Path

import numba
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from rakelight.build.wall import relief_on_wall
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.read.relief import read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.scene.quality import Quality
from reference.brute_force import LIFT_M, BruteForce, mesh_normals, relief_mesh
from reference.grazed_walls import distribution, grazing, room, run, wall

WIDTH, HEIGHT, TOP, OPENING = 4.8, 2.7, 2.65, 0.03
COUNTS = (4, 8, 16, 32, 64, 128, 256)
CHECKED = 4000  # vertices on which errors are taken
TIMED = 60_000  # vertices on which brute force is timed, then scaled to all
CORES = os.cpu_count() or 1
PSI, PHI = 181, 1440


def candela_table(line):
    """Candela per metre over sin(psi) and phi (from nadir toward across, -pi to pi)."""
    sine = np.linspace(-1, 1, PSI)[:, None, None]
    phi = np.linspace(-np.pi, np.pi, PHI + 1)[None, :, None]
    across = np.cos(phi) * line.nadir + np.sin(phi) * line.across
    directions = sine * line.axis + np.sqrt(1 - sine**2) * across
    return line.candela_per_metre(directions).astype(np.float32)


@numba.njit(fastmath=True)
def sample(points, normals, n, seed, low, high, width, table, starts, rays, light, owner):
    """Rays toward stratified samples (run's frame: x along, y down, z across); their light."""
    np.random.seed(seed)
    count = 0
    psi_cells = (table.shape[0] - 1) / 2
    phi_cells = (table.shape[1] - 1) / (2 * math.pi)
    for i in range(points.shape[0]):
        x, y, z = points[i]
        rho = math.sqrt(y * y + z * z)
        psi_low = math.atan((low - x) / rho)
        span = math.atan((high - x) / rho) - psi_low
        turn = np.random.random()
        for k in range(n):
            psi = psi_low + span * (k + np.random.random()) / n
            # across: the golden ratio's sequence, spread over all strata along the run
            part = (turn + k * 0.6180339887498949) % 1.0
            dx = rho * math.tan(psi)
            dy, dz = -y, (part - 0.5) * width - z
            distance2 = dx * dx + dy * dy + dz * dz
            inverse = 1 / math.sqrt(distance2)
            cosine = (normals[i, 0] * dx + normals[i, 1] * dy + normals[i, 2] * dz) * inverse
            if cosine <= 0:
                continue
            a = (1 - dx * inverse) * psi_cells
            b = (math.atan2(-dz, -dy) + math.pi) * phi_cells
            r, c = min(int(a), table.shape[0] - 2), min(int(b), table.shape[1] - 2)
            f, g = a - r, b - c
            candela = (table[r, c] * (1 - g) + table[r, c + 1] * g) * (1 - f)
            candela += (table[r + 1, c] * (1 - g) + table[r + 1, c + 1] * g) * f
            value = candela * cosine / distance2 * span / n * rho / math.cos(psi) ** 2
            if value <= 0:
                continue
            for axis in range(3):
                starts[count, axis] = points[i, axis] + LIFT_M * normals[i, axis]
            rays[count, 0] = dx * inverse
            rays[count, 1] = dy * inverse
            rays[count, 2] = dz * inverse
            light[count] = value
            owner[count] = i
            count += 1
    return count


class Fast:
    """Brute force as fast as we can make it, on one core; its mesh lies in the run's frame."""

    def __init__(self, points, faces, normals):
        self.points, self.normals = points, normals
        self.brute = BruteForce(points, faces)

    def illuminance(self, chosen, n, line, table, seed=1, chunk=400_000):
        out = np.zeros(len(chosen), np.float32)
        per = max(1, chunk // n)
        shape = (per * n, 3)
        starts, rays = np.empty(shape, np.float32), np.empty(shape, np.float32)
        light, owner = np.empty(per * n, np.float32), np.empty(per * n, np.int64)
        (low, high), width = line.lit_m[0], line.opening_width_m
        for first in range(0, len(chosen), per):
            part = chosen[first : first + per]
            count = sample(
                self.points[part], self.normals[part], n, seed + first, low, high, width,
                table, starts, rays, light, owner,
            )  # fmt: skip
            clear = ~self.brute.hidden(starts[:count], rays[:count])
            lit = np.bincount(owner[:count][clear], light[:count][clear], minlength=len(part))
            out[first : first + per] = lit
        return out


FAST = None  # inherited by forked workers


def part_of_it(job):
    chosen, n, line, table = job
    return FAST.illuminance(chosen, n, line, table)


def seconds(function, times=3):
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        function()
        taken.append(time.perf_counter() - start)
    return float(np.median(taken))


def rms(values, exact):
    return float(np.sqrt(np.mean((values - exact) ** 2)) / exact.mean())


def bench(name):
    global FAST
    texture = read_texture(name, [shipped_folder("textures")])
    relief, _ = relief_on_wall(texture, WIDTH, HEIGHT, Quality().mesh_step_m)
    surface = wall(WIDTH, HEIGHT, Quality().mesh_step_m, heights=relief.heights_m)
    grid = surface.grid
    optic = distribution(grazing)
    clear = relief.highest_m + OPENING / 2 + 0.001
    lines = [
        run(s, [(0, WIDTH)], top_m=TOP, width_m=OPENING, optic=optic) for s in (clear, 0.1, 0.3)
    ]
    millions = grid.rows * grid.columns / 1e6
    scene = room(surface, lines[0])
    direct(prepare(scene, Quality()))  # compiled
    all_of_it = seconds(lambda: prepare_light(scene))
    prepared = prepare_light(scene)

    points, faces = relief_mesh(relief.heights_m, grid.step_u_m, grid.step_v_m)
    normals = mesh_normals(points, faces)
    frame = surface.frame
    world = frame.to_room(points)
    turned_normals = normals @ np.stack([frame.u, frame.v, frame.n])
    rng = np.random.default_rng(5)
    below = np.flatnonzero(points[:, 1] < TOP - 0.01)
    checked = rng.choice(below, CHECKED, replace=False)
    timed = rng.choice(below, TIMED, replace=False)
    slow = BruteForce(world, faces)
    print(f"\n{name}: {millions:.2f} million vertices, {CORES} cores")
    print("setback  ours: RMS   mean   s/M all  s/M further | brute: samples  s/M all  s/M further"
          "  | ratio all  further")  # fmt: skip
    for line in lines:
        exact = slow.illuminance(world[checked], turned_normals[checked], line, 1024)
        groups = room(surface, line).groups
        ours = part(prepared, groups).ravel()[checked]
        further = seconds(lambda groups=groups: part(prepared, groups))
        error = rms(ours, exact)
        axes = np.stack([line.axis, line.nadir, line.across], axis=1)
        table = candela_table(line)
        start = time.perf_counter()
        FAST = Fast((world - line.origin_m) @ axes, faces, turned_normals @ axes)
        tree = time.perf_counter() - start
        errors = [rms(FAST.illuminance(checked, n, line, table), exact) for n in COUNTS]
        samples = math.exp(np.interp(-math.log(error), -np.log(errors), np.log(COUNTS)))
        n = max(1, round(samples))
        with multiprocessing.get_context("fork").Pool(CORES) as pool:
            jobs = [(p, n, line, table) for p in np.array_split(timed, 4 * CORES)]
            pool.map(part_of_it, jobs)  # compiled in every worker
            took = seconds(lambda pool=pool, jobs=jobs: pool.map(part_of_it, jobs))
        brute_further = took / TIMED * 1e6
        brute_all = brute_further + tree / millions
        ours_further, ours_all = further / millions, (all_of_it + further) / millions
        print(
            f"{line_setback(line):6.0f} mm    {error:7.2%} {ours.mean() / exact.mean() - 1:+7.2%}"
            f" {ours_all:8.2f} {ours_further:11.2f}  | {samples:14.0f} {brute_all:8.1f}"
            f" {brute_further:12.1f}  | {brute_all / ours_all:8.1f}"
            f" {brute_further / ours_further:9.1f}"
            f"   (brute RMS at {COUNTS[-1]}: {errors[-1]:.2%})",
            flush=True,
        )


def line_setback(line):
    return (3.6 - line.origin_m[1]) * 1000


def prepare_light(scene):
    """What direct light alone needs before the first run: normals and horizons."""
    from rakelight.light.normals import vertex_normals
    from rakelight.light.prepare import Prepared, PreparedRelief, sides_of, turned_relief

    surface = scene.surfaces[0]
    relief = surface.relief
    normals = vertex_normals(relief.heights_m, relief.grid.step_u_m, relief.grid.step_v_m)
    sides = sides_of(surface, scene.groups[0].lines[0])
    turned = {side: turned_relief(surface, normals, side, Quality().azimuths) for side in sides}
    return Prepared(scene, Quality(), {surface.name: PreparedRelief(normals, normals[0], turned)})


def part(prepared, groups):
    """The relief's own light, without that of the mean plane, which brute force has not either."""
    from rakelight.light.direct import add_relief_light

    out = np.zeros(prepared.reliefs["main"].normals.shape[1:], np.float32)
    surface = prepared.room.surfaces[0]
    for line in groups[0].lines:
        for turned in prepared.reliefs["main"].sides.values():
            add_relief_light(turned, surface.relief.highest_m, line, prepared.quality.steps, out)
    return out


if __name__ == "__main__":
    for relief_name in sys.argv[1:] or ("split-ledgestone", "trowelled-plaster"):
        bench(relief_name)
