"""Self-shadowed light on real relief against brute force, and what that test would catch."""

from functools import cache, lru_cache

import numpy as np
import pytest

import rakelight.light.direct as direct_module
from rakelight.build.wall import relief_on_wall
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.read.relief import read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.scene.quality import Quality
from reference.brute_force import BruteForce, mesh_normals, relief_mesh
from reference.grazed_walls import distribution, grazing, room, run, wall

WIDTH, HEIGHT, OPENING = 4.8, 2.7, 0.03
TOP = 2.65
OPTIC = distribution(grazing, length_m=1.0)
QUALITY = Quality()
VERTICES, SAMPLES = 5000, 1024
#: How far off the surface rays start. The plaster's ripple is a hundredth of a millimetre high:
#: rays 0.005 mm off see over it, and its foot is 1.5 % brighter than by these, just clear. [m]
LIFT_M = 1e-6
#: Just clear of the relief, and two setbacks that everyone knows.
SETBACKS = ("clear", 0.1, 0.3)


class Case:
    """One shipped relief at the default mesh, prepared once, with brute force at its vertices."""

    def __init__(self, texture):
        found = read_texture(texture, [shipped_folder("textures")])
        relief, _ = relief_on_wall(found, WIDTH, HEIGHT, QUALITY.mesh_step_m)
        self.surface = wall(WIDTH, HEIGHT, QUALITY.mesh_step_m, heights=relief.heights_m)
        self.highest = relief.highest_m
        grid = self.surface.grid
        points, faces = relief_mesh(relief.heights_m, grid.step_u_m, grid.step_v_m)
        normals = mesh_normals(points, faces)
        below = np.flatnonzero(points[:, 1] < TOP - 0.01)
        self.chosen = np.random.default_rng(5).choice(below, VERTICES, replace=False)
        self.v = points[self.chosen, 1]
        frame = self.surface.frame
        self.points = frame.to_room(points[self.chosen])
        self.normals = normals[self.chosen] @ np.stack([frame.u, frame.v, frame.n])
        self.brute = BruteForce(frame.to_room(points), faces)
        self.prepared = prepare(room(self.surface, self.line(0.3)), QUALITY)

    def line(self, setback):
        if setback == "clear":
            setback = self.highest + OPENING / 2 + 0.001
        return run(setback, [(0, WIDTH)], top_m=TOP, width_m=OPENING, optic=OPTIC)

    @cache  # noqa: B019 - lives as long as the module's cases
    def exact(self, setback):
        line, lift_m = self.line(setback), LIFT_M * self.normals
        return self.brute.illuminance(self.points, self.normals, line, SAMPLES, lift_m=lift_m)

    def ours(self, setback):
        groups = room(self.surface, self.line(setback)).groups
        return direct(self.prepared, groups).direct_lx["main"][0].ravel()[self.chosen]


@lru_cache(maxsize=2)
def case(texture):
    return Case(texture)


def check_accuracy(ours, exact, v):
    """Mean within 1 %, correlation 0.999; mean within 2 % in bands of height."""
    assert ours.mean() == pytest.approx(exact.mean(), rel=0.01)
    assert np.corrcoef(ours, exact)[0, 1] >= 0.999
    quarters = [(HEIGHT * q / 4, HEIGHT * (q + 1) / 4) for q in range(4)]
    for low, high in [*quarters, (TOP - 0.4, TOP)]:
        band = (v >= low) & (v < high)
        assert ours[band].mean() == pytest.approx(exact[band].mean(), rel=0.02), (low, high)


@pytest.mark.parametrize("texture", ["split-ledgestone", "trowelled-plaster"])
@pytest.mark.parametrize("setback", SETBACKS)
def test_light_agrees_with_brute_force(texture, setback):
    # >= 1,024 samples stratified in angle a vertex, rays 0.001 mm off the surface, 5,000 vertices
    stone = case(texture)
    check_accuracy(stone.ours(setback), stone.exact(setback), stone.v)


def check_everywhere(stone):
    for setback in SETBACKS:
        check_accuracy(stone.ours(setback), stone.exact(setback), stone.v)


def two_per_cent(monkeypatch, stone):
    whole = direct_module.relief_line

    def brighter(*arguments):
        whole(*arguments)
        arguments[-1][:] *= 1.02

    monkeypatch.setattr(direct_module, "relief_line", brighter)


def mirrored(monkeypatch, stone):
    whole = direct_module.axial_table
    monkeypatch.setattr(direct_module, "axial_table", lambda line, axis: whole(line, -axis))


def one_line(monkeypatch, stone):
    """One line in the middle of the opening: no width, so no penumbra either."""
    import dataclasses

    whole = direct_module.add_relief_light

    def thin(turned, highest, line, steps, out, *toward):
        whole(turned, highest, dataclasses.replace(line, opening_width_m=1e-5), steps, out, *toward)

    monkeypatch.setattr(direct_module, "add_relief_light", thin)


@pytest.mark.parametrize("fault", [two_per_cent, one_line])
def test_a_planted_fault_is_caught_by_the_accuracy_test(fault, monkeypatch):
    stone = case("split-ledgestone")
    fault(monkeypatch, stone)
    with pytest.raises(AssertionError):
        check_everywhere(stone)


def check_lean_along_the_run(ours, exact, u):
    """The optic is stronger toward C0: the wall's left and right parts must each agree."""
    for part in (u < 0.6, u > WIDTH - 0.6):
        assert ours[part].mean() == pytest.approx(exact[part].mean(), rel=0.03)


def test_light_leans_along_the_run_as_the_file_does():
    stone = case("split-ledgestone")
    u = stone.points[:, 0]
    check_lean_along_the_run(stone.ours(0.3), stone.exact(0.3), u)


def test_a_mirrored_distribution_is_caught(monkeypatch):
    stone = case("split-ledgestone")
    mirrored(monkeypatch, stone)
    with pytest.raises(AssertionError):
        check_lean_along_the_run(stone.ours(0.3), stone.exact(0.3), stone.points[:, 0])
