"""Steps of a sweep: what physics says about them, what is reused, what a step hangs on."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.picture.exposure import automatic_ev100
from rakelight.read.relief import read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.read.toml import read_scene
from rakelight.study.fingerprint import fingerprint
from rakelight.study.knobs import knob
from rakelight.study.pooled import Reading, pooled_ev100
from rakelight.study.ranges import parse_range
from rakelight.study.step import picture_of, step_of
from rakelight.study.stills import light_scene
from rakelight.study.sweep import plan_sweep, sweep_steps
from reference.made_meshes import obj
from reference.plain_rooms import mean

COARSE = [
    "quality.mesh_step=15 mm", "quality.plane_step=400 mm", "quality.bounce=false",
    "picture.width=64", "picture.height=36",
]  # fmt: skip
BOX_FACES = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [1, 3, 7, 5], [3, 2, 6, 7], [2, 0, 4, 6]]
DEEP = [
    path.stem
    for path in sorted(shipped_folder("textures").glob("*.toml"))
    if read_texture(path).depth_m > 0.005
]


def planned(scene, overrides=(), camera=None, tags=(), **ranges):
    scene_file = read_scene(scene, [*COARSE, *overrides])
    keeps, re_aim = ranges.pop("keeps", "mean plane"), ranges.pop("re_aim", False)
    asked = [
        parse_range(knob(key.replace("_", "-")), text, scene_file.tables.units.length)
        for key, text in ranges.items()
    ]
    return plan_sweep(scene_file, asked, camera=camera, keeps=keeps, re_aim=re_aim, tags=tags)


def steps(sweep, finished=lambda key: False):
    return [
        None if outcome.fault else step_of(outcome.files)
        for outcome in sorted(sweep_steps(sweep, finished), key=lambda o: o.wish.index)
    ]


@pytest.mark.parametrize("relief", DEEP)
def test_the_drama_never_rises_as_the_setback_grows(relief):
    # the trade's rule for one file at one tilt (common practice, no source): farther out, the
    # drama comes down; more than a band up again would be an error of ours
    found = steps(
        planned("ticket-hall-graze", [f"relief.1.texture={relief}"], setback="against:300mm:50mm")
    )
    centres = np.array([step.value("main.drama_centre_m") for step in found])
    band = float(np.diff(found[0].curves["height_m"])[0])
    assert band <= 0.05 + 1e-9
    assert len(centres) >= 5
    assert np.isfinite(centres).all()
    assert np.diff(centres).max() <= band
    if relief == "split-ledgestone":
        assert centres[0] - centres[-1] >= 0.2


def test_dim_scales_and_setback_does_not_touch_it():
    half, full = steps(planned("ticket-hall-graze", ["other_light.all=0 lx"], dim="50%,100%"))
    key = "main.flat.average_lx"
    assert full.value(key) == pytest.approx(2 * half.value(key), rel=1e-5)
    assert full.value("main.max_to_min") == pytest.approx(half.value("main.max_to_min"), rel=1e-4)


def test_steps_do_not_depend_on_what_was_lit_before_them():
    # horizons are handed on; the light must be that of a step lit alone
    many = steps(planned("ticket-hall-graze", setback="100mm:300mm:100mm"))
    alone = steps(planned("ticket-hall-graze", setback="200mm,900mm"))
    for one, other in zip(many[1].numbers, alone[0].numbers, strict=True):
        assert one.key == other.key
        np.testing.assert_allclose(one.value, other.value, rtol=1e-6)


def test_a_step_with_a_lit_mesh_has_the_still_s_numbers(tmp_path):
    points = [[x, y, z] for z in (0, 900) for y in (0, 400) for x in (0, 800)]
    (tmp_path / "crate.obj").write_bytes(obj(points, BOX_FACES))
    path = tmp_path / "hall.toml"
    path.write_text(
        '[room]\nwidth = "2.4 m"\ndepth = "1.8 m"\nheight = "2 m"\n'
        '[[run]]\ntag = "G1"\nphotometry = "wash-flat"\nsetback = "1 m"\n'
        '[[mesh]]\nfile = "crate.obj"\nunit = "mm"\nat = [1.2, 0.8]\nreflectance = 0.8\n'
    )
    on = ["quality.bounce=true"]
    step = steps(planned(path, on, setback="700mm,1000mm"))[-1]
    still = light_scene(build_scene(path, [*COARSE, *on]))
    numbers = {number.key: number.value for number in still.numbers}
    alike = [number for number in step.numbers if np.isfinite(number.value)]
    assert len(alike) > 20
    for number in alike:
        np.testing.assert_allclose(number.value, numbers[number.key], rtol=1e-6)
    # and the crate's own light is among them: surfaces alone catch less than what arrived
    caught = sum(
        mean(surface, still.lit.runs_lx(surface.name))
        * surface.grid.width_m
        * surface.grid.height_m
        for surface in still.scene.room.surfaces
    )
    assert still.balance is not None
    assert still.balance.arrived_lm > 1.02 * caught
    # sums over vertices 0.4 m apart say little of the balance
    finer = light_scene(build_scene(path, [*COARSE, *on, "quality.plane_step=20 mm"]))
    assert finer.balance is not None
    assert abs(finer.balance.error) < 0.005


def test_a_stated_aim_is_held_as_a_tilt_unless_told_to_follow():
    aimed = ["run.G1.beam_aim=base"]
    held = steps(planned("ticket-hall-graze", aimed, setback="60mm:360mm:150mm"))
    follows = steps(planned("ticket-hall-graze", setback="60mm:360mm:150mm", re_aim=True))
    assert np.ptp([step.plans[0].tilt_rad for step in held]) == pytest.approx(0, abs=1e-9)
    assert [step.plans[0].peak_at_m for step in follows] == pytest.approx([0, 0, 0], abs=1e-6)
    assert np.ptp([step.plans[0].tilt_rad for step in follows]) > 0.05
    with pytest.raises(InputError, match="tilt is swept"):
        planned("ticket-hall-graze", tilt="0:10:5", re_aim=True)


def test_a_deeper_relief_keeps_its_mean_plane_or_its_backing():
    mean = steps(planned("ticket-hall-graze", relief_depth="20mm:60mm:20mm"))
    backing = steps(planned("ticket-hall-graze", relief_depth="20mm:60mm:20mm", keeps="backing"))
    assert np.ptp([step.plans[0].setback_m for step in mean]) == pytest.approx(0, abs=1e-9)
    assert np.ptp([step.plans[0].backing_m for step in mean]) > 0.005
    assert np.ptp([step.plans[0].backing_m for step in backing]) < 1e-5
    # the deeper stone has more texture, whichever plane is kept
    for kind in (mean, backing):
        grain = [step.value("main.texture_over_mean") for step in kind]
        assert grain == sorted(grain)


def test_a_step_inside_the_relief_is_named_and_the_rest_goes_on():
    outcomes = list(
        sweep_steps(planned("ticket-hall-graze", setback="10mm:130mm:60mm"), lambda key: False)
    )
    assert [bool(outcome.fault) for outcome in outcomes] == [True, False, False]
    assert "relief" in outcomes[0].fault
    with pytest.raises(InputError, match="relief"):
        planned("ticket-hall-graze", ["run.G1.setback=5mm"], setback="1mm,2mm")


def test_finished_steps_are_not_lit_again_and_what_changes_makes_them_stale():
    sweep = planned("ticket-hall-graze", setback="100mm,200mm")
    keys = [outcome.key for outcome in sweep_steps(sweep, lambda key: False)]
    again = list(sweep_steps(sweep, lambda key: key in keys))
    assert [outcome.files for outcome in again] == [None, None]
    for change in (
        ["run.G1.dim=0.5"], ["run.G1.photometry=graze-wide"], ["relief.1.depth=30 mm"],
        ["quality.mesh_step=13 mm"], ["surface.left.reflectance=0.4"], ["measure.top=200 mm"],
        ["other_light.all=9 lx"], ["quality.bounce=true"],
    ):  # fmt: skip
        other = planned("ticket-hall-graze", change, setback="100mm,200mm")
        seen: list[str] = []

        def noted(key, seen=seen):
            seen.append(key)
            return True

        list(sweep_steps(other, noted))
        assert len(seen) == 2
        assert not set(seen) & set(keys), change
    # another program is another key
    assert keys[0] not in [o.key for o in sweep_steps(sweep, lambda key: True, code="next")]


def test_what_only_the_telling_needs_makes_nothing_stale(tmp_path):
    keys = []
    for title, ev100 in (("Hall", 5), ("Great hall", 7)):
        scene = tmp_path / "hall.toml"
        scene.write_text(
            f'title = "{title}"\nextends = "ticket-hall-graze"\n[picture]\nev100 = {ev100}\n'
        )
        sweep = planned(scene, setback="100mm,200mm")
        keys.append([outcome.key for outcome in sweep_steps(sweep, lambda key: True)])
    assert keys[0] == keys[1]


def test_two_ranges_make_a_grid_and_the_dear_one_turns_slowest():
    sweep = planned("ticket-hall-graze", dim="50%,100%", relief_depth="20mm,40mm")
    assert [wish.index for wish in sweep.wishes] == [0, 1, 2, 3]
    depths = [wish.values[1] for wish in sweep.order()]
    assert depths == pytest.approx([0.02, 0.02, 0.04, 0.04])


def test_a_step_comes_back_as_it_was_kept():
    sweep = planned("ticket-hall-graze", camera="front", setback="100mm,200mm")
    outcome = next(iter(sweep_steps(sweep, lambda key: False)))
    step = step_of(outcome.files)
    assert step.plans[0].setback_m == pytest.approx(0.1)
    assert step.value("main.flat.average_lx") > 10
    picture = picture_of(outcome.files["picture.npz"])
    lit = picture.luminance_cd_m2()
    assert lit.shape == (36, 64)
    assert lit.max() > 1
    top, foot = step.rows_px
    assert 0 <= top < foot <= 36
    with pytest.raises(ValueError, match="not a step"):
        step_of({"step.json": b"{}", "curves.npz": b""})


def test_the_pooled_exposure_is_that_of_all_pictures_at_once():
    rng = np.random.default_rng(5)
    pictures = [
        rng.lognormal(mean, 1.5, size).astype(np.float32)
        for mean, size in ((1.0, 40_000), (3.0, 20_000), (-2.0, 30_000))
    ]
    for white in (6.57, 0.5, float("inf")):  # the last two are ruled by highlights and by grey
        pooled = pooled_ev100([Reading.of(one) for one in pictures], white)
        assert pooled == pytest.approx(automatic_ev100(pictures, white), abs=0.01)
    readings = [Reading.of_plain(Reading.of(one).plain()) for one in pictures]
    assert pooled_ev100(readings[::-1], 6.57) == pooled_ev100(readings, 6.57)


def test_fingerprints_tell_values_apart():
    wish = planned("ticket-hall-graze", dim="50%,100%").wishes[0]
    assert fingerprint(wish) == fingerprint(replace(wish))
    assert fingerprint(wish) != fingerprint(replace(wish, index=3))
    different = [
        1,
        1.0,
        True,
        None,
        "1",
        b"1",
        (1,),
        ("1",),
        {"a": 1},
        np.array([1]),
        np.array([1.0]),
    ]
    assert len({fingerprint(value) for value in different}) == len(different)
    assert fingerprint(("ab", "c")) != fingerprint(("a", "bc"))
    with pytest.raises(TypeError):
        fingerprint(object())
