"""Photometric files that must be read: the hand-made three, and every variant in use."""

import time

import numpy as np
import pytest

from rakelight.read.photometry import parse_photometry, read_photometry
from rakelight.scene.intensity import peak, throw_azimuth, toward
from reference.photometric_texts import FILE_1, FILE_2, FILE_3, eulumdat, lm63, planes, row


def parsed(text, name="file.ies"):
    return parse_photometry(text.encode() if isinstance(text, str) else text, name)


def cd(intensity, c_deg, gamma_deg):
    return float(intensity.candela_toward(toward(np.deg2rad(c_deg), np.deg2rad(gamma_deg))))


def noted(intensity, words):
    return any(words in note for note in intensity.notes)


# Three files made by hand (invented data); results computed once by the closed form for
# intensities linear between the angles, outside this code.


def test_hand_made_file_with_a_mirror_about_c0():
    i = parsed(FILE_1)
    assert i.lumens == pytest.approx(1741.263, rel=1e-6)
    top = peak(i)
    assert (top.candela, np.rad2deg(top.c_rad), np.rad2deg(top.gamma_rad)) == (
        pytest.approx((1350, 0, 30))
    )
    assert cd(i, 22.5, 15) == pytest.approx(900, rel=1e-9)
    assert cd(i, 300, 45) == pytest.approx(557.5, rel=1e-9)
    assert cd(i, 60, 45) == pytest.approx(557.5, rel=1e-9)
    assert (i.watts, i.width_m, i.length_m) == (20, 1.2, 0.05)
    assert i.absolute
    assert noted(i, "longer side lies along C90-C270")


def test_hand_made_file_of_type_b():
    i = parsed(FILE_2)
    assert i.lumens == pytest.approx(1731.838, rel=1e-6)
    top = peak(i)
    assert (top.candela, top.gamma_rad) == (pytest.approx(720), pytest.approx(0, abs=1e-12))
    for h in (-22.5, 22.5):
        direction = i.native.toward(np.deg2rad(h), 0.0)
        assert float(i.candela_toward(direction)) == pytest.approx(562.5, rel=1e-9)
    assert i.lamp_tilt.geometry == 1
    assert np.rad2deg(i.lamp_tilt.angles_rad) == pytest.approx([0, 45, 90])
    assert i.lamp_tilt.multipliers == (1, 0.97, 0.93)
    assert noted(i, "read, not applied")
    assert (i.width_m, i.length_m) == pytest.approx((0.1524, 0.6096), rel=1e-12)
    assert i.lamp_lumens == 1000


def test_hand_made_eulumdat_file():
    i = parsed(FILE_3, "rk3.ldt")
    assert i.lumens == pytest.approx(2091.091, rel=1e-6)
    top = peak(i)
    assert (top.candela, np.rad2deg(top.c_rad), np.rad2deg(top.gamma_rad)) == (
        pytest.approx((1020, 90, 30))
    )
    assert cd(i, 45, 30) == pytest.approx(901.5, rel=1e-9)
    assert cd(i, 135, 30) == pytest.approx(901.5, rel=1e-9)
    assert cd(i, 225, 60) == pytest.approx(180, rel=1e-9)
    assert not noted(i, "LORL")
    # length of 280 mm along C90, as EULUMDAT has it
    assert (i.width_m, i.length_m, i.height_m) == pytest.approx((0.28, 0.1, 0))


FULL = (0, 90, 180, 270, 360)
BASE = parsed(lm63())


def same_light(i, other=BASE):
    return np.array_equal(i.candela, other.candela) and np.array_equal(i.c_rad, other.c_rad)


def crowded(text):
    """All numbers after TILT=NONE on one line."""
    head, numbers = text.split("TILT=NONE\n")
    return head + "TILT=NONE\n" + " ".join(numbers.split())


def sprawling(text):
    """One number a line."""
    head, numbers = text.split("TILT=NONE\n")
    return head + "TILT=NONE\n" + "\n".join(numbers.split())


ACCEPTED = [
    # (what, text or bytes, name, check, words of the note that must come or None)
    ("1 no keywords, 1986", lm63(first="", keywords=()), "a.ies", same_light, None),
    ("2 labels like numbers", lm63(first="", keywords=("12 34 5", "1 1000 1 3 3")), "a.ies",
     same_light, None),
    ("3 lower case", lm63(tilt="  tilt = none "), "a.ies", same_light, "should read TILT=NONE"),
    ("4 CR", lm63().replace("\n", "\r"), "a.ies", same_light, None),
    ("4 CR LF", lm63().replace("\n", "\r\n"), "a.ies", same_light, None),
    ("4 mixed", lm63().replace("\n", "\r\n", 3).replace("180\n", "180\r"), "a.ies",
     same_light, None),
    ("4 no final newline", lm63(tail=""), "a.ies", same_light, None),
    ("5 commas", lm63(candela="500, 110, 120, 500,111,121 500 ,112 ,122"), "a.ies",
     same_light, None),
    ("5 tabs", lm63(candela="500\t110\t120\t500\t111\t121\t500\t112\t122"), "a.ies",
     same_light, None),
    ("5 double commas", lm63(candela="500,,110, ,120 500 111 121 500 112 122"), "a.ies",
     same_light, "two commas side by side"),
    ("6 one a line", sprawling(lm63()), "a.ies", same_light, None),
    ("6 all on one line", crowded(lm63()), "a.ies", same_light, None),
    ("7 ways to write numbers", lm63(lamps="+1.", candela="5e2 1.1E+2 120. +500 111 .121e3"
     " 500 112 122.0"), "a.ies", same_light, None),
    ("8 byte-order mark", b"\xef\xbb\xbf" + lm63(keywords=("[TEST] é",)).encode(), "a.ies",
     lambda i: same_light(i) and i.keywords == (("TEST", "é"),), None),
    ("8 Latin-1", lm63(keywords=("[TEST] \xe9t\xe9",)).encode("latin-1"), "a.ies",
     lambda i: same_light(i) and i.keywords == (("TEST", "été"),), None),
    ("9 one tilt angle", lm63(tilt="TILT=INCLUDE\n1\n1\n0\n1"), "a.ies",
     lambda i: same_light(i) and i.lamp_tilt.multipliers == (1,), "read, not applied"),
    ("11 absolute", lm63(), "a.ies", lambda i: i.absolute, None),
    ("11 several lamps", lm63(lamps=2, lumens=1500), "a.ies",
     lambda i: i.lamp_lumens == 3000 and same_light(i), None),
    ("12 multiplier and ballast factor", lm63(multiplier=2, ballast=0.5), "a.ies",
     same_light, None),
    ("12 factor of 1991", lm63(first="IESNA91", multiplier=4, ballast=0.5, future=0.5), "a.ies",
     same_light, "factor 0.5 was applied"),
    ("12 future use is no factor", lm63(future=0.5), "a.ies", same_light, None),
    ("12 nor in 1995", lm63(first="IESNA:LM-63-1995", future=0.5), "a.ies", same_light, None),
    ("13 one plane", lm63(h=(0,)), "a.ies",
     lambda i: [cd(i, 0, 45), cd(i, 123, 45)] == pytest.approx([110, 110])
     and i.symmetry.startswith("rotational"), None),
    ("14 quadrants", lm63(h=(0, 90)), "a.ies",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 110, 111, 110])
     and cd(i, 200, 45) == pytest.approx(110 + 20 / 90), None),
    ("15 half, 0-180", lm63(), "a.ies",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 112, 111, 110]), None),
    ("16 half, 90-270", lm63(h=(90, 180, 270)), "a.ies",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([111, 110, 111, 112, 111]), None),
    ("16 half without its middle plane", lm63(h=(90, 150, 200, 270)), "a.ies",
     # C0 is between C330 and C20+... mirrored from 150 and 200: linear in the file's angles
     lambda i: cd(i, 0, 45) == pytest.approx(cd(i, 180, 45))
     == pytest.approx(111 + 30 / 50), None),
    ("17 full circle", lm63(h=FULL), "a.ies",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 112, 113, 110]), None),
    ("17 without its closing plane", lm63(h=tuple(range(0, 360, 15))), "a.ies",
     lambda i: cd(i, 352.5, 45) == pytest.approx((133 + 110) / 2), "C360 was added"),
    ("18 one plane, lower half", lm63(h=(0,)), "a.ies",
     lambda i: cd(i, 10, 90) == pytest.approx(120)
     and cd(i, 10, 90.001) == cd(i, 10, 135) == 0, None),
    ("19 up-light", lm63(v=(90, 135, 180)), "a.ies",
     lambda i: cd(i, 0, 89.999) == 0 and cd(i, 0, 90) == 100 and cd(i, 0, 180) == 50, None),
    ("20 uneven steps", lm63(v=(0, 2.5, 10, 45, 90), h=(0, 10, 22.5, 180)), "a.ies",
     lambda i: cd(i, 10, 2.5) == pytest.approx(111)
     and cd(i, 5, 6.25) == pytest.approx(115.5), None),
    ("21 type B", lm63(kind=2, v=(-90, 0, 90), h=(-90, 0, 90), candela="9 9 9 1 2 3 7 7 7"),
     "a.ies", lambda i: float(i.candela_toward(np.array([0.0, 0, -1]))) == 2
     and float(i.candela_toward(np.array([0.0, -1, 0]))) == pytest.approx(7), None),
    ("21 type B, quarter", lm63(kind=2, v=(0, 90), h=(0, 90), candela="8 4 2 2"), "a.ies",
     lambda i: float(i.candela_toward(np.array([-1.0, 0, 0]))) == pytest.approx(4),
     "mirror image"),
    ("22 type A", lm63(kind=3, v=(-90, 0, 90), h=(-90, 0, 90), candela="5 1 6 5 2 6 5 3 6"),
     "a.ies", lambda i: float(i.candela_toward(np.array([0.0, 0, -1]))) == pytest.approx(5)
     and float(i.candela_toward(np.array([1.0, 0, 0]))) == pytest.approx(2)
     and float(i.candela_toward(np.array([-1.0, 0, 0]))) == 0, None),
    ("23 feet", lm63(units=1, size="0.5 4 0.25"), "a.ies",
     lambda i: (i.width_m, i.length_m, i.height_m) == pytest.approx((0.1524, 1.2192, 0.0762)),
     None),
    ("23 metres", lm63(), "a.ies", lambda i: (i.width_m, i.length_m) == (0.05, 1.2), None),
    ("25 a point", lm63(size="0 0 0"), "a.ies",
     lambda i: i.long_side_m == 0 and i.opening_shape == "point", "is a point"),
    ("26 watts 0", lm63(watts=0), "a.ies", lambda i: np.isnan(i.watts), "0 W"),
    ("27 text at the end", lm63(tail="\nEND OF FILE\n"), "a.ies", same_light,
     "text after the last candela"),
    ("27 blanks at the end", lm63(tail="\n\n   \n"), "a.ies", same_light, "blanks after"),
    ("28 a dark plane", lm63(candela="500 110 120 500 0 0 500 112 122"), "a.ies",
     lambda i: cd(i, 90, 45) == 0 and cd(i, 45, 45) == pytest.approx(55), None),
    ("30 Isym 0", eulumdat(), "a.ldt",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 112, 113, 110]), None),
    ("30 Isym 1", eulumdat(isym=1), "a.ldt", lambda i: cd(i, 77, 45) == pytest.approx(110), None),
    ("30 Isym 2", eulumdat(isym=2), "a.ldt",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 112, 111, 110]), None),
    ("30 Isym 3", eulumdat(isym=3), "a.ldt",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([111, 112, 111, 110, 111]), None),
    ("30 Isym 4", eulumdat(isym=4), "a.ldt",
     lambda i: [cd(i, c, 45) for c in FULL] == pytest.approx([110, 111, 110, 111, 110]), None),
    ("31 decimal commas, blanks, blank names",
     eulumdat(intensities=[f"{v},5  " for v in range(12)], names=("",) * 5), "a.ldt",
     lambda i: cd(i, 90, 45) == pytest.approx(4.5), None),
    ("32 two lamp sets", eulumdat(sets=((1, 2000, 30), (1, 4000, 60))), "a.ldt",
     lambda i: i.lamp_lumens == 2000 and i.watts == 30 and cd(i, 0, 45) == pytest.approx(220),
     "the first was used"),
    ("32 conversion factor", eulumdat(conversion="2,5"), "a.ldt",
     lambda i: cd(i, 0, 45) == pytest.approx(275), None),
    ("33 uneven angles", eulumdat(dc=0, c=(0, 10, 180, 350), dg=0, gamma=(0, 10, 90)), "a.ldt",
     lambda i: cd(i, 355, 10) == pytest.approx((113 + 110) / 2), None),
    ("34 gamma to 90", eulumdat(), "a.ldt",
     lambda i: cd(i, 0, 90) == pytest.approx(120) and cd(i, 0, 91) == 0, None),
    ("34 gamma to 180", eulumdat(gamma=(0, 90, 180), dg=90), "a.ldt",
     lambda i: cd(i, 0, 180) == pytest.approx(50), None),
    ("35 Isym 1, Mc 1", eulumdat(isym=1, mc=1, dc=0), "a.ldt",
     lambda i: cd(i, 300, 45) == pytest.approx(110), None),
    ("35 Isym 1, Mc 24", eulumdat(isym=1, mc=24, dc=15), "a.ldt",
     lambda i: cd(i, 300, 45) == pytest.approx(110), None),
    ("36 LM-63 named .ldt", lm63(), "a.ldt", same_light, "read by content"),
    ("36 EULUMDAT named .ies", eulumdat(), "a.ies", lambda i: i.file_format == "EULUMDAT",
     "read by content"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "name", "check", "note"),
    [case[1:] for case in ACCEPTED],
    ids=[case[0] for case in ACCEPTED],
)
def test_variant_is_read(text, name, check, note):
    i = parsed(text, name)
    assert check(i)
    if note is not None:
        assert noted(i, note), i.notes
    assert i.lumens > 0


def test_every_listed_variant_has_a_case():
    # 10, 24 and 29 stand below, on their own
    numbered = {int(case[0].split()[0]) for case in ACCEPTED} | {10, 24, 29}
    assert numbered == set(range(1, 37))


def test_tilt_file_beside_the_file_in_any_letter_case(tmp_path):
    (tmp_path / "LAMP.TLT").write_text("2\n2\n0 90\n1 0.8\n")
    path = tmp_path / "a.ies"
    path.write_text(lm63(tilt="TILT=lamp.tlt"))
    i = read_photometry(path)
    assert i.lamp_tilt.geometry == 2
    assert i.lamp_tilt.multipliers == (1, 0.8)
    assert same_light(i)


@pytest.mark.parametrize(
    ("edition", "size", "shape", "magnitudes"),
    [
        # width, length, height; ANSI/IES LM-63-2002 and 2019
        ("IES:LM-63-2019", "-0.2 -0.2 0", "circle", (0.2, 0.2, 0)),
        ("IES:LM-63-2019", "-0.1 -0.2 0", "ellipse", (0.1, 0.2, 0)),
        ("IESNA:LM-63-2002", "-0.2 -0.2 0.3", "vertical cylinder", (0.2, 0.2, 0.3)),
        ("IESNA:LM-63-2002", "-0.2 -0.2 -0.2", "sphere", (0.2, 0.2, 0.2)),
        ("IESNA:LM-63-2002", "-0.1 -0.2 -0.3", "ellipsoid", (0.1, 0.2, 0.3)),
        ("IESNA:LM-63-2002", "-0.1 0.5 -0.1", "horizontal cylinder along C0", (0.1, 0.5, 0.1)),
        ("IESNA:LM-63-2002", "0.5 -0.1 -0.1", "horizontal cylinder along C90", (0.5, 0.1, 0.1)),
        ("IESNA:LM-63-2002", "-0.2 0 -0.2", "vertical circle", (0.2, 0, 0.2)),
        # 1986 to 1995, from memory
        ("IESNA91", "-0.2 0 0", "circle", (0.2, 0.2, 0)),
        ("IESNA:LM-63-1995", "-0.1 0.2 0", "ellipse", (0.1, 0.2, 0)),
        ("", "-0.2 0 0.3", "vertical cylinder", (0.2, 0.2, 0.3)),
        ("IESNA91", "-0.2 0 -0.2", "sphere", (0.2, 0.2, 0.2)),
        ("IESNA91", "0 0.5 -0.1", "horizontal cylinder along C0", (0.1, 0.5, 0.1)),
        ("IESNA91", "0.5 0 -0.1", "horizontal cylinder along C90", (0.5, 0.1, 0.1)),
    ],
)
def test_round_openings_by_the_editions_sign_code(edition, size, shape, magnitudes):
    i = parsed(lm63(first=edition, size=size))
    assert i.opening_shape == shape
    assert i.round_opening
    assert (i.width_m, i.length_m, i.height_m) == magnitudes
    assert not noted(i, "not in the table")


@pytest.mark.parametrize(
    ("size", "shape"),
    [("0.1 0.2 0", "rectangle"), ("0.1 0.2 0.3", "box with luminous sides"), ("0 1 0", "line")],
)
def test_straight_openings(size, shape):
    i = parsed(lm63(size=size))
    assert (i.opening_shape, i.round_opening) == (shape, False)


def test_signs_of_another_edition_are_said():
    i = parsed(lm63(first="IESNA:LM-63-2002", size="-0.2 0 0"))
    assert i.opening_shape == "circle"
    assert noted(i, "not in the table of LM-63-2002")


def test_large_file_is_read_in_a_third_of_a_second():
    v, h = [2.5 * k for k in range(73)], list(range(361))
    text = lm63(v=v, h=h, candela="\n".join(row(p) for p in planes(v, h))).encode()
    times = []
    for _ in range(3):
        start = time.process_time()
        i = parse_photometry(text, "large.ies")
        times.append(time.process_time() - start)
    assert i.candela.shape == (361, 73)
    assert min(times) <= 0.3


def test_poles_hold_one_value_that_keeps_the_flux():
    uneven = lm63(candela="400 110 120 500 111 121 600 112 122")
    i = parsed(uneven)
    assert noted(i, "at gamma 0 the C planes differ")
    assert np.ptp(i.candela[:, 0]) == 0
    assert [cd(i, 0, 0), cd(i, 200, 0)] == pytest.approx([500, 500])


def test_keywords_are_kept_and_more_continues_the_last():
    i = parsed(lm63(keywords=("[TEST] a", "[MORE] b", "plain label", "[_OWN] x", "[LAMP]")))
    assert i.keywords == (("TEST", "a b"), ("", "plain label"), ("_OWN", "x"), ("LAMP", ""))


@pytest.mark.parametrize(
    ("first", "edition"),
    [("IESNA91", 1991), ("IESNA:LM-63-95", 1995), ("iesna:lm-63-2002", 2002),
     ("IES:LM-63-2019", 2019), ("IES 17 report of 1984", 1986), ("IESNA86", 1986), ("", 1986)],
)  # fmt: skip
def test_edition_by_the_first_line(first, edition):
    assert parsed(lm63(first=first)).file_format == f"LM-63-{edition}"


def test_eulumdat_whose_company_begins_with_ies_is_not_lm63():
    assert parsed(eulumdat().replace("invented", "IES:LM-63 works", 1)).file_format == "EULUMDAT"


def test_end_angles_are_put_on_their_place():
    i = parsed(lm63(v=(0.0004, 45, 89.9996), h=(0, 90.2, 179.9999)))
    assert i.gamma_rad[0] == 0
    assert cd(i, 180, 45) == pytest.approx(112)


def test_unknown_edition_is_read_and_said():
    i = parsed(lm63(first="IES:LM-63-2031"))
    assert noted(i, "is not known")


def test_lorl_that_does_not_match_is_said():
    assert noted(parsed(eulumdat(lorl=33), "a.ldt"), "LORL says 33")


def test_throw_along_the_longer_side_is_said():
    i = parsed(lm63(h=(0, 90, 180), size="0.05 1.2 0", candela="0 900 100 0 100 10 0 0 0"))
    assert np.rad2deg(throw_azimuth(i)) == pytest.approx(0, abs=1e-6)
    assert noted(i, "turned by 90 deg")


def test_linear_washer_by_the_rule_has_no_such_note():
    i = parsed(lm63(h=(90, 180, 270), candela="0 900 100 0 100 10 0 0 0"))
    assert np.rad2deg(throw_azimuth(i)) == pytest.approx(90)
    assert i.notes == ()
