"""glTF 2.0 (ISO/IEC 12113:2022), as .glb or as .gltf with its buffers: triangles of the scene."""

import base64
import binascii
import json
import struct
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np

from rakelight.errors import InputError
from rakelight.read.mesh_soup import Floats, Indices, Soup, TooManyTriangles

_KINDS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_DEEPEST = 64
_MOST_PARTS = 100_000
MOST_VALUES = 20_000_000  # of an accessor that stores only what differs from 0
_JSON, _BIN = 0x4E4F534A, 0x004E4942
_KNOWN = {"KHR_mesh_quantization", "KHR_materials_unlit", "KHR_texture_transform"}


def parse_gltf(data: bytes, name: str, most: int, folder: Path) -> Soup:
    """Read the default scene of a glTF file, in metres, y up.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What messages call it.
    most : int
        Largest number of triangles.
    folder : Path
        Where its buffers are looked for.

    Raises
    ------
    InputError
        If it is broken, truncated or packed in a way that needs another decoder.
    """
    text, binary = _chunks(data, name) if data[:4] == b"glTF" else (data, None)
    try:
        tree = json.loads(text.decode("utf-8-sig"))
        version = str(tree["asset"]["version"])
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError(
            f"{name}: no glTF that can be read; truncated or of another kind."
        ) from None
    if version.split(".")[0] != "2":
        raise InputError(f"{name}: glTF version {version[:12]}. Export it as glTF 2.0.")
    needed = tree.get("extensionsRequired", [])
    for extension in needed if isinstance(needed, list) else []:
        if extension not in _KNOWN:
            raise InputError(
                f"{name}: needs {str(extension)[:60]}. Export it again without compression."
            )
    try:
        return _Reader(tree, binary, name, most, folder).soup()
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError) as error:
        says = f"{type(error).__name__}: {error}".splitlines()[0][:80]
        raise InputError(f"{name}: a broken glTF file ({says}).") from None


def _chunks(data: bytes, name: str) -> tuple[bytes, bytes | None]:
    if len(data) < 20:
        raise InputError(f"{name}: truncated: too short for a glTF file.")
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise InputError(f"{name}: glTF version {version}. Export it as glTF 2.0.")
    if length > len(data):
        raise InputError(f"{name}: truncated: {length:,} bytes promised, {len(data):,} there.")
    text: bytes | None = None
    binary: bytes | None = None
    at = 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        chunk = data[at + 8 : at + 8 + size]
        if len(chunk) < size:
            raise InputError(f"{name}: truncated within a chunk.")
        if kind == _JSON and text is None:
            text = chunk
        elif kind == _BIN and binary is None:
            binary = chunk
        at += 8 + size
    if text is None:
        raise InputError(f"{name}: a glTF file without its description.")
    return text, binary


class _Reader:
    """One file's tree, with its buffers opened when they are first asked for."""

    def __init__(self, tree: Any, binary: bytes | None, name: str, most: int, folder: Path) -> None:
        self.tree, self.binary, self.name = tree, binary, name
        self.most, self.folder = most, folder
        self.buffers: dict[int, bytes] = {}
        self.cache: dict[tuple[int, int], tuple[Floats, Indices] | None] = {}
        self.skipped = 0
        self.count = 0
        self.visited = 0
        self.points: list[Floats] = []
        self.faces: list[Indices] = []

    def soup(self) -> Soup:
        nodes = self.tree.get("nodes", [])
        scenes = self.tree.get("scenes")
        if scenes:
            roots = scenes[_index(self.tree.get("scene", 0))].get("nodes", [])
        else:
            children = {c for node in nodes for c in node.get("children", [])}
            roots = [k for k in range(len(nodes)) if k not in children]
        for root in roots:
            self._node(root, np.eye(4), ())
        base, shifted = 0, []
        for points, faces in zip(self.points, self.faces, strict=True):
            shifted.append(faces + base)
            base += len(points)
        notes = ("lines and points in it are not used",) if self.skipped else ()
        return Soup(
            np.concatenate(self.points) if self.points else np.empty((0, 3)),
            np.concatenate(shifted) if shifted else np.empty((0, 3), np.int64),
            notes,
        )

    def _node(self, index: int, above: Floats, path: tuple[int, ...]) -> None:
        self.visited += 1
        if index in path or len(path) > _DEEPEST or self.visited > _MOST_PARTS:
            raise InputError(f"{self.name}: its nodes go round in a circle, or too deep.")
        node = self.tree["nodes"][_index(index)]
        here = above @ _matrix(node)
        if "mesh" in node:
            mesh = _index(node["mesh"])
            for k in range(len(self.tree["meshes"][mesh]["primitives"])):
                self._primitive(mesh, k, here)
        for child in node.get("children", []):
            self._node(child, here, (*path, index))

    def _primitive(self, mesh: int, k: int, place: Floats) -> None:
        self.visited += 1
        if self.visited > _MOST_PARTS:
            raise InputError(f"{self.name}: more than {_MOST_PARTS:,} parts.")
        if (mesh, k) not in self.cache:
            self.cache[mesh, k] = self._read(self.tree["meshes"][mesh]["primitives"][k])
        found = self.cache[mesh, k]
        if found is None:
            self.skipped += 1
            return
        points, faces = found
        self.count += len(faces)
        # a part may be placed many times over, and its points outnumber its triangles
        if self.count > self.most or sum(map(len, self.points)) + len(points) > 3 * self.most:
            raise TooManyTriangles
        with np.errstate(over="ignore", invalid="ignore"):
            self.points.append(points @ place[:3, :3].T + place[:3, 3])
        if np.linalg.det(place[:3, :3]) < 0:  # mirrored: the winding turns with it
            faces = faces[:, ::-1]
        self.faces.append(faces)

    def _read(self, primitive: Any) -> tuple[Floats, Indices] | None:
        mode = primitive.get("mode", 4)
        if mode not in (4, 5, 6):
            return None
        points = self._accessor(primitive["attributes"]["POSITION"], "VEC3").astype(np.float64)
        if "indices" in primitive:
            flat = self._accessor(primitive["indices"], "SCALAR")[:, 0]
            if flat.dtype.kind == "f":
                raise ValueError("indices must be whole numbers")
            flat = flat.astype(np.int64)
        else:
            flat = np.arange(len(points))
        if flat.size and int(flat.max()) >= len(points):
            raise InputError(f"{self.name}: a face names a vertex that is not there.")
        if mode == 4:
            return points, flat[: flat.size - flat.size % 3].reshape(-1, 3)
        k = np.arange(max(0, flat.size - 2))
        if mode == 6:
            return points, np.stack([flat[0] + 0 * k, flat[k + 1], flat[k + 2]], axis=1)
        odd = k % 2
        return points, np.stack([flat[k], flat[k + 1 + odd], flat[k + 2 - odd]], axis=1)

    def _accessor(self, index: int, kind: str) -> Any:
        accessor = self.tree["accessors"][_index(index)]
        if accessor.get("type") != kind:
            raise ValueError(f"an accessor is not {kind}")
        width = 3 if kind == "VEC3" else 1
        count = _index(accessor["count"])
        dtype = np.dtype(_KINDS[accessor["componentType"]])
        if "bufferView" in accessor:
            values = self._values(accessor, count, width, dtype)
        elif "sparse" in accessor and count <= MOST_VALUES:
            values = np.zeros((count, width), dtype)
        else:
            raise InputError(f"{self.name}: an accessor holds no data. Export it again.")
        if "sparse" in accessor:
            values = self._with_sparse(values, accessor["sparse"], dtype)
        if accessor.get("normalized") and dtype.kind in "iu":
            return np.maximum(values / np.iinfo(dtype).max, -1.0)
        return values

    def _with_sparse(self, values: Any, sparse: Any, dtype: Any) -> Any:
        """Lay single values over an accessor's others."""
        count = _index(sparse["count"])
        kind = np.dtype(_KINDS[sparse["indices"]["componentType"]])
        at = self._values(sparse["indices"], count, 1, kind)[:, 0].astype(np.int64)
        if count and int(at.max()) >= len(values):
            raise ValueError("a sparse value has no place")
        out = values.copy()
        out[at] = self._values(sparse["values"], count, values.shape[1], dtype)
        return out

    def _values(self, entry: Any, count: int, width: int, dtype: Any) -> Any:
        """Numbers from the view that an accessor or a part of it names, shape (count, width)."""
        view = self.tree["bufferViews"][_index(entry["bufferView"])]
        buffer = self._buffer(_index(view["buffer"]))
        own = _index(entry.get("byteOffset", 0))
        start = _index(view.get("byteOffset", 0)) + own
        row = width * dtype.itemsize
        stride = _index(view.get("byteStride", row)) or row
        length = (count - 1) * stride + row if count else 0
        if (
            stride < row
            or own + length > _index(view["byteLength"])
            or start + length > len(buffer)
        ):
            raise InputError(f"{self.name}: truncated: an accessor reads beyond its buffer.")
        return np.ndarray((count, width), dtype, buffer, start, (stride, dtype.itemsize))

    def _buffer(self, index: int) -> bytes:
        if index not in self.buffers:
            entry = self.tree["buffers"][index]
            self.buffers[index] = self._open(entry.get("uri"))
        return self.buffers[index]

    def _open(self, uri: Any) -> bytes:
        if uri is None:
            if self.binary is None:
                raise InputError(f"{self.name}: its binary part is missing.")
            return self.binary
        if not isinstance(uri, str):
            raise ValueError("a buffer's uri is no text")
        if uri.startswith("data:"):
            try:
                return base64.b64decode(uri.partition(",")[2], validate=True)
            except binascii.Error:
                raise InputError(f"{self.name}: a buffer in it is truncated or broken.") from None
        beside: str = unquote(uri)
        shown = beside[:60]
        if (
            "\0" in beside
            or "\\" in beside
            or "/" in beside
            or ":" in beside
            or beside in ("", ".", "..")
        ):
            raise InputError(
                f"{self.name}: its buffer {shown!r} is not a file beside it. Export it as .glb."
            )
        try:
            return (self.folder / beside).read_bytes()
        except OSError as error:
            raise InputError(
                f"{self.name}: its buffer {shown!r} cannot be read ({error.strerror})."
            ) from None


def _index(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**40:
        raise ValueError("an index or a count is no whole number")
    return value


def _matrix(node: Any) -> Floats:
    if "matrix" in node:
        stated = np.array(node["matrix"], dtype=np.float64)
        if stated.shape != (16,) or not np.isfinite(stated).all():
            raise ValueError("a matrix is not 16 numbers")
        return stated.reshape(4, 4).T
    x, y, z, w = _floats(node.get("rotation", (0, 0, 0, 1)), 4)
    length = float(np.sqrt(x * x + y * y + z * z + w * w))
    if not length > 0:
        raise ValueError("a rotation of length 0")
    x, y, z, w = x / length, y / length, z / length, w / length
    out = np.eye(4)
    out[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    out[:3, :3] *= _floats(node.get("scale", (1, 1, 1)), 3)
    out[:3, 3] = _floats(node.get("translation", (0, 0, 0)), 3)
    return out


def _floats(values: Any, count: int) -> Floats:
    out = np.array(values, dtype=np.float64)
    if out.shape != (count,) or not np.isfinite(out).all() or (np.abs(out) > 1e12).any():
        raise ValueError(f"{count} numbers are needed")
    return out
