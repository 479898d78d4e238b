"""A scan made from a known height field comes back; what is lost is counted."""

import math

import numpy as np
import pytest

from rakelight.build.project_scan import ScanWish, project_scan
from rakelight.build.scan_frame import outline_turn_rad, scan_frame
from rakelight.build.scan_mending import fill_holes, tiled
from reference.made_scans import (
    UPRIGHT,
    field,
    scanned,
    sheet,
    turning,
    with_shelf,
    without,
)

WIDTH, HEIGHT = 0.5, 0.32


def number(made, key):
    return next(n.value for n in made.numbers if n.key == f"scan.{key}")


def turn_needed(rotation):
    """Turn that undoes what a rotation does to the sample in its own plane."""
    u, _, n = UPRIGHT @ rotation.T
    up = np.array([0, 0, 1.0]) if abs(n[2]) <= 0.9 else np.array([0, 1.0, 0])
    across = np.cross(up, n)
    return -math.atan2(u @ np.cross(n, across), u @ across)


def plane_of(heights, step):
    rows, columns = heights.shape
    v, u = np.mgrid[0:rows, 0:columns] * step
    terms = np.stack([u.ravel(), v.ravel(), np.ones(u.size)], axis=1)
    return terms, np.linalg.lstsq(terms, heights.ravel(), rcond=None)[0]


def levelled(heights, step):
    terms, plane = plane_of(heights, step)
    return heights - (terms @ plane).reshape(heights.shape)


def truth_at(made):
    """Return the known field at the cells' middles, levelled by least squares."""
    rows, columns = made.heights_m.shape
    u = number(made, "left_m") + (np.arange(columns) + 0.5) * made.step_m
    v = number(made, "foot_m") + (np.arange(rows) + 0.5) * made.step_m
    return field(*np.meshgrid(u, v))


TURNED = [turning(0, 0, 0), turning(7, 5, -160), turning(-84, 3, 20), turning(12, 31, 100)]


@pytest.mark.parametrize("rotation", TURNED)
def test_known_field_comes_back_from_a_turned_noisy_scan(rotation):
    points, faces = sheet(WIDTH, HEIGHT, 0.0007)
    faces = without(points, faces, 0.3, 0.2, 0.008)
    mesh = scanned(points, rotation, noise_m=5e-5)
    made = project_scan(mesh, faces, ScanWish(0.001, turn_rad=turn_needed(rotation)))
    assert made.heights_m.shape[0] >= 315
    assert made.heights_m.shape[1] >= 495
    # the plane: within a twentieth of a degree of the plain least-squares one
    own = plane_of(made.heights_m, made.step_m)[1]
    true = plane_of(truth_at(made), made.step_m)[1]
    assert np.degrees(np.abs(own - true)[:2]).max() < 0.15
    error = levelled(made.heights_m, made.step_m) - levelled(truth_at(made), made.step_m)
    hole = np.zeros(error.shape, bool)
    v, u = np.mgrid[0 : error.shape[0], 0 : error.shape[1]] * made.step_m
    hole = np.hypot(u - 0.3, v - 0.2) < 0.011
    assert number(made, "widest_hole_m") == pytest.approx(0.016, abs=0.0015)
    assert any("smooth patch under a graze" in note for note in made.notes)
    # noise of 0.05 mm, the corner found to a part of a cell on slopes up to 45 degrees
    assert np.sqrt(np.mean(error[~hole] ** 2)) < 1.5e-4
    assert np.abs(error[hole]).max() < 4e-3
    assert number(made, "hole_share") == pytest.approx(
        math.pi * 0.008**2 / (WIDTH * HEIGHT), rel=0.05
    )


def test_an_overhang_shows_its_front_and_its_shade_is_counted():
    points, faces = sheet(WIDTH, HEIGHT, 0.002, lambda u, v: 0 * u)
    points, faces = with_shelf(points, faces, 0.1, 0.1, (0.2, 0.08), 0.03)
    made = project_scan(scanned(points, turning(0, 0, 0)), faces, ScanWish(0.001))
    covered = made.heights_m > 0.02
    assert covered.mean() == pytest.approx(0.2 * 0.08 / (WIDTH * HEIGHT), rel=0.02)
    assert made.heights_m[150, 200] == pytest.approx(0.03, abs=1e-4)
    area = WIDTH * HEIGHT + 2 * 0.2 * 0.08
    assert number(made, "away_share") == pytest.approx(0.2 * 0.08 / area, rel=0.03)
    assert number(made, "behind_share") == pytest.approx(0.2 * 0.08 / area, rel=0.06)


def test_a_mesh_wound_inside_out_is_seen_from_the_side_that_is_stated():
    points, faces = sheet(WIDTH, HEIGHT, 0.002)
    mesh = scanned(points, turning(0, 0, 0))
    right = project_scan(mesh, faces, ScanWish(0.002))
    stated = project_scan(mesh, faces[:, ::-1], ScanWish(0.002, front=(0, -1, 0)))
    assert np.allclose(right.heights_m, stated.heights_m, atol=1e-6)
    assert number(stated, "away_share") == 0
    # not stated, the outside is believed: left and right swap, hills are pits
    inside = project_scan(mesh, faces[:, ::-1], ScanWish(0.002))
    mirrored = right.heights_m.max() - right.heights_m[:, ::-1]
    assert np.sqrt(np.mean((inside.heights_m - mirrored) ** 2)) < 3e-4


def test_a_closed_slab_says_that_its_front_was_guessed():
    points, faces = sheet(0.2, 0.1, 0.002)
    back = points * [1, 1, 0] - [0, 0, 0.03]
    points, faces = np.vstack([points, back]), np.vstack([faces, faces[:, ::-1] + len(points)])
    made = project_scan(scanned(points, turning(0, 0, 0)), faces, ScanWish(0.001))
    assert "--front" in made.notes[0]
    assert np.ptp(made.heights_m) < 0.02  # the rear, 30 mm behind, is not seen
    assert number(made, "away_share") == pytest.approx(0.5, abs=0.06)


def test_a_ragged_sample_is_cropped_to_the_largest_rectangle():
    points, faces = sheet(0.4, 0.3, 0.002)
    middle = points[faces].mean(axis=1)
    # an L: the left 0.25 m at full height, the rest up to 0.1 m
    faces = faces[(middle[:, 0] < 0.25) | (middle[:, 1] < 0.1)]
    made = project_scan(scanned(points, turning(0, 0, 0)), faces, ScanWish(0.001))
    assert number(made, "width_m") == pytest.approx(0.25, abs=0.003)
    assert number(made, "height_m") == pytest.approx(0.3, abs=0.003)
    assert number(made, "cropped_share") == pytest.approx(0.015 / 0.09, abs=0.01)


def test_a_stated_crop_is_taken_from_the_lower_left():
    points, faces = sheet(WIDTH, HEIGHT, 0.002)
    mesh = scanned(points, turning(0, 0, 0))
    made = project_scan(mesh, faces, ScanWish(0.001, crop_m=(0.1, 0.05, 0.3, 0.2)))
    assert made.heights_m.shape == (200, 300)
    error = levelled(made.heights_m, 0.001) - levelled(truth_at(made), 0.001)
    assert np.abs(error).max() < 3e-4
    with pytest.raises(ValueError, match="beyond the levelled sample, which is 500 x 320 mm"):
        project_scan(mesh, faces, ScanWish(0.001, crop_m=(0.3, 0.05, 0.3, 0.2)))


def test_a_turned_outline_is_noticed_and_the_turn_that_is_named_works():
    points, faces = sheet(WIDTH, HEIGHT, 0.002)
    leaning = points.copy()
    cos, sin = math.cos(0.2), math.sin(0.2)
    leaning[:, :2] = points[:, :2] @ np.array([[cos, sin], [-sin, cos]])
    mesh = scanned(leaning, turning(0, 0, 0))
    made = project_scan(mesh, faces, ScanWish(0.002))
    (note,) = [n for n in made.notes if "--turn" in n]
    turn = float(note.split("--turn ")[1].split()[0])
    assert turn == pytest.approx(-math.degrees(0.2), abs=0.1)
    upright = project_scan(mesh, faces, ScanWish(0.002, turn_rad=math.radians(turn)))
    assert number(upright, "width_m") == pytest.approx(WIDTH, abs=0.005)
    assert not [n for n in upright.notes if "--turn" in n]


def test_tiles_join_without_a_step_and_keep_their_roughness():
    rng = np.random.default_rng(3)
    from scipy.ndimage import gaussian_filter

    rough = gaussian_filter(rng.normal(size=(300, 400)), 4).astype(np.float32)
    out, blend = tiled(rough - rough.mean(), 0.001, 0.05)
    assert blend == (50, 50)
    assert out.shape == (250, 350)
    for axis in (0, 1):
        inside = np.abs(np.diff(out, axis=axis)).max()
        joint = np.abs(np.take(out, 0, axis) - np.take(out, -1, axis)).max()
        assert joint <= 1.5 * inside
    assert out[:, :50].std() == pytest.approx(out[:, 100:].std(), rel=0.15)
    with pytest.raises(ValueError, match="half of a side"):
        tiled(rough, 0.001, 0.2)


def test_holes_fill_like_a_stretched_skin():
    v, u = np.mgrid[0:120, 0:160] / 100
    # harmonic, so a stretched skin is exactly this
    true = (u * u - v * v + 3 * u * v).astype(np.float32)
    holes = np.hypot(u - 0.8, v - 0.6) < 0.35
    holes[5:9, 20:90] = True
    filled = np.where(holes, np.float32(np.nan), true)
    fill_holes(filled, holes)
    assert np.abs(filled - true).max() < 0.02 * np.ptp(true)
    assert np.array_equal(filled[~holes], true[~holes])


def test_the_plane_is_not_pulled_by_joints_on_one_side_or_by_a_spike():
    flat, faces = sheet(0.4, 0.3, 0.002, lambda u, v: np.where((u > 0.3) & (v > 0.2), -0.02, 0.0))
    flat[1000, 2] += 0.3
    frame = scan_frame(scanned(flat, turning(4, 3, 30)), faces)
    true = (UPRIGHT @ turning(4, 3, 30).T)[2]
    assert math.degrees(math.acos(min(1, frame.axes[2] @ true))) < 0.25


def test_smallest_rectangle_of_an_outline():
    square = np.array([[0, 0], [2, 0], [2, 1], [0, 1]])
    turn = np.array([[math.cos(0.3), math.sin(0.3)], [-math.sin(0.3), math.cos(0.3)]])
    found, filled = outline_turn_rad(*(square @ turn).T)
    assert (found, filled) == (pytest.approx(0.3), pytest.approx(1))


def _flat():
    points, faces = sheet(0.4, 0.3, 0.01, lambda u, v: 0 * u)
    return scanned(points, turning(0, 0, 0)), faces


def _ball():
    points, faces = sheet(0.4, 0.3, 0.01, lambda u, v: 0 * u)
    around = points[:, :2] / [0.4, 0.3] * [2 * np.pi, np.pi]
    return np.stack(
        [
            np.sin(around[:, 1]) * np.cos(around[:, 0]),
            np.sin(around[:, 1]) * np.sin(around[:, 0]),
            np.cos(around[:, 1]),
        ],
        axis=1,
    ), faces


def _large_ball():
    points, faces = _ball()
    return 1.3 * points, faces


def _line():
    x = np.linspace(0, 1, 30)
    points = np.stack([x, 1e-7 * (x * 29 % 2), 0 * x], axis=1)
    return points, np.stack([np.arange(28), np.arange(28) + 1, np.arange(28) + 2], axis=1)


@pytest.mark.parametrize(
    ("mesh", "wish", "words"),
    [
        (_flat, ScanWish(), "zero thickness"),
        (_ball, ScanWish(0.01), "--front"),
        (_line, ScanWish(), "is a line"),
        (_flat, ScanWish(0.1), "too small for a step of 100 mm"),
        (_flat, ScanWish(0.0), "must be above 0"),
        (_large_ball, ScanWish(0.02, front=(0, 0, 1)), r"it stands out 1\.\d+ m"),
    ],
)
def test_what_is_no_relief_is_refused(mesh, wish, words):
    with pytest.raises(ValueError, match=words):
        project_scan(*mesh(), wish)


def test_too_many_holes_are_refused_with_their_share():
    points, faces = sheet(0.4, 0.3, 0.002)
    for k in range(8):
        faces = without(points, faces, 0.05 + 0.04 * k, 0.15, 0.018)
    mesh = scanned(points, turning(0, 0, 0))
    with pytest.raises(ValueError, match=r"holes are 6\.\d% of the rectangle, more than the 5\.0%"):
        project_scan(mesh, faces, ScanWish(0.001))
    made = project_scan(mesh, faces, ScanWish(0.001, most_holes=0.1))
    assert np.isfinite(made.heights_m).all()


def test_too_fine_a_step_names_the_one_that_fits():
    points, faces = sheet(0.4, 0.3, 0.01)
    mesh = scanned(points, turning(0, 0, 0))
    with pytest.raises(ValueError, match=r"a step of (\d+\.\d\d) mm would fit") as caught:
        project_scan(mesh, faces, ScanWish(1e-5), memory_bytes=300_000_000)
    fits = float(str(caught.value).split("a step of ")[2].split()[0]) / 1000
    assert 1e-4 < fits < 5e-4
    made = project_scan(mesh, faces, ScanWish(fits), memory_bytes=300_000_000)
    assert made.step_m == fits


def test_the_same_bytes_every_time():
    points, faces = sheet(0.3, 0.2, 0.0008)
    mesh = scanned(points, turning(3, 2, 10), 1e-4)
    wish = ScanWish(0.001, tile=True)
    first, again = (project_scan(mesh, faces, wish).heights_m.tobytes() for _ in range(2))
    assert first == again
