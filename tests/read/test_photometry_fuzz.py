"""Any bytes give a valid distribution or a worded refusal; valid files agree with a second reader.

The long run, 200,000 inputs, stops at the first surprise and prints it:

    python tests/read/test_photometry_fuzz.py 200000
"""

import random
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from rakelight.errors import InputError
from rakelight.read.photometry import LARGEST_CANDELA, parse_photometry
from rakelight.scene.intensity import peak, throw_azimuth, toward
from rakelight.tell.lm63 import lm63_bytes
from reference.photometric_texts import FILE_1, FILE_2, FILE_3, eulumdat, lm63, row
from reference.plain_photometry import read_plain_eulumdat, read_plain_lm63

SEEDS = [
    text.encode()
    for text in (
        FILE_1, FILE_2, FILE_3,
        lm63(h=(90, 180, 270), tilt="TILT=INCLUDE\n1\n2\n0 90\n1 0.9"),
        lm63(kind=3, v=(-90, 0, 90), h=(0, 90), candela="5 1 6 5 3 6"),
        lm63(h=tuple(range(0, 360, 45))), lm63(tilt="TILT=lamp.tlt"),
        eulumdat(isym=0), eulumdat(isym=1, mc=1, dc=0), eulumdat(isym=2), eulumdat(isym=4),
        eulumdat(sets=((-1, 1000, 0), (1, 10, 1)), gamma=(0, 90, 180), dg=90),
    )
]  # fmt: skip
PIECES = (
    b"0", b"1", b"-1", b"90", b"360", b"1e9", b"1e400", b"nan", b"-0", b".", b",", b"\n", b"\r",
    b" ", b"TILT=NONE\n", b"TILT=INCLUDE\n", b"IESNA91\n", b"[MORE] x\n", b"\0", b"\xff", b"\xe9",
    b"99999999999999999999", b"0.5", b"270", b"1e-300", b"1_0", b"\xd9\xa1", b"\x1a",
)  # fmt: skip


def check_any(data: bytes, name: str = "fuzz.ies") -> bool:
    """Whether `data` was accepted; anything but a valid result or a worded refusal raises."""
    try:
        i = parse_photometry(data, name)
    except InputError as error:
        message = str(error)
        assert message.startswith(name)
        assert "\n" not in message
        assert len(message) < 500
        return False
    assert np.isfinite(i.candela).all()
    assert (i.candela >= 0).all()
    assert i.candela.max() <= LARGEST_CANDELA
    assert (np.diff(i.c_rad) > 0).all()
    assert (np.diff(i.gamma_rad) > 0).all()
    assert (i.c_rad[0], i.c_rad[-1]) == (0, 2 * np.pi)
    assert (i.gamma_rad[0], i.gamma_rad[-1]) == (0, np.pi)
    assert np.array_equal(i.candela[0], i.candela[-1])
    assert np.isfinite(i.lumens)
    assert i.lumens > 0
    assert 0 <= i.short_side_m <= i.long_side_m <= 30
    assert np.isnan(i.watts) or i.watts > 0
    assert all(note and "\n" not in note for note in i.notes)
    assert np.isfinite(peak(i).candela)
    throw = throw_azimuth(i)
    assert np.isnan(throw) or 0 <= throw < 2 * np.pi
    again = parse_photometry(lm63_bytes(i), name)
    assert again.lumens == pytest.approx(i.lumens, rel=1e-6)
    return True


def mutated(rng: random.Random) -> bytes:
    """Take a valid file with a few bytes, words or lines changed, moved, cut or doubled."""
    data = bytearray(rng.choice(SEEDS))
    for _ in range(rng.choice((0, 1, 1, 1, 2, 3, 8))):
        at = rng.randrange(len(data) + 1)
        to = min(len(data), at + rng.choice((0, 1, 1, 2, 5, 30)))
        what = rng.randrange(6)
        if what == 0:
            data[at:to] = rng.choice(PIECES)
        elif what == 1:
            data[at:to] = b""
        elif what == 2:
            data[at:at] = data[at:to]
        elif what == 3:
            data[at:at] = bytes([rng.randrange(256)])
        elif what == 4:
            words = bytes(data).split(b" ")
            words[rng.randrange(len(words))] = rng.choice(PIECES)
            data = bytearray(b" ".join(words))
        else:
            lines = bytes(data).split(b"\n")
            k, j = rng.randrange(len(lines)), rng.randrange(len(lines))
            lines[k], lines[j] = lines[j], rng.choice((lines[k], rng.choice(PIECES)))
            data = bytearray(b"\n".join(lines))
    return bytes(data)


@given(data=st.binary(max_size=400))
@example(data=b"TILT=NONE")
@example(data=b"\n1\n0\n1\n0\n2\n0\n")
@settings(max_examples=150, deadline=None)
def test_any_bytes(data):
    check_any(data)


@given(text=st.text(alphabet="0123456789.,-+eE \n\tTILT=NOE[]", max_size=400))
@settings(max_examples=150, deadline=None)
def test_any_text_after_a_header(text):
    check_any(b"IESNA:LM-63-2002\nTILT=NONE\n" + text.encode())


def test_a_few_thousand_mutated_files():
    rng = random.Random(63)
    accepted = sum(check_any(mutated(rng)) for _ in range(2500))
    # both outcomes must be common, or the fuzzing looks at one door only
    assert 300 < accepted < 2000


ranges = st.sampled_from([(0, 0), (0, 90), (0, 180), (90, 270), (0, 360)])
vertical = st.sampled_from([(0, 90), (90, 180), (0, 180)])


@st.composite
def angle_list(draw, ends):
    first, last = ends
    if first == last:
        return [float(first)]
    tenths = draw(st.lists(st.integers(1, 10 * (last - first) - 1), max_size=5, unique=True))
    return [float(first), *(first + t / 10 for t in sorted(tenths)), float(last)]


@st.composite
def valid_lm63(draw):
    v, h = draw(vertical.flatmap(angle_list)), draw(ranges.flatmap(angle_list))
    table = [[draw(st.integers(0, 9000)) / 10 + 0.1 for _ in v] for _ in h]
    for plane in table:
        for column, pole in ((0, 0.0), (-1, 180.0)):
            if v[column] == pole:
                plane[column] = table[0][column]
    if h[-1] == 360:
        table[-1] = table[0]
    return lm63(
        first=draw(st.sampled_from(["", "IESNA91", "IESNA:LM-63-1995", "IES:LM-63-2019"])),
        keywords=(), multiplier=draw(st.sampled_from([1, 0.5, 3])),
        ballast=draw(st.sampled_from([1, 0.9])), future=draw(st.sampled_from([1, 0.95])),
        v=v, h=h, candela="\n".join(row(plane) for plane in table),
    ).encode()  # fmt: skip


@st.composite
def valid_eulumdat(draw):
    isym = draw(st.integers(0, 4))
    mc = 4 * draw(st.integers(1, 4))
    gamma = draw(vertical.flatmap(angle_list))
    stored = {0: mc, 1: 1, 2: mc // 2 + 1, 3: mc // 2 + 1, 4: mc // 4 + 1}[isym]
    table = [[draw(st.integers(1, 9000)) / 10 for _ in gamma] for _ in range(stored)]
    for plane in table:
        for column, pole in ((0, 0.0), (-1, 180.0)):
            if gamma[column] == pole:
                plane[column] = table[0][column]
    return eulumdat(
        isym=isym, mc=mc, dc=360 / mc, gamma=gamma, dg=0, conversion=draw(st.sampled_from([1, 2])),
        sets=((1, draw(st.sampled_from([500, 3000])), 20),),
        intensities=[v for plane in table for v in plane],
    ).encode()  # fmt: skip


# not on a mirror plane or an edge, where the last digit decides which side a direction is on
directions = st.lists(
    st.tuples(
        st.floats(0, 359.9, allow_nan=False),
        st.floats(0.01, 179.9, allow_nan=False).filter(lambda g: abs(g - 90) > 1e-3),
    ),
    min_size=1,
    max_size=12,
)


def agrees(data, name, plain, where):
    i = parse_photometry(data, name)
    for c, gamma in where:
        ours = float(i.candela_toward(toward(np.deg2rad(c), np.deg2rad(gamma))))
        assert ours == pytest.approx(plain.candela(c, gamma), rel=1e-6, abs=1e-6)


slow = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)  # generating, not reading, takes the time


@given(data=valid_lm63(), where=directions)
@slow
def test_second_reader_agrees_on_lm63(data, where):
    agrees(data, "a.ies", read_plain_lm63(data), where)


@given(data=valid_eulumdat(), where=directions)
@slow
def test_second_reader_agrees_on_eulumdat(data, where):
    agrees(data, "a.ldt", read_plain_eulumdat(data), where)


@pytest.mark.parametrize(
    ("text", "reader"), [(FILE_1, read_plain_lm63), (FILE_3, read_plain_eulumdat)]
)
def test_second_reader_agrees_on_the_flux(text, reader):
    data = text.encode()
    # its midpoint bands of half a degree are good to a few 1e-4
    assert parse_photometry(data, "a").lumens == pytest.approx(reader(data).lumens(), rel=1e-3)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    source = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 2019)
    taken = 0
    for number in range(count):
        sample = mutated(source) if number % 4 else source.randbytes(source.randrange(300))
        try:
            taken += check_any(sample)
        except BaseException:
            print(f"input {number}: {sample!r}")
            raise
    print(f"{count} inputs: {taken} read, {count - taken} refused, no surprise")
