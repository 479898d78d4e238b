"""Any bytes give a valid mesh or a worded refusal, within bounded memory."""

import random
import tempfile
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rakelight.errors import InputError
from rakelight.read.meshes import LARGEST_M, SMALLEST_M, read_mesh
from reference.made_meshes import BOX, BOX_FACES, FORMATS, binary_ply

QUADS = [[0, 3, 2, 1], [4, 5, 6, 7], [1, 2, 6]]
SEEDS = [(Path(name).suffix, write(BOX, BOX_FACES)) for name, write in FORMATS.items()]
SEEDS += [(".ply", binary_ply(BOX, QUADS, ">"))]
PIECES = (
    b"0", b"-1", b"1e9", b"1e400", b"nan", b"inf", b" ", b"\n", b"\r\n", b"\0", b"\xff\xff\xff\x7f",
    b"\xff\xff\xff\xff", b"99999999999", b"f 1 2 3\n", b"v 1 2 3\n", b"/", b"//", b"\\\n",
    b"element vertex 99999999\n", b"property list uchar int vertex_indices\n", b"list",
    b"double", b"endfacet\n", b"vertex 1 2\n", b'"count": 99999999,', b'"mode": 5,', b"null",
    b'"byteStride": 4,', b'"children": [0],', b"[]", b"{}", b"-0", b"1_0", b"0x10",
)  # fmt: skip
_MOST = 20_000_000  # bytes at once for files of a few hundred


def check_any(folder, ending, data, unit="m"):
    """Whether the mesh was accepted; anything but a valid mesh or a worded refusal raises."""
    path = Path(folder) / f"fuzz{ending}"
    path.write_bytes(data)
    try:
        mesh = read_mesh(path, unit)
    except InputError as error:
        message = str(error)
        assert message.startswith(str(path))
        assert "\n" not in message
        assert len(message) < len(str(path)) * 2 + 300
        return False
    assert mesh.points_m.ndim == mesh.faces.ndim == 2
    assert mesh.faces.min() >= 0
    assert mesh.faces.max() == len(mesh.points_m) - 1
    assert np.isfinite(mesh.points_m).all()
    assert SMALLEST_M <= np.ptp(mesh.points_m, axis=0).max() <= LARGEST_M
    return True


def mutated(rng):
    ending, seed = rng.choice(SEEDS)
    data = bytearray(seed)
    for _ in range(rng.choice((0, 1, 1, 1, 2, 4))):
        at = rng.randrange(len(data) + 1)
        to = min(len(data), at + rng.choice((0, 1, 2, 4, 12, 50)))
        what = rng.randrange(5)
        if what == 0:
            data[at:to] = rng.choice(PIECES)
        elif what == 1:
            data[at:to] = b""
        elif what == 2:
            data[at:at] = data[at:to]
        elif what == 3:
            data[at : at + 1] = bytes([rng.randrange(256)])
        else:
            del data[max(at, 1) :]
    return ending, bytes(data)


def test_mutated_files_within_bounded_memory(tmp_path):
    rng = random.Random(12113)
    accepted = 0
    tracemalloc.start()
    try:
        for _ in range(1500):
            accepted += check_any(tmp_path, *mutated(rng))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert 300 < accepted < 1200  # both outcomes must be common
    assert peak < _MOST


@given(data=st.binary(max_size=300), ending=st.sampled_from([".ply", ".stl", ".obj", ".glb"]))
@example(data=b"solid", ending=".stl")
@example(data=b"glTF\x02\0\0\0\x14\0\0\0\0\0\0\0JSON", ending=".glb")
@settings(max_examples=150, deadline=None)
def test_any_bytes(data, ending):
    with tempfile.TemporaryDirectory() as folder:
        check_any(folder, ending, data)


@given(
    text=st.text(alphabet="0123456789.-+en \n", max_size=200),
    counts=st.tuples(st.integers(0, 10**12), st.integers(0, 10**12)),
    order=st.sampled_from(["ascii", "binary_little_endian"]),
)
@settings(max_examples=100, deadline=None)
def test_any_body_after_a_ply_header(text, counts, order):
    head = (
        f"ply\nformat {order} 1.0\nelement vertex {counts[0] % 10 ** (counts[0] % 13)}\n"
        "property double x\nproperty float y\nproperty short z\n"
        f"element face {counts[1] % 10 ** (counts[1] % 13)}\n"
        "property list uchar uint vertex_indices\nend_header\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        check_any(folder, ".ply", head.encode() + text.encode())


@given(
    points=st.lists(st.tuples(*[st.floats(-50, 50, width=32)] * 3), min_size=3, max_size=12),
    name=st.sampled_from(sorted(FORMATS)),
    data=st.data(),
)
@settings(max_examples=80, deadline=None)
def test_what_was_written_is_read(points, name, data):
    corner = st.integers(0, len(points) - 1)
    faces = data.draw(st.lists(st.tuples(corner, corner, corner), min_size=1, max_size=8))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(FORMATS[name](points, faces))
        try:
            mesh = read_mesh(path, "m", up="+z")
        except InputError as error:
            if "degenerate" in str(error) or "across" in str(error):
                return
            pytest.fail(str(error))
    own = np.array(points)[np.array(faces)]
    kept = mesh.points_m[mesh.faces]
    # every triangle that is left is one of those written, in their order
    k = 0
    for triangle in own:
        if k < len(kept) and np.allclose(triangle, kept[k], rtol=1e-7, atol=1e-30):
            k += 1
    assert k == len(kept)
