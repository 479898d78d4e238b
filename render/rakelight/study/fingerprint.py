"""A digest of everything that a value is made of: records, arrays, numbers, text.

What a step depends on is the built scene, not the files that it came from: a photometric file
of other content, a relief of other depth or a moved camera give other records, and so another
digest, wherever they were stated.
"""

import hashlib
import struct
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Protocol

import numpy as np


class _Digest(Protocol):
    def update(self, data: Any, /) -> None: ...


def fingerprint(*values: Any) -> str:
    """Digest of values: 40 hexadecimal digits, the same on every machine.

    Parameters
    ----------
    *values : object
        None, truth values, numbers, text, bytes, arrays, tuples, lists, mappings with text as
        keys, and dataclasses of these.

    Raises
    ------
    TypeError
        For anything else: better no digest than one that misses a part.
    """
    digest = hashlib.blake2b(digest_size=20)
    _feed(digest, values)
    return digest.hexdigest()


def _feed(digest: _Digest, value: Any) -> None:
    if value is None or isinstance(value, bool):
        digest.update(f"<{value}>".encode())
    elif isinstance(value, np.ndarray):
        digest.update(f"<a {value.dtype.str} {value.shape}>".encode())
        digest.update(np.ascontiguousarray(value).reshape(-1).view(np.uint8).data)
    elif isinstance(value, (int, np.integer)):
        digest.update(f"<i {int(value)}>".encode())
    elif isinstance(value, (float, np.floating)):
        digest.update(b"<f" + struct.pack("<d", float(value)))
    elif isinstance(value, str):
        data = value.encode()
        digest.update(f"<s {len(data)}>".encode() + data)
    elif isinstance(value, bytes):
        digest.update(f"<b {len(value)}>".encode() + value)
    elif isinstance(value, (tuple, list)):
        digest.update(f"<l {len(value)}>".encode())
        for item in value:
            _feed(digest, item)
    elif isinstance(value, Mapping):
        digest.update(f"<m {len(value)}>".encode())
        for key in sorted(value):
            _feed(digest, key)
            _feed(digest, value[key])
    elif is_dataclass(value) and not isinstance(value, type):
        digest.update(f"<d {type(value).__qualname__}>".encode())
        for field in fields(value):
            _feed(digest, field.name)
            _feed(digest, getattr(value, field.name))
    else:
        raise TypeError(f"no digest of a {type(value).__name__}")
