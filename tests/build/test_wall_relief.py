"""A texture on a wall: no seams, its mean kept, its features measured."""

import numpy as np
import pytest

from rakelight.build.wall import feature_size, relief_on_wall, resample
from rakelight.scene.grid import Grid
from rakelight.scene.texture import Texture


def texture_of(heights, *, size_m=(1.0, 1.0), depth_m=0.01, repeat="tile", backing_m=0.0, **keys):
    given = {"reflectance_encoded": np.full((1, 1, 3), 255, np.uint8), **keys}
    return Texture(
        name="made",
        title="Made",
        heights=np.asarray(heights, dtype=np.float32),
        width_m=size_m[0],
        height_m=size_m[1],
        depth_m=depth_m,
        backing_m=backing_m,
        repeat=repeat,
        reflectance_scale=0.5,
        reflectance=0.5,
        **given,
    )


def waves(rows, columns, across, up):
    v = (np.arange(rows) + 0.5) / rows
    u = (np.arange(columns) + 0.5) / columns
    return (
        0.5
        + 0.25 * np.sin(2 * np.pi * across * u)[None, :]
        + 0.25 * np.sin(2 * np.pi * up * v)[:, None] * np.ones(columns)
    )


def trapezoid_mean(values):
    once = (values[:, 1:] + values[:, :-1]).mean(axis=1) / 2
    return ((once[1:] + once[:-1]) / 2).mean()


@pytest.fixture
def noise():
    return np.random.default_rng(7).random((60, 80)).astype(np.float32)


def test_a_smooth_relief_lands_where_it_belongs():
    texture = texture_of(waves(400, 500, 2, 1), size_m=(1.25, 1.0))
    relief, _ = relief_on_wall(texture, 2.0, 1.5, 0.005)
    u, v = relief.grid.u_m()[None, :], relief.grid.v_m()[:, None]
    expected = 0.0025 * (np.sin(2 * np.pi * 2 * u / 1.25) + np.sin(2 * np.pi * v))
    np.testing.assert_allclose(
        relief.heights_m, expected - trapezoid_mean(expected), atol=0.01 * 0.002
    )


def test_a_finer_mesh_casts_the_shadows_of_the_same_surface(noise):
    # texels of 1.5 mm
    texture = texture_of(noise, size_m=(0.12, 0.09), depth_m=0.001)
    usual, _ = relief_on_wall(texture, 0.25, 0.2, 0.0025)
    fine, _ = relief_on_wall(texture, 0.25, 0.2, 0.00125)
    assert usual.heights_m.std() > 1e-4
    np.testing.assert_allclose(fine.heights_m[::2, ::2], usual.heights_m, atol=2e-6)
    # an image that is finer still keeps what a finer mesh can show of it
    sharp = texture_of(noise, size_m=(0.04, 0.03), depth_m=0.001)
    one, _ = relief_on_wall(sharp, 0.25, 0.2, 0.0025)
    other, _ = relief_on_wall(sharp, 0.25, 0.2, 0.00125)
    assert other.heights_m.std() > 1.2 * one.heights_m.std()


def test_the_offset_moves_the_lower_left_corner():
    texture = texture_of(waves(400, 500, 2, 1), size_m=(1.25, 1.0))
    plain, _ = relief_on_wall(texture, 2.0, 1.5, 0.005)
    moved, _ = relief_on_wall(texture, 2.0, 1.5, 0.005, offset_uv_m=(0.1, 0.05), keep="repeat")
    same, _ = relief_on_wall(texture, 2.0, 1.5, 0.005, keep="repeat")
    np.testing.assert_allclose(moved.heights_m[10:, 20:], same.heights_m[:-10, :-20], atol=2e-6)
    assert np.abs(moved.heights_m - plain.heights_m).max() > 1e-3


def test_a_wall_of_whole_repeats_repeats_exactly(noise):
    relief, _ = relief_on_wall(texture_of(noise, size_m=(0.8, 0.6)), 1.6, 1.2, 0.01)
    h = relief.heights_m
    np.testing.assert_allclose(h[:, :80], h[:, 80:160], atol=1e-7)
    np.testing.assert_allclose(h[:60], h[60:120], atol=1e-7)


def test_mirrored_copies_meet_without_a_step(noise):
    relief, _ = relief_on_wall(
        texture_of(noise, size_m=(0.8, 0.6), repeat="mirror"), 1.6, 1.2, 0.005
    )
    h = relief.heights_m
    np.testing.assert_allclose(h, h[:, ::-1], atol=1e-7)
    np.testing.assert_allclose(h, h[::-1], atol=1e-7)


def test_a_stretched_image_fills_the_wall():
    ramp = np.repeat(np.linspace(0, 1, 200)[None, :], 50, axis=0)
    relief, _ = relief_on_wall(texture_of(ramp, repeat="stretch"), 3.0, 2.0, 0.02)
    along = relief.heights_m[20]
    assert (np.diff(along) >= -1e-9).all()
    assert along[-1] - along[0] == pytest.approx(0.01, rel=0.02)
    with pytest.raises(ValueError, match="no offset"):
        relief_on_wall(texture_of(ramp, repeat="stretch"), 3.0, 2.0, 0.02, offset_uv_m=(0.1, 0))


@pytest.mark.parametrize("step", [0.0037, 0.01, 0.0263, 0.05])
def test_the_mean_plane_lies_at_zero(noise, step):
    relief, _ = relief_on_wall(texture_of(noise, size_m=(0.8, 0.6)), 1.9, 1.1, step)
    assert abs(trapezoid_mean(relief.heights_m.astype(float))) < 1e-9
    assert relief.backing_m < relief.lowest_m < 0 < relief.highest_m


@pytest.mark.parametrize("count", [10, 20, 80, 133, 400])
def test_resampling_one_repeat_keeps_its_mean(noise, count):
    places = np.arange(count) / count
    out = resample(noise, places, places, mirror=False)
    # coarser: exact area means; finer: clipping to the range costs a little
    assert out.mean(dtype=float) == pytest.approx(noise.mean(dtype=float), abs=2e-3)
    if count in (10, 20):
        assert out.mean(dtype=float) == pytest.approx(noise.mean(dtype=float), abs=1e-6)


def test_area_averaging_does_not_alias():
    # a pattern of single samples, halved: plain picking would give all 0 or all 1
    board = np.indices((64, 64)).sum(axis=0) % 2
    places = np.arange(16) / 16
    np.testing.assert_allclose(
        resample(board.astype(np.float32), places, places, mirror=False), 0.5
    )


def test_magnifying_stays_within_the_image():
    step = np.zeros((8, 8), dtype=np.float32)
    step[:, 4:] = 1
    places = np.linspace(0, 1, 200)
    out = resample(step, places, places, mirror=True)
    assert out.min() == 0
    assert out.max() == 1


def test_at_the_samples_themselves_cubic_gives_the_samples(noise):
    out = resample(noise, (np.arange(60) + 0.5) / 60, (np.arange(80) + 0.5) / 80, mirror=False)
    np.testing.assert_allclose(out, noise, atol=1e-6)


@pytest.mark.parametrize(("across", "up"), [(4, 10), (12, 3), (7, 7)])
def test_feature_size_of_sines_is_their_wavelength(across, up):
    texture = texture_of(waves(500, 500, across, up), size_m=(2.0, 2.0))
    relief, _ = relief_on_wall(texture, 2.0, 2.0, 0.005)
    assert relief.feature_m[0] == pytest.approx(2 / across, rel=0.04)
    assert relief.feature_m[1] == pytest.approx(2 / up, rel=0.04)


def test_feature_size_halves_the_variance():
    # two sines of amplitudes 1 and 2: four fifths of the variance lie at the second
    u = np.linspace(0, 3, 1201)
    for strong, expected in ((0.3, 0.3), (0.05, 0.05)):
        weak = 0.05 if strong == 0.3 else 0.3
        line = np.sin(2 * np.pi * u / weak) + 2 * np.sin(2 * np.pi * u / strong)
        heights = np.repeat(line[None, :], 5, axis=0).astype(np.float32) * 0.001
        assert feature_size(heights, 0.0025, 0.0025)[0] == pytest.approx(expected, rel=0.05)


def test_no_variation_along_an_axis_gives_the_wall_itself():
    ribs = waves(100, 400, 20, 0)
    relief, _ = relief_on_wall(texture_of(ribs), 1.5, 0.9, 0.0025)
    assert relief.feature_m[0] == pytest.approx(0.05, rel=0.04)
    assert relief.feature_m[1] == pytest.approx(0.9)


@pytest.mark.parametrize(
    "texture", [texture_of(np.full((5, 5), 0.7)), texture_of(np.eye(5), depth_m=0)]
)
def test_a_flat_relief_is_exactly_flat(texture):
    relief, _ = relief_on_wall(texture, 2.0, 1.0, 0.1)
    assert not relief.heights_m.any()
    assert relief.highest_m == relief.lowest_m == 0


def test_the_backing_goes_with_the_mean_plane():
    half = np.zeros((10, 10))
    half[:, 5:] = 1
    relief, _ = relief_on_wall(texture_of(half, backing_m=-0.004), 1.0, 1.0, 0.01)
    assert relief.backing_m == pytest.approx(-0.004 - 0.005, abs=1e-4)


def test_too_fine_a_step_names_the_one_that_fits():
    texture = texture_of(waves(50, 50, 2, 2))
    with pytest.raises(ValueError, match=r"a step of (\d+\.\d) mm would fit") as caught:
        relief_on_wall(texture, 4.0, 2.5, 0.0005, memory_bytes=100_000_000)
    step_mm = float(str(caught.value).split("a step of ")[-1].split(" mm")[0])
    assert 3 < step_mm < 5
    relief, _ = relief_on_wall(texture, 4.0, 2.5, step_mm / 1000, memory_bytes=100_000_000)
    assert relief.grid == Grid.with_step(4.0, 2.5, step_mm / 1000)


@pytest.mark.parametrize("bad", [(0, 1, 0.01), (1, -1, 0.01), (1, 1, 0), (1, 1, float("nan"))])
def test_sizes_must_be_positive(bad):
    with pytest.raises(ValueError, match="above 0"):
        relief_on_wall(texture_of(np.eye(4)), *bad)


class TestReflectanceMap:
    @pytest.fixture
    def dots(self):
        encoded = np.zeros((10, 20, 3), np.uint8)
        encoded[0, 0] = 200  # at the foot, left
        return encoded

    def test_tiles_keep_their_size(self, dots):
        texture = texture_of(np.eye(4), size_m=(2, 1), reflectance_encoded=dots)
        _, colour = relief_on_wall(texture, 3.0, 3.0, 0.1)
        assert (colour.width_m, colour.height_m, colour.mirror, colour.scale) == (2, 1, False, 0.5)
        np.testing.assert_array_equal(colour.encoded, dots)

    def test_the_offset_moves_the_map_with_the_relief(self, dots):
        texture = texture_of(np.eye(4), size_m=(2, 1), reflectance_encoded=dots)
        _, colour = relief_on_wall(texture, 3.0, 3.0, 0.1, offset_uv_m=(0.5, 0.2))
        assert colour.encoded[2, 5, 0] == 200

    def test_a_moved_mirror_image_is_a_tile_of_twice_the_size(self, dots):
        texture = texture_of(np.eye(4), size_m=(2, 1), reflectance_encoded=dots, repeat="mirror")
        _, colour = relief_on_wall(texture, 3.0, 3.0, 0.1, offset_uv_m=(0.5, 0.2))
        assert (colour.width_m, colour.height_m, colour.mirror) == (4, 2, False)
        assert np.argwhere(colour.encoded[..., 0] == 200).tolist() == [
            [1, 4], [1, 5], [2, 4], [2, 5],
        ]  # fmt: skip

    def test_stretched_maps_fill_the_wall(self, dots):
        texture = texture_of(np.eye(4), reflectance_encoded=dots, repeat="stretch")
        _, colour = relief_on_wall(texture, 3.0, 2.5, 0.1)
        assert (colour.width_m, colour.height_m) == (3.0, 2.5)
