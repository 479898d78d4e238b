"""Meshes written in every format that is read, by plain code of its own."""

import base64
import json
import struct

import numpy as np


def ascii_ply(points, faces):
    head = (
        f"ply\nformat ascii 1.0\ncomment made\nelement vertex {len(points)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = [" ".join(f"{v:.9g}" for v in p) for p in points]
    rows += [f"{len(f)} " + " ".join(map(str, f)) for f in faces]
    return (head + "\n".join(rows) + "\n").encode()


def binary_ply(points, faces, order="<", colour=True):
    name = {"<": "little", ">": "big"}[order]
    extra = "property uchar red\nproperty uchar green\nproperty uchar blue\n" if colour else ""
    head = (
        f"ply\nformat binary_{name}_endian 1.0\nelement vertex {len(points)}\n"
        f"property float x\nproperty float y\nproperty float z\n{extra}"
        f"element face {len(faces)}\nproperty list uchar int vertex_index\nend_header\n"
    )
    tail = bytes([9, 9, 9]) if colour else b""
    body = b"".join(struct.pack(order + "3f", *p) + tail for p in points)
    body += b"".join(struct.pack(f"{order}B{len(f)}i", len(f), *f) for f in faces)
    return head.encode() + body


def ascii_stl(points, faces):
    lines = ["solid made"]
    for f in faces:
        lines += ["facet normal 0 0 0", "  outer loop"]
        lines += ["    vertex " + " ".join(f"{v:.9g}" for v in points[k]) for k in f]
        lines += ["  endloop", "endfacet"]
    return ("\n".join([*lines, "endsolid made"]) + "\n").encode()


def binary_stl(points, faces):
    body = b"".join(
        struct.pack("<12fH", 0, 0, 0, *np.asarray(points)[list(f)].ravel(), 0) for f in faces
    )
    return b"solid but binary".ljust(80) + struct.pack("<I", len(faces)) + body


def obj(points, faces, *, relative=False):
    lines = ["# made", "o thing"] + ["v " + " ".join(f"{v:.9g}" for v in p) for p in points]
    lines.append("vt 0 0")
    for f in faces:
        index = [k - len(points) if relative else k + 1 for k in f]
        lines.append("f " + " ".join(f"{k}/1" for k in index))
    return ("\n".join(lines) + "\n").encode()


def gltf_tree(points, faces, **node):
    position = np.asarray(points, "<f4").tobytes()
    index = np.asarray(faces, "<u4").tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, **node}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": 3 * len(faces), "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": len(position)},
            {"buffer": 0, "byteOffset": len(position), "byteLength": len(index)},
        ],
        "buffers": [{"byteLength": len(position) + len(index)}],
    }
    return tree, position + index


def gltf(points, faces, **node):
    tree, data = gltf_tree(points, faces, **node)
    tree["buffers"][0]["uri"] = (
        "data:application/octet-stream;base64," + base64.b64encode(data).decode()
    )
    return json.dumps(tree).encode()


def glb(points, faces, **node):
    return packed(*gltf_tree(points, faces, **node))


def packed(tree, data):
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    chunks += struct.pack("<II", len(data), 0x004E4942) + data
    return b"glTF" + struct.pack("<II", 2, 12 + len(chunks)) + chunks


FORMATS = {
    "a.ply": ascii_ply, "b.ply": binary_ply, "a.stl": ascii_stl, "b.stl": binary_stl,
    "a.obj": obj, "a.gltf": gltf, "a.glb": glb,
}  # fmt: skip

#: a box without its rear, 2 x 1 x 3 in its own unit, wound outward
BOX = np.array(
    [[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0], [0, 0, 3], [2, 0, 3], [2, 1, 3], [0, 1, 3]],
    dtype=float,
)
BOX_FACES = [
    [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5],
    [0, 4, 7], [0, 7, 3],
]  # fmt: skip
