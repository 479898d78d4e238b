"""Photometric files that must be refused: one line with the place, the fault, what is right."""

import os

import pytest

from rakelight.errors import InputError
from rakelight.read.numbers import LARGEST_FILE_BYTES
from rakelight.read.photometry import parse_photometry, read_photometry
from reference.photometric_texts import FILE_3, eulumdat, lm63

REFUSED = [
    # (what, text or bytes, name, pieces of the message)
    ("1 empty", b"", "a.ies", ("a.ies: the file is empty", "Give an LM-63")),
    ("1 blank", b"\r\n  \n", "a.ies", ("the file is empty",)),
    ("2 no TILT line", "IESNA:LM-63-2002\n[TEST] x\n", "a.ies",
     ("no line starts with TILT=", "Write TILT=NONE")),
    ("2 header of 1986 keywords", "[TEST] x\n[MANUFAC] y\n", "a.ies",
     ("no line starts with TILT=",)),
    ("2 nothing after TILT=", lm63(tilt="TILT="), "a.ies", ("TILT=", "Write TILT=NONE")),
    ("4 negative tilt count", lm63(tilt="TILT=INCLUDE\n1\n-2\n0\n1"), "a.ies",
     ("line 6", "TILT block, number of angles", "found -2", "whole number from 1")),
    ("4 fractional tilt count", lm63(tilt="TILT=INCLUDE\n1\n1.5\n0\n1"), "a.ies",
     ("line 6", "found 1.5")),
    ("5 too few candela", lm63(candela="500 110 120 500 111 121 500"), "a.ies",
     ("candela (3 planes x 3 angles)", "expected 9, found 7")),
    ("5 nothing after the angles", lm63(candela=""), "a.ies", ("expected 9, found 0",)),
    ("6 too many candela", lm63(candela="500 1 1 500 1 1 500 1 1 7"), "a.ies",
     ("candela", "expected 9", '"7" follows', "Check the counts")),
    ("7 vertical count 0", lm63(v_count=0), "a.ies", ("number of vertical angles", "found 0")),
    ("7 vertical count negative", lm63(v_count=-3), "a.ies", ("line 5", "found -3")),
    ("7 vertical count fractional", lm63(v_count=3.5), "a.ies", ("found 3.5", "whole number")),
    ("7 horizontal count 0", lm63(h_count=0), "a.ies", ("number of horizontal angles", "found 0")),
    ("7 count above the bound", lm63(v_count=1000000), "a.ies", ("from 1 to 20000",)),
    ("7 product above the bound", lm63(v_count=20000, h_count=20000), "a.ies",
     ("At most 5000000",)),
    ("8 angles fall", lm63(v=(0, 90, 45)), "a.ies", ("vertical angles", "90 is followed by 45")),
    ("8 angle repeated", lm63(h=(0, 90, 90, 180)), "a.ies",
     ("line 8, horizontal angles", "90 is followed by 90", "increasing order")),
    ("8 an angle that the end is put on", lm63(v=(-0.0005, 0, 90)), "a.ies",
     ("vertical angles", "0 is followed by 0")),
    ("9 vertical beyond 180", lm63(v=(0, 90, 190)), "a.ies", ("found 190", "0 to 180 deg")),
    ("9 vertical below 0", lm63(v=(-10, 0, 90)), "a.ies", ("found -10", "0 to 180 deg")),
    ("9 vertical beyond 90, type B", lm63(kind=2, v=(-90, 0, 100), h=(-90, 0, 90)), "a.ies",
     ("found 100", "Type B has -90 to 90")),
    ("10 vertical 30-90", lm63(v=(30, 45, 90)), "a.ies",
     ("they run from 30 to 90", "Type C allows 0-90, 90-180, 0-180")),
    ("10 vertical 0-80", lm63(v=(0, 45, 80)), "a.ies", ("they run from 0 to 80",)),
    ("10 a single vertical angle", lm63(v=(0,)), "a.ies", ("they run from 0 to 0",)),
    ("10 vertical -45 to 90, type A", lm63(kind=3, v=(-45, 0, 90), h=(-90, 0, 90)), "a.ies",
     ("Type A allows -90 to 90, 0-90",)),
    ("11 horizontal 0-270", lm63(h=(0, 90, 180, 270)), "a.ies",
     ("horizontal angles: they run from 0 to 270", "0 alone, 0-90, 0-180, 90-270 or 0-360")),
    ("11 horizontal 45-135", lm63(h=(45, 90, 135)), "a.ies", ("from 45 to 135",)),
    ("11 horizontal 0-45", lm63(h=(0, 45)), "a.ies", ("from 0 to 45",)),
    ("11 one plane, not 0", lm63(h=(90,)), "a.ies", ("from 90 to 90",)),
    ("11 type B 0-45", lm63(kind=2, v=(-90, 0, 90), h=(0, 45)), "a.ies",
     ("Type B allows -90 to 90 or 0-90",)),
    ("12 type 0", lm63(kind=0), "a.ies", ("photometric type: found 0", "Give 1 (type C)")),
    ("12 type 4", lm63(kind=4), "a.ies", ("photometric type: found 4",)),
    ("12 type 1.5", lm63(kind=1.5), "a.ies", ("photometric type: found 1.5",)),
    ("13 units 0", lm63(units=0), "a.ies", ("units: found 0", "1 (feet) or 2 (metres)")),
    ("13 units 3", lm63(units=3), "a.ies", ("units: found 3",)),
    ("14 NaN", lm63(candela="500 nan 120 500 111 121 500 112 122"), "a.ies",
     ('found "nan"', "not a finite number")),
    ("14 inf", lm63(multiplier="inf"), "a.ies", ("candela multiplier", 'found "inf"')),
    ("14 too large for a number", lm63(candela="1e400 1 1 1 1 1 1 1 1"), "a.ies",
     ('"1e400" is too large',)),
    ("14 product too large", lm63(multiplier="1e300", candela="1e300 1 1 1 1 1 1 1 1"), "a.ies",
     ("candela: too large",)),
    ("15 negative candela", lm63(candela="500 110 -1 500 111 121 500 112 122"), "a.ies",
     ("candela value 3", "found -1", "cannot be below 0")),
    ("16 multiplier 0", lm63(multiplier=0), "a.ies", ("candela multiplier: found 0", "above 0")),
    ("16 multiplier negative", lm63(multiplier=-2), "a.ies", ("candela multiplier: found -2",)),
    ("17 ballast factor negative", lm63(ballast=-1), "a.ies", ("ballast factor: found -1",)),
    ("18 lumens 0", lm63(lumens=0), "a.ies", ("lumens per lamp: found 0", "-1 for absolute")),
    ("18 lumens -2", lm63(lumens=-2), "a.ies", ("lumens per lamp: found -2",)),
    ("19 no light", lm63(candela="0 0 0 0 0 0 0 0 0"), "a.ies", ("candela: every value is 0",)),
    ("20 NUL bytes", lm63().encode() + b"\0\0", "a.ies", ("binary data",)),
    ("20 a PNG", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(64), "a.ies", ("binary data",)),
    ("20 a JPEG's start", b"\xff\xd8\xff\xe0\x01\x02\x03\x04\x05\x06JFIF", "a.ies",
     ("binary data",)),
    ("20 UTF-16", lm63().encode("utf-16"), "a.ies", ("UTF-16", "Save it as UTF-8")),
    ("21 letters among the numbers", lm63(candela="500 110 12O\n500 111 121 500 112 122"),
     "a.ies", ("line 9", 'found "12O"')),
    ("21 letters among the counts", lm63(lamps="one"), "a.ies",
     ("line 5, number of lamps", 'found "one"')),
    ("22 candela beyond belief", lm63(multiplier=1e8), "a.ies", ("at most 1e+09 cd", "multiplier")),
    ("22 flux beyond belief", lm63(multiplier=1e6), "a.ies", ("1e+08 lm are believed",)),
    ("23 opening of 40 m", lm63(size="0.05 40 0"), "a.ies",
     ("luminous opening: 40 m", "at most 30 m", "feet 1, metres 2")),
    ("23 EULUMDAT area of 40 m", eulumdat(sizes=(1200, 60, 80, 40000, 40)), "a.ldt",
     ("line 16, length of the luminous area", "found 40000 mm")),
    ("24 too large a file", b" " * LARGEST_FILE_BYTES + b"1", "a.ies",
     ("50 MB; a photometric file has at most 50 MB",)),
    ("25 cut EULUMDAT", FILE_3[: FILE_3.index("300,5")], "a.ldt",
     ("intensity", "expected 20 lines, found 13", "was the file cut?")),
    ("26 Isym 5", eulumdat(isym=5), "a.ldt", ("line 3, symmetry Isym: found 5", "from 0 to 4")),
    ("26 Isym 3 with Mc 6", eulumdat(isym=3, mc=6, dc=60), "a.ldt",
     ("line 4, number of C planes Mc: found 6", "Isym 3 needs a multiple of 4")),
    ("26 Isym 2 with Mc 5", eulumdat(isym=2, mc=5, dc=72), "a.ldt", ("a multiple of 2",)),
    ("27 angles not in line", eulumdat(c=(0, 90.2, 180, 270)), "a.ldt",
     ("C angles 2", "found 90.2", "Dc = 90 asks for 90", "within 0.1")),
    ("28 no lamp sets", eulumdat(set_count=0), "a.ldt", ("line 26, number of lamp sets: found 0",)),
    ("28 21 lamp sets", eulumdat(set_count=21), "a.ldt", ("found 21", "from 1 to 20")),
    ("28 no lumens", eulumdat(sets=((1, 0, 20),)), "a.ldt",
     ("line 29, total lumens of the lamps: found 0",)),
    ("28 no lamps", eulumdat(sets=((0, 1000, 20),)), "a.ldt",
     ("line 27, number of lamps: found 0",)),
    ("29 Isym not whole", eulumdat(isym="2.5"), "a.ldt", ("line 3, symmetry Isym: found 2.5",)),
    ("29 angles do not increase", eulumdat(dc=0, c=(0, 90, 80, 270)), "a.ldt",
     ("90 is followed by 80", "is a line missing")),
    ("29 gamma does not increase", eulumdat(dg=0, gamma=(0, 45, 45)), "a.ldt",
     ("gamma angles: 45 is followed by 45",)),
    ("29 one line too many", eulumdat() + "7\r\n", "a.ldt", ('"7" follows the last',)),
    ("31 a letter", "Dear reader,\nhere is no file.\nBye\n", "a.ies",
     ("neither LM-63", "nor EULUMDAT", '"here is no file."')),
    ("31 a table", "a,b\n1,2\n3,4\n", "a.ldt", ("neither LM-63", "nor EULUMDAT")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "name", "pieces"),
    [case[1:] for case in REFUSED],
    ids=[case[0] for case in REFUSED],
)
def test_input_is_refused_in_one_line(text, name, pieces):
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(InputError) as caught:
        parse_photometry(data, name)
    message = str(caught.value)
    assert message.startswith(f"{name}: ")
    assert "\n" not in message
    for piece in pieces:
        assert piece in message


def test_every_listed_input_has_a_case():
    # 3 and 30 need files and stand below
    assert {int(case[0].split()[0]) for case in REFUSED} | {3, 30} == set(range(1, 32))


def refusal(path, folder=None):
    with pytest.raises(InputError) as caught:
        read_photometry(path, folder)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_tilt_file_that_is_missing(tmp_path):
    path = tmp_path / "a.ies"
    path.write_text(lm63(tilt="TILT=lamp.tlt"))
    message = refusal(path)
    assert 'a.ies: TILT="lamp.tlt": no such file' in message
    assert "TILT=NONE" in message


@pytest.mark.parametrize("name", ["../outside.tlt", "..\\outside.tlt", "/etc/hostname"])
def test_tilt_file_outside_the_folder(tmp_path, name):
    (tmp_path / "outside.tlt").write_text("1\n1\n0\n1\n")
    inside = tmp_path / "scene"
    inside.mkdir()
    path = inside / "a.ies"
    path.write_text(lm63(tilt=f"TILT={name}"))
    assert "outside the folder" in refusal(path)
    assert "outside the folder" in refusal(path, inside)
    if not name.startswith("/"):  # the scene's folder holds it
        assert read_photometry(path, tmp_path).lamp_tilt is not None


def test_tilt_file_by_a_link_out_of_the_folder(tmp_path):
    (tmp_path / "outside.tlt").write_text("1\n1\n0\n1\n")
    inside = tmp_path / "scene"
    inside.mkdir()
    (inside / "lamp.tlt").symlink_to(tmp_path / "outside.tlt")
    path = inside / "a.ies"
    path.write_text(lm63(tilt="TILT=lamp.tlt"))
    assert "outside the folder" in refusal(path)


def test_faulty_tilt_file_is_named(tmp_path):
    (tmp_path / "lamp.tlt").write_text("1\n2\n0 90\n1\n")
    path = tmp_path / "a.ies"
    path.write_text(lm63(tilt="TILT=lamp.tlt"))
    message = refusal(path)
    assert 'tilt file "lamp.tlt"' in message
    assert "expected 2, found 1" in message


def test_tilt_file_name_with_a_nul(tmp_path):
    path = tmp_path / "a.ies"
    path.write_text(lm63(tilt="TILT=" + "x" * 5000))
    assert "TILT=" in refusal(path)


def test_without_files_a_named_tilt_is_refused():
    with pytest.raises(InputError, match=r"names another file"):
        parse_photometry(lm63(tilt="TILT=lamp.tlt").encode(), "a.ies")


def test_folder_device_missing_and_unreadable(tmp_path):
    assert "a folder, not a file" in refusal(tmp_path)
    assert "no such file" in refusal(tmp_path / "none.ies")
    pipe = tmp_path / "pipe.ies"
    os.mkfifo(pipe)
    assert "a device or pipe" in refusal(pipe)
    loop = tmp_path / "loop.ies"
    loop.symlink_to(loop)
    assert "loop.ies" in refusal(loop)


def test_path_that_may_not_be_read(tmp_path, monkeypatch):
    path = tmp_path / "a.ies"
    path.write_text(lm63())

    def denied(*args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", denied)
    assert "a.ies: cannot be read (Permission denied)" in refusal(path)


FILE_3_LINES = FILE_3.split("\r\n")[:-1]


@pytest.mark.parametrize("line", range(1, len(FILE_3_LINES) + 1))
def test_eulumdat_file_with_any_one_line_missing(line):
    lines = FILE_3_LINES[: line - 1] + FILE_3_LINES[line:]
    with pytest.raises(InputError):
        parse_photometry("\r\n".join(lines).encode(), "a.ldt")


@pytest.mark.parametrize("end", range(0, len(lm63()) - 3, 7))
def test_lm63_file_cut_anywhere(end):
    with pytest.raises(InputError):
        parse_photometry(lm63()[:end].encode(), "a.ies")
