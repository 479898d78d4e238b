"""What is written reads back as the same light."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rakelight.errors import InputError
from rakelight.read.photometry import parse_photometry, read_photometry
from rakelight.scene.intensity import toward
from rakelight.tell.eulumdat import eulumdat_bytes, not_kept_in_eulumdat
from rakelight.tell.lm63 import lm63_bytes
from reference.photometric_texts import FILE_1, FILE_2, FILE_3, eulumdat, lm63

SHIPPED = sorted((Path(__file__).parents[2] / "shared" / "photometry").glob("*.ies"))
C, GAMMA = np.meshgrid(np.arange(0.0, 360, 7.3), np.arange(0.7, 180, 3.1))
# the last digits before and after a file's own ends too
EDGES = np.array([90 - 1e-5, 90, 90 + 1e-5])
RAYS = np.concatenate([
    toward(np.deg2rad(C), np.deg2rad(GAMMA)).reshape(-1, 3),
    toward(np.deg2rad(33.0), np.deg2rad(EDGES)),
])  # fmt: skip

TEXTS = {
    "file 1": FILE_1, "file 2": FILE_2, "file 3": FILE_3,
    "rotational": lm63(h=(0,)), "quadrants": lm63(h=(0, 90)), "0-180": lm63(),
    "90-270": lm63(h=(90, 180, 270)), "no middle plane": lm63(h=(90, 150, 200, 270)),
    "full": lm63(h=(0, 90, 180, 270, 360)), "uneven": lm63(h=(0, 10, 15.5, 200, 360)),
    "few planes": lm63(h=(0, 100, 360)), "two planes": lm63(h=(0, 180, 360)),
    "up": lm63(v=(90, 135, 180)), "whole": lm63(v=(0, 90, 180)),
    "dark lower half": lm63(v=(0, 90, 180), candela="0 0 50 0 0 50 0 0 50"),
    "ramp past the horizontal": lm63(v=(0, 90, 100, 180), candela="50 40 0 0 " * 3),
    "type A": lm63(kind=3, v=(-90, 0, 90), h=(0, 90), candela="5 1 6 5 3 6"),
    "type B": lm63(kind=2, v=(-90, 0, 90), h=(-90, 0, 90), candela="9 9 9 1 2 3 7 7 7"),
    "lamps": lm63(lamps=2, lumens=700, watts=0),
    "Isym 0": eulumdat(), "Isym 1": eulumdat(isym=1), "Isym 2": eulumdat(isym=2),
    "Isym 3": eulumdat(isym=3, mc=12, dc=30), "Isym 4": eulumdat(isym=4),
    "ends at 80": eulumdat(gamma=(0, 40, 80), dg=40),
}  # fmt: skip


def parsed(text, name="a.ies"):
    return parse_photometry(text.encode() if isinstance(text, str) else text, name)


def same(a, b):
    assert b.candela_toward(RAYS) == pytest.approx(a.candela_toward(RAYS), rel=1e-6, abs=1e-6)
    assert b.lumens == pytest.approx(a.lumens, rel=1e-6)
    assert b.watts == pytest.approx(a.watts, rel=1e-6, nan_ok=True)
    assert (b.length_m, b.width_m, b.height_m) == pytest.approx(
        (a.length_m, a.width_m, a.height_m), rel=1e-6
    )
    assert b.lamp_lumens == pytest.approx(a.lamp_lumens, rel=1e-6, nan_ok=True)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_lm63_reads_back_alike(text):
    a = parsed(text)
    written = lm63_bytes(a)
    assert written.startswith(b"IES:LM-63-2019\r\n")
    assert max(len(line) for line in written.split(b"\r\n")) <= 256
    b = parsed(written)
    same(a, b)
    assert (a.native is None) == (b.native is None)
    # and what was read back is written the same
    assert lm63_bytes(b) == written


@pytest.mark.parametrize("text", [t for t in TEXTS.values() if parsed(t).native is None])
def test_eulumdat_reads_back_alike(text):
    a = parsed(text)
    b = parsed(eulumdat_bytes(a), "a.ldt")
    same(a, b)
    assert b.file_format == "EULUMDAT"
    assert not any("LORL" in note for note in b.notes)


@pytest.mark.parametrize("path", SHIPPED, ids=[p.stem for p in SHIPPED])
def test_shipped_optics_survive_both_formats(path):
    a = read_photometry(path)
    same(a, parsed(lm63_bytes(a)))
    same(a, parsed(eulumdat_bytes(a), "a.ldt"))


def test_the_smallest_set_of_planes_is_written():
    # 360 planes that are all alike need one
    text = lm63(h=tuple(range(0, 361, 5)), candela="9 5 1 " * 73)
    assert b" 3 1 1 2 " in lm63_bytes(parsed(text))
    washer = parsed(lm63(h=(90, 180, 270)))
    assert b"\r\n90 180 270\r\n" in lm63_bytes(washer)
    assert b"\r\n0 45 90\r\n" in lm63_bytes(washer)


def test_eulumdat_of_each_symmetry_says_its_isym():
    found = [eulumdat_bytes(parsed(eulumdat(isym=k, mc=8, dc=45))).split(b"\r\n")[2]
             for k in range(5)]  # fmt: skip
    assert found == [b"0", b"1", b"2", b"3", b"4"]


def test_words_and_tilt_table_are_kept():
    a = parsed(lm63(keywords=("[TEST] é " + "long " * 80, "a label", "[_OWN] x"),
                    tilt="TILT=INCLUDE\n2\n2\n0 90\n1 0.8"))  # fmt: skip
    b = parsed(lm63_bytes(a))
    for pair in (("TEST", a.keywords[0][1]), ("OTHER", "a label"), ("_OWN", "x")):
        assert pair in b.keywords
    for keyword in ("TESTLAB", "ISSUEDATE", "MANUFAC"):
        assert (keyword, "not stated") in b.keywords
    assert b.lamp_tilt.geometry == 2
    assert b.lamp_tilt.multipliers == (1, 0.8)
    assert np.rad2deg(b.lamp_tilt.angles_rad) == pytest.approx([0, 90])


@pytest.mark.parametrize(
    "size",
    ["-0.2 -0.2 0", "-0.1 -0.2 0", "-0.2 -0.2 0.3", "-0.2 -0.2 -0.2", "-0.1 0.5 -0.1",
     "0.5 -0.1 -0.1", "-0.2 0 -0.2", "0.1 0.2 0", "0.1 0.2 0.3", "0 0 0"],
)  # fmt: skip
def test_opening_shapes_are_kept(size):
    a = parsed(lm63(size=size))
    b = parsed(lm63_bytes(a))
    assert (b.opening_shape, b.round_opening) == (a.opening_shape, a.round_opening)
    assert (b.width_m, b.length_m, b.height_m) == (a.width_m, a.length_m, a.height_m)


def test_eulumdat_cannot_hold_type_b():
    with pytest.raises(InputError, match=r"type B; EULUMDAT holds type C only.*\.ies"):
        eulumdat_bytes(parsed(FILE_2))


def test_what_eulumdat_loses_is_said():
    a = parsed(lm63(tilt="TILT=INCLUDE\n1\n1\n0\n1", size="-0.2 -0.2 -0.2", keywords=("[_OWN] x",)))
    lost = " ".join(not_kept_in_eulumdat(a))
    for words in ("tilt", "sphere", "_OWN"):
        assert words in lost


@given(
    values=st.lists(st.integers(0, 99999), min_size=12, max_size=12).filter(any),
    h=st.sampled_from([(0, 90, 180), (90, 180, 270), (0, 45, 90), (0, 30, 360)]),
    v=st.sampled_from([(0, 20, 55, 90), (0, 90, 91, 180), (90, 95, 120, 180)]),
)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_table_reads_back_alike(values, h, v):
    values[::4] = [values[0]] * 3
    values[3::4] = [values[3]] * 3
    if h[-1] == 360:
        values[8:] = values[:4]
    if not any(values):
        return
    candela = " ".join(f"{value / 100}" for value in values)
    a = parsed(lm63(v=v, h=h, candela=candela))
    if a.lumens < 1e-3:
        return
    same(a, parsed(lm63_bytes(a)))
    same(a, parsed(eulumdat_bytes(a), "a.ldt"))
