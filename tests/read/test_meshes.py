"""Meshes from every format: the same box, in metres, z up; or a worded refusal."""

import json
import struct

import numpy as np
import pytest

from rakelight.errors import InputError
from rakelight.read import mesh_soup, meshes
from rakelight.read.meshes import read_mesh, turned_up
from reference.made_meshes import (
    BOX,
    BOX_FACES,
    FORMATS,
    ascii_ply,
    ascii_stl,
    binary_ply,
    binary_stl,
    gltf_tree,
    obj,
    packed,
)


def written(tmp_path, name, data):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def corners(mesh):
    return mesh.points_m[mesh.faces]


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize(("unit", "metres"), [("cm", 0.01), ("in", 0.0254), ("m", 1.0)])
def test_every_format_gives_the_same_box_in_metres(tmp_path, name, unit, metres):
    path = written(tmp_path, name, FORMATS[name](BOX, BOX_FACES))
    mesh = read_mesh(path, unit, up="+z")
    assert np.allclose(corners(mesh), BOX[np.array(BOX_FACES)] * metres, rtol=1e-9)
    assert mesh.points_m.dtype == np.float64
    assert mesh.faces.dtype == np.int64


@pytest.mark.parametrize("name", [n for n in FORMATS if "gl" not in n])
def test_a_format_without_unit_asks_for_it(tmp_path, name):
    path = written(tmp_path, name, FORMATS[name](BOX, BOX_FACES))
    with pytest.raises(InputError, match=r"do not say their unit\. Give it: mm, cm, m, in or ft"):
        read_mesh(path)


def test_gltf_is_in_metres_with_y_up(tmp_path):
    mesh = read_mesh(written(tmp_path, "a.glb", FORMATS["a.glb"](BOX, BOX_FACES)))
    assert np.ptp(mesh.points_m, axis=0) == pytest.approx([2, 3, 1])


@pytest.mark.parametrize("up", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_turning_up_is_a_rotation_that_brings_the_axis_up(up):
    axis = np.zeros(3)
    axis["xyz".index(up[1])] = 1 if up[0] == "+" else -1
    turned = turned_up(np.vstack([np.eye(3), axis]), up)
    assert turned[3] == pytest.approx([0, 0, 1])
    assert np.linalg.det(turned[:3]) == pytest.approx(1)
    assert turned[:3].T @ turned[:3] == pytest.approx(np.eye(3))


def test_gltf_nodes_are_placed_and_a_mirrored_one_keeps_its_outside_out(tmp_path):
    tree, data = gltf_tree(BOX, BOX_FACES)
    half = np.sqrt(0.5)
    tree["nodes"] = [
        {"children": [1, 2], "translation": [10, 0, 0], "rotation": [0, 0, half, half]},
        {"mesh": 0, "scale": [2, 1, 1]},
        {"mesh": 0, "scale": [-1, 1, 1]},
    ]
    mesh = read_mesh(written(tmp_path, "a.glb", packed(tree, data)), up="+z")
    first, second = corners(mesh)[: len(BOX_FACES)], corners(mesh)[len(BOX_FACES) :]
    own = BOX[np.array(BOX_FACES)]
    # a quarter turn about z: (x, y) to (-y, x)
    expected = np.stack([10 - own[..., 1], 2 * own[..., 0], own[..., 2]], axis=-1)
    assert first == pytest.approx(expected, abs=1e-6)
    for part in (first, second):
        middle = part.reshape(-1, 3).mean(axis=0)
        normals = np.cross(part[:, 1] - part[:, 0], part[:, 2] - part[:, 0])
        assert ((normals * (part.mean(axis=1) - middle)).sum(axis=1) > 0).all()


def test_gltf_strips_and_fans(tmp_path):
    flat = [[0, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0]]
    for mode, order in ((5, [0, 2, 1, 3]), (6, [0, 2, 3, 1])):
        tree, data = gltf_tree(flat, [[*order[:3]], [order[3], 0, 0]])
        tree["accessors"][1]["count"] = 4
        tree["meshes"][0]["primitives"][0]["mode"] = mode
        c = corners(read_mesh(written(tmp_path, "a.glb", packed(tree, data)), up="+z"))
        normals = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
        assert normals == pytest.approx(np.array([[0, 0, 1], [0, 0, 1]]))


def test_gltf_with_a_buffer_beside_it_and_none_elsewhere(tmp_path):
    tree, data = gltf_tree(BOX, BOX_FACES)
    tree["buffers"][0]["uri"] = "box.bin"
    written(tmp_path, "box.bin", data)
    path = written(tmp_path, "a.gltf", json.dumps(tree).encode())
    assert len(read_mesh(path).faces) == len(BOX_FACES)
    for uri in ("../box.bin", "/etc/hosts", "http://x/y", "none.bin"):
        tree["buffers"][0]["uri"] = uri
        path.write_bytes(json.dumps(tree).encode())
        with pytest.raises(InputError, match="buffer"):
            read_mesh(path)


def test_polygons_are_split_and_said(tmp_path):
    quads = [[0, 3, 2, 1], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6], [1, 6, 5]]
    for name, data in (
        ("a.ply", ascii_ply(BOX, quads)), ("b.ply", binary_ply(BOX, quads)),
        ("c.ply", binary_ply(BOX, quads[:3], ">", colour=False)), ("d.obj", obj(BOX, quads)),
    ):  # fmt: skip
        mesh = read_mesh(written(tmp_path, name, data), "m")
        assert len(mesh.faces) == (6 if name == "c.ply" else 8)
        assert corners(mesh)[:2] == pytest.approx(BOX[[[0, 3, 2], [0, 2, 1]]])
        assert any("3 polygons were split" in note for note in mesh.notes)


def test_relative_indices_and_lines_that_go_on(tmp_path):
    mesh = read_mesh(written(tmp_path, "a.obj", obj(BOX, BOX_FACES, relative=True)), "m")
    assert corners(mesh) == pytest.approx(BOX[np.array(BOX_FACES)])
    text = b"v 0 0 0 1 0 0\nv 1 0 0\nv 0 \\\n 1 0\nf -3 \\\r\n -2 -1\nv 0 0 5\n"
    mesh = read_mesh(written(tmp_path, "b.obj", text), "m")
    assert corners(mesh)[0] == pytest.approx(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]]))
    assert "1 points without a triangle left out" in mesh.notes[0]


def test_text_in_many_blocks_is_the_same(tmp_path, monkeypatch):
    data = {"a.obj": obj(BOX, BOX_FACES, relative=True), "a.stl": ascii_stl(BOX, BOX_FACES)}
    for name, text in data.items():
        path = written(tmp_path, name, text)
        whole = corners(read_mesh(path, "m"))
        monkeypatch.setattr(mesh_soup, "_BLOCK", 7)
        assert np.array_equal(corners(read_mesh(path, "m")), whole)
        monkeypatch.undo()


def test_triangles_without_area_are_left_out(tmp_path):
    faces = [*BOX_FACES, [0, 1, 1], [3, 3, 3]]
    mesh = read_mesh(written(tmp_path, "a.ply", binary_ply(BOX, faces)), "m")
    assert len(mesh.faces) == len(BOX_FACES)
    assert "2 triangles without area left out" in mesh.notes[0]


NAN = np.where(BOX == 3, np.nan, BOX)
REFUSED = {
    "empty file": ("a.ply", b"", "empty"),
    "no faces": ("a.ply", ascii_ply(BOX, []), "points only"),
    "no vertices": ("a.obj", b"# nothing\n", "empty mesh"),
    "no triangles": ("a.stl", binary_stl(BOX, []), "empty mesh"),
    "face beyond": ("a.ply", ascii_ply(BOX, [[0, 1, 99]]), "a vertex that is not there"),
    "face before": ("a.ply", ascii_ply(BOX, [[0, 1, -1]]), "a vertex that is not there"),
    "face zero": ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "counted from 1"),
    "half a face": ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\n", "line 4"),
    "broken vertex": ("a.obj", b"v 0 0 0\nv 1 0 x\nv 0 1 0\nf 1 2 3\n", "line 2: vertex '1 0 x'"),
    "nan": ("a.ply", ascii_ply(NAN, BOX_FACES), "no number"),
    "infinite": ("b.ply", binary_ply(np.where(BOX == 3, np.inf, BOX), BOX_FACES), "no number"),
    "degenerate": ("a.ply", ascii_ply(BOX, [[0, 1, 1]]), "degenerate"),
    "cut text": ("a.ply", ascii_ply(BOX, BOX_FACES)[:-20], "truncated"),
    "cut binary": ("a.ply", binary_ply(BOX, BOX_FACES)[:-5], "truncated"),
    "cut stl": ("a.stl", binary_stl(BOX, BOX_FACES)[:-5], "truncated.*10 triangles promised"),
    "cut text stl": ("a.stl", ascii_stl(BOX, BOX_FACES)[:-60], "truncated"),
    "cut glb": ("a.glb", FORMATS["a.glb"](BOX, BOX_FACES)[:-9], "truncated"),
    "promises": (
        "a.ply",
        binary_ply(BOX, BOX_FACES).replace(b"vertex 8", b"vertex 999999999999"),
        "truncated: 999,999,999,999 x vertex",
    ),
    "many triangles promised": ("a.stl", b"x" * 80 + struct.pack("<I", 2**32 - 1), "truncated"),
    "other kind": ("a.ply", b"GIF89a" + bytes(99), "not a PLY file"),
    "unknown ending": ("a.xyz", b"0 0 0", r"not a mesh\. Use \.obj"),
    "wrong unit": ("a.ply", ascii_ply(BOX * 500, BOX_FACES), "at most 100 m"),
    "tiny": ("a.ply", ascii_ply(BOX * 1e-5, BOX_FACES), "at least 1 mm"),
    "far away": ("a.ply", ascii_ply(BOX + 4e6, BOX_FACES), "km from its origin"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_used_is_refused_in_one_line(tmp_path, case):
    name, data, words = REFUSED[case]
    path = written(tmp_path, name, data)
    with pytest.raises(InputError, match=words) as caught:
        read_mesh(path, "m")
    assert len(caught.value.faults) == 1
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_compressed_gltf_says_what_to_do(tmp_path):
    tree, data = gltf_tree(BOX, BOX_FACES)
    tree["extensionsRequired"] = ["KHR_draco_mesh_compression"]
    path = written(tmp_path, "a.glb", packed(tree, data))
    with pytest.raises(InputError, match="Export it again without compression"):
        read_mesh(path)


def test_one_mesh_placed_a_thousand_times_counts_a_thousand_times(tmp_path):
    tree, data = gltf_tree(BOX, BOX_FACES)
    tree["nodes"] = [{"children": list(range(1, 1001))}, *({"mesh": 0},) * 1000]
    path = written(tmp_path, "a.glb", packed(tree, data))
    assert len(read_mesh(path).faces) == 10_000
    with pytest.raises(InputError, match="more than 9,999 triangles"):
        read_mesh(path, most_triangles=9_999)
    tree["nodes"][1] = {"children": [0]}
    path.write_bytes(packed(tree, data))
    with pytest.raises(InputError, match="circle"):
        read_mesh(path)


def test_a_file_that_would_not_fit_the_memory_is_refused_before_it_is_read(tmp_path, monkeypatch):
    path = written(tmp_path, "a.ply", ascii_ply(BOX, BOX_FACES))
    monkeypatch.setattr(meshes, "available_memory_bytes", lambda: 2_000)
    with pytest.raises(InputError, match="Thin it out first"):
        read_mesh(path, "m")


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_mesh(tmp_path / "none.ply", "mm")
    with pytest.raises(InputError, match="folder"):
        read_mesh(tmp_path, "mm")


QUADS = [[0, 3, 2, 1], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]]
CUBE = np.array(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]], float
)
TRIANGLES = [t for q in QUADS for t in (q[:3], [q[0], *q[2:]])]
V = "".join(f"v {x:g} {y:g} {z:g}\n" for x, y, z in CUBE)


def f_lines(word="f", corner="{}", end=""):
    return "".join(
        f"{word} " + " ".join(corner.format(i + 1) for i in q) + f"{end}\n" for q in QUADS
    )


def stl_text(number="{:e}"):
    facets = "".join(
        "facet normal 0 0 0\n outer loop\n"
        + "".join(
            "  vertex " + " ".join(number.format(x) for x in CUBE[i]) + "\n" for i in triangle
        )
        + " endloop\nendfacet\n"
        for triangle in TRIANGLES
    )
    return f"solid a b\n{facets}endsolid a b\n"


def ply_text(colour=""):
    head = (
        "ply\nformat ascii 1.0\ncomment x\nelement vertex 8\nproperty float x\nproperty float y\n"
        f"property float z\n{'property uchar red' + chr(10) if colour else ''}element face 6\n"
        "property list uchar int vertex_index\nend_header\n"
    )
    body = "".join(f"{x:g} {y:g} {z:g}{colour}\n" for x, y, z in CUBE)
    return head + body + "".join("4 " + " ".join(map(str, q)) + "\n" for q in QUADS)


HABITS = {
    "comments after faces.obj": "# c\no a\ng b\ns off\nusemtl x\n" + V + f_lines(end=" # quad"),
    "byte-order mark.obj": "\ufeff" + V + f_lines(),
    "capitals.obj": (V + f_lines()).upper(),
    "fo of the first editions.obj": V + f_lines("fo"),
    "texture and normal.obj": V + "vt 0 0\nvn 0 0 1\n" + f_lines(corner="{}/1/1"),
    "normal alone.obj": V + "vn 0 0 1\n" + f_lines(corner="{}//1"),
    "colours of vertices.obj": V.replace("\n", " 0.5 0.5 0.5\n") + f_lines(),
    "CR alone.obj": (V + f_lines()).replace("\n", "\r"),
    "CR LF.obj": (V + f_lines()).replace("\n", "\r\n"),
    "OBJ by content.txt": V + f_lines(),
    "exponents.stl": stl_text(),
    "Fortran's exponents.stl": stl_text("{:.1f}").replace("1.0", "1.0D+00"),
    "capitals.stl": stl_text().upper(),
    "tabs and CR LF.stl": stl_text().replace(" ", "\t").replace("\n", "\r\n"),
    "STL by content.obj": stl_text(),
    "quads.ply": ply_text(),
    "colour.ply": ply_text(" 255"),
    "CR LF.ply": ply_text().replace("\n", "\r\n"),
    "PLY by content.obj": ply_text(),
}


@pytest.mark.parametrize("name", HABITS)
def test_a_strangers_habit_reads_as_the_same_cube(tmp_path, name):
    mesh = read_mesh(written(tmp_path, name, HABITS[name].encode()), "m")
    assert len(mesh.faces) == 12
    np.testing.assert_array_equal(mesh.points_m.min(axis=0), [0, 0, 0])
    np.testing.assert_array_equal(mesh.points_m.max(axis=0), [1, 1, 1])
    # closed: the divergence theorem gives the volume
    a, b, c = (mesh.points_m[mesh.faces[:, k]] for k in range(3))
    assert abs((a * np.cross(b, c)).sum() / 6) == pytest.approx(1)


def test_binary_stl_whose_first_word_is_solid_and_whose_ending_is_wrong(tmp_path):
    data = b"solid made".ljust(80, b" ") + binary_stl(CUBE, TRIANGLES)[80:]
    for name in ("a.stl", "a.obj"):
        assert len(read_mesh(written(tmp_path, name, data), "m").faces) == 12


def test_sparse_values_lie_over_the_others_or_over_nothing(tmp_path):
    # glTF 2.0, 3.6.2.3: indices and values of what differs
    import base64

    points, faces = CUBE.astype("<f4"), np.array(TRIANGLES, "<u2")
    at, value = np.array([6], "<u2"), np.array([[1, 3, 1]], "<f4")
    parts = [points.tobytes(), faces.tobytes(), at.tobytes() + b"\0\0", value.tobytes()]
    starts = np.cumsum([0, *map(len, parts)])
    blob = base64.b64encode(b"".join(parts)).decode()
    tree = {
        "asset": {"version": "2.0"},
        "buffers": [
            {"byteLength": int(starts[-1]), "uri": "data:application/octet-stream;base64," + blob}
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": int(s), "byteLength": len(p)}
            for s, p in zip(starts, parts, strict=False)
        ],
        "accessors": [
            {
                "bufferView": 0, "componentType": 5126, "count": 8, "type": "VEC3",
                "sparse": {
                    "count": 1,
                    "indices": {"bufferView": 2, "componentType": 5123},
                    "values": {"bufferView": 3},
                },
            },
            {"bufferView": 1, "componentType": 5123, "count": 36, "type": "SCALAR"},
        ],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
    }  # fmt: skip
    over = read_mesh(written(tmp_path, "over.gltf", json.dumps(tree).encode()))
    assert np.ptp(over.points_m, axis=0) == pytest.approx([1, 1, 3])  # +y is up
    del tree["accessors"][0]["bufferView"]
    # all corners but one at the origin: no triangle is left with an area
    with pytest.raises(InputError, match="degenerate"):
        read_mesh(written(tmp_path, "alone.gltf", json.dumps(tree).encode()))
    tree["accessors"][0]["sparse"]["indices"]["bufferView"] = 1
    tree["accessors"][0]["sparse"]["count"] = 30
    with pytest.raises(InputError, match=r"broken|truncated"):
        read_mesh(written(tmp_path, "bad.gltf", json.dumps(tree).encode()))


def test_a_buffer_whose_name_is_percent_encoded(tmp_path):
    tree, blob = gltf_tree(BOX, BOX_FACES)
    tree["buffers"][0]["uri"] = "my%20scan.bin"
    (tmp_path / "my scan.bin").write_bytes(blob)
    assert len(read_mesh(written(tmp_path, "a.gltf", json.dumps(tree).encode())).faces) == 10
