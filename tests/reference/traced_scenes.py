"""Bounced light of shipped scenes beside the path tracer's: means of surfaces, and 20 vertices.

    python tests/reference/traced_scenes.py SCENE [PATHS] [PATHS A VERTEX]

The vertices lie on the wall with the deepest relief, half of them among the tenth that sees the
least of the room. Minutes a scene; small surfaces (frames of pictures) are left out.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from reference.path_tracer import PathTracer
from reference.plain_rooms import mean

SCENES = Path(__file__).parents[2] / "scenes"
#: Surfaces smaller than this have no line of their own. [m2]
LEAST_M2 = 1.0


def mean_of(surface, field, rng, tracer, places=400_000):
    """Mean over true area: of a relief's vertices, or of places that lie on a plane's polygon.

    Between vertices light is linear; those in holes and beyond slanting edges do not count, nor do
    places that a body covers.
    """
    if surface.relief is not None:
        return mean(surface, field)
    grid, frame = surface.grid, surface.frame
    corners = (PathTracer.triangles_of(surface) - frame.origin_m) @ np.stack([frame.u, frame.v]).T
    side, other = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    areas = np.abs(side[:, 0] * other[:, 1] - side[:, 1] * other[:, 0])
    chosen = rng.choice(len(areas), places, p=areas / areas.sum())
    a, b = np.sqrt(rng.random(places))[:, None], rng.random(places)[:, None]
    at = corners[chosen, 0] + a * (side[chosen] * (1 - b) + other[chosen] * b)
    on_plane = np.concatenate([at, np.zeros((places, 1))], axis=1)
    at = at[~tracer.covered(frame.to_room(on_plane), np.tile(frame.n, (places, 1)))]
    total = weights = 0
    at /= (grid.step_u_m, grid.step_v_m)
    low = np.minimum(at.astype(int), (grid.columns - 2, grid.rows - 2))
    for step in ((0, 0), (1, 0), (0, 1), (1, 1)):
        u, v = (low + step).T
        share = (1 - np.abs(at - low - step)).prod(axis=1)
        share *= field[v, u] > 0
        total, weights = total + share * field[v, u], weights + share
    some = weights > 0
    return float((total[some] / weights[some]).mean())


def compare(name, paths, paths_a_vertex, seed=1):
    """Lines (surface or vertex, found, traced, standard error), lx, of two kinds.

    The seed chooses the vertices and the tracer's paths.
    """
    from rakelight import api
    from rakelight.light.bounce import BLOCKING, bounce, prepare_bounce
    from rakelight.light.on_bodies import light_on_bodies

    scene = api.load(SCENES / f"{name}.toml")
    ready = api.prepare(scene)
    around = prepare_bounce(ready)
    out, _ = bounce(around, api.light(scene, ready), light_on_bodies(around))
    room = scene.room
    tracer = PathTracer(room, [body for body in room.bodies if body.kind in BLOCKING])
    rng = np.random.default_rng(seed)
    surfaces = []
    for number, surface in enumerate(room.surfaces):
        if surface.grid.width_m * surface.grid.height_m < LEAST_M2:
            continue
        own = np.flatnonzero(tracer.owner == number)
        found = mean_of(surface, out.indirect_lx(surface.name), rng, tracer)
        traced = tracer.mean_over(own, paths, rng, bare=surface.relief is None)
        surfaces.append((surface.name, found, *traced))
    walls = [surface for surface in room.surfaces if surface.relief is not None]
    wall = max(walls, key=lambda one: float(np.ptp(one.relief.heights_m)))
    openness = ready.reliefs[wall.name].openness
    found = out.indirect_lx(wall.name)
    seen = found > 0.1 * np.median(found)  # not behind a picture
    # in the plane of the floor a path that starts there sees nothing of it
    seen[[0, -1]] = seen[:, [0, -1]] = False
    low, middle = np.quantile(openness[seen], [0.1, 0.5])
    which = np.concatenate(
        [
            rng.choice(np.flatnonzero(seen & (openness < low)), 10, replace=False),
            rng.choice(np.flatnonzero(seen & (openness > middle)), 10, replace=False),
        ]
    )
    points, normals, _ = tracer.vertices_of(wall)
    light, error = tracer.bounced(points[which], normals[which], paths_a_vertex, rng, wall.frame.n)
    found = found.ravel()[which]
    grid = wall.grid
    places = zip(which % grid.columns, which // grid.columns, openness.ravel()[which], strict=True)
    names = [
        f"open {share:.2f}, {c * grid.step_u_m:.3f} {r * grid.step_v_m:.3f} m"
        for c, r, share in places
    ]
    return surfaces, list(zip(names, found, light, error, strict=True))


def main():
    """Print the table of one scene."""
    name, *counts = sys.argv[1:]
    paths = int(counts[0]) if counts else 200_000
    paths_a_vertex = int(counts[1]) if len(counts) > 1 else 40_000
    for lines in compare(name, paths, paths_a_vertex):
        for what, found, traced, error in lines:
            off, share = 100 * (found / traced - 1), 100 * error / traced
            print(
                f"{name:18s} {what:24s} {found:8.2f} {traced:8.2f} lx {off:+6.1f} % +- {share:.1f}"
            )
    off = np.array([found / traced - 1 for _, found, traced, _ in lines])
    print(
        f"vertices within 5 %: hollows {(abs(off[:10]) < 0.05).sum()}, open "
        f"{(abs(off[10:]) < 0.05).sum()}; mean {off.mean():+.3f}"
    )


if __name__ == "__main__":
    main()
