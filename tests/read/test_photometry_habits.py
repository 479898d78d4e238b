"""Odd but legal habits of strangers' photometric files: each reads like the plain file."""

import numpy as np
import pytest

from rakelight.errors import InputError
from rakelight.read.photometry import read_photometry
from reference.photometric_texts import eulumdat

HEAD = "IESNA:LM-63-2002\n[TEST] T1\n[TESTLAB] x\n[ISSUEDATE] 1\n[MANUFAC] y\n"
NUMBERS = "1 -1 1 3 1 1 2 0.1 1.2 0\n1 1 20\n0 45 90\n0\n100 80 0\n"
PLAIN = HEAD + "TILT=NONE\n" + NUMBERS
LDT = eulumdat().replace("\r\n", "\n")


def edited(text, old, new):
    assert old in text
    return text.replace(old, new)


def as_lines(text):
    return text.splitlines()


LM63 = {
    "keywords and TILT in lower case": HEAD.lower() + "tilt=none\n" + NUMBERS,
    "tabs": HEAD + "TILT=NONE\n" + NUMBERS.replace(" ", "\t"),
    "commas with blanks": HEAD + "TILT=NONE\n" + NUMBERS.replace(" ", " , "),
    "end-of-file mark of old systems": PLAIN + "\x1a",
    "words after the numbers": PLAIN + "END OF FILE\n",
    "byte-order mark": "\ufeff" + PLAIN,
    "CR LF": PLAIN.replace("\n", "\r\n"),
    "CR alone": PLAIN.replace("\n", "\r"),
    "CR CR LF": PLAIN.replace("\n", "\r\r\n"),
    "all numbers on one line": HEAD + "TILT=NONE\n" + NUMBERS.replace("\n", " "),
    "one number a line": HEAD + "TILT=NONE\n" + NUMBERS.replace(" ", "\n"),
    "Fortran's exponents": edited(PLAIN, "100 80 0", "1.0D+02 8.0d1 0.D0"),
    "signs and bare points": edited(PLAIN, "100 80 0", "+1E2 80. -.0"),
    "whole numbers with points": edited(PLAIN, "1 -1 1 3 1 1 2", "1. -1. 1.0 3.0 1. 1.0 2."),
    "keyword without a value, MORE after it": HEAD + "[OTHER]\n[MORE]\nTILT=NONE\n" + NUMBERS,
    "MORE before any keyword": edited(PLAIN, "[TEST] T1", "[MORE] abc"),
    "keywords of one's own": HEAD + "[_OWN] 1\n[own two] \nTILT=NONE\n" + NUMBERS,
    "blank lines anywhere": "\n\n" + HEAD + "\n\nTILT=NONE\n\n\n" + NUMBERS + "\n\n",
    "indented TILT with blanks": HEAD + "   TILT = NONE  \n" + NUMBERS,
    "words after TILT=NONE": HEAD + "TILT=NONE   no tilt\n" + NUMBERS,
    "TILT= within a keyword": HEAD + "[OTHER] TILT=NONE was meant\nTILT=NONE\n" + NUMBERS,
    "a line of 100,000 characters": HEAD + "[OTHER] " + "x" * 100_000 + "\nTILT=NONE\n" + NUMBERS,
    "no first line": "TILT=NONE\n" + NUMBERS,
    "labels of 1986": "Some maker\nSome type, 1985\nTILT=NONE\n" + NUMBERS,
    "no line end after the last number": PLAIN.rstrip(),
    "negative zeros among the angles": edited(PLAIN, "0 45 90\n0\n", "-0.0 45 90\n-0\n"),
    "a last angle a hair off": edited(PLAIN, "0 45 90\n", "0 45 90.0004\n"),
    "blocks": HEAD + "[BLOCK]\n[LUMCAT] 2\n[ENDBLOCK]\nTILT=NONE\n" + NUMBERS,
    "a no-break space between numbers": edited(PLAIN, "100 80", "100\xa080"),
    "361 planes": edited(PLAIN, " 3 1 1 2", " 3 361 1 2").replace(
        "\n0\n100 80 0\n", "\n" + " ".join(map(str, range(361))) + "\n" + "100 80 0\n" * 361
    ),
    "C 0 to 180 and gamma to 90": edited(PLAIN, " 3 1 1 2", " 3 3 1 2").replace(
        "\n0\n100 80 0\n", "\n0 90 180\n" + "100 80 0\n" * 3
    ),
}  # fmt: skip


@pytest.mark.parametrize("habit", LM63)
def test_a_habit_of_lm63_reads_like_the_plain_file(tmp_path, habit):
    (tmp_path / "plain.ies").write_text(PLAIN)
    (tmp_path / "odd.ies").write_bytes(LM63[habit].encode("utf-8"))
    plain, odd = read_photometry(tmp_path / "plain.ies"), read_photometry(tmp_path / "odd.ies")
    assert odd.lumens == pytest.approx(plain.lumens, rel=1e-9)
    np.testing.assert_allclose(odd.candela.max(), plain.candela.max(), rtol=1e-12)
    assert (odd.width_m, odd.length_m, odd.watts) == (plain.width_m, plain.length_m, 20)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("1 -1 1 3", "1 -1 0 3", "candela multiplier: found 0. Give a number above 0"),
        ("1 1 20", "0 1 20", "ballast factor: found 0. Give a number above 0"),
        ("0.1 1.2 0", "0,1 1,2 0", "Decimal commas part numbers here: write points."),
        ("100 80 0", "1'000 80 0", 'found "1\'000", which is not a finite number'),
        ("100 80 0", "100; 80; 0", 'found "100;", which is not a finite number'),
        ("1 -1 1 3", "1 0 1 3", "Give the rated lumens, or -1 for absolute photometry"),
        ("0 45 90\n", "90 45 0\n", "Give each angle once, in increasing order."),
        ("0 45 90\n", "0 45 85\n", "Type C allows 0-90, 90-180, 0-180 deg."),
    ],
)
def test_what_cannot_be_told_is_refused_with_a_remedy(tmp_path, old, new, says):
    (tmp_path / "odd.ies").write_text(edited(PLAIN, old, new))
    with pytest.raises(InputError) as caught:
        read_photometry(tmp_path / "odd.ies")
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_negative_sizes_are_round(tmp_path):
    (tmp_path / "round.ies").write_text(edited(PLAIN, "0.1 1.2 0", "-0.1 -0.1 0"))
    assert read_photometry(tmp_path / "round.ies").round_opening


EULUMDAT = {
    "CR CR LF": LDT.replace("\n", "\r\r\n"),
    "CR alone": LDT.replace("\n", "\r"),
    "indented, with tabs": "\n".join(f"  {line}\t" for line in as_lines(LDT)),
    "decimal commas throughout": "\n".join(
        [as_lines(LDT)[0], *(line.replace(".", ",") for line in as_lines(LDT)[1:])]
    ),
    "end-of-file mark of old systems": LDT + "\x1a",
    "byte-order mark": "\ufeff" + LDT,
    "words after the intensities": LDT + "made by hand\n",
    "no line end after the last": LDT.rstrip(),
    "many blank lines after the last": LDT + "\n" * 40,
    "Fortran's exponents": "\n".join(
        "1.0D+00" if k == 23 else line for k, line in enumerate(as_lines(LDT))
    ),
}


@pytest.mark.parametrize("habit", EULUMDAT)
def test_a_habit_of_eulumdat_reads_like_the_plain_file(tmp_path, habit):
    (tmp_path / "plain.ldt").write_text(LDT)
    (tmp_path / "odd.ies").write_bytes(EULUMDAT[habit].encode("utf-8"))
    plain, odd = read_photometry(tmp_path / "plain.ldt"), read_photometry(tmp_path / "odd.ies")
    np.testing.assert_allclose(odd.candela, plain.candela, rtol=1e-12)
    assert (odd.width_m, odd.length_m, odd.watts) == (plain.width_m, plain.length_m, plain.watts)
