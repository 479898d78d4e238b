"""Height images in: PNG, TIFF, EXR and NPY, as one array."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError

ENDINGS = (".png", ".tif", ".tiff", ".exr", ".npy")
_LARGEST = 400_000_000  # samples; 20 000 x 20 000
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # Rec.709


@dataclass(frozen=True, slots=True, eq=False)
class HeightImage:
    """Heights as they stand in a file.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        Row 0 at the *top*, as in the file. 0 to 1 for integer formats; metres for float ones.
    in_metres : bool
        True if `values` are metres.
    levels : int or None
        Number of grey levels of an integer format.
    notes : tuple of str
        What the reader had to assume, one line each.
    """

    values: NDArray[np.float32]
    in_metres: bool
    levels: int | None
    notes: tuple[str, ...] = ()


def read_heights(path: Path) -> HeightImage:
    """Read a height image.

    Parameters
    ----------
    path : Path
        PNG (8 or 16 bit), TIFF (8, 16 bit or 32-bit float), OpenEXR or NPY.

    Returns
    -------
    HeightImage
        Integer greys divided by their largest value; floats unchanged, taken as metres.

    Raises
    ------
    InputError
        If the file is missing, empty, broken, of another kind, or holds no usable heights.
    """
    reader = _READERS.get(path.suffix.lower())
    if reader is None:
        raise InputError(f"{path}: not a height image. Use {', '.join(ENDINGS)}.")
    try:
        size = path.stat().st_size
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}).") from None
    if path.is_dir():
        raise InputError(f"{path}: a folder, not a height image.")
    if size == 0:
        raise InputError(f"{path}: the file is empty.")
    try:
        raw = reader(path)
    except InputError:
        raise
    except Exception as error:  # readers of other people raise anything on broken files
        says = str(error).splitlines()[0] if str(error) else type(error).__name__
        says = says.replace(str(path), "").strip(" :'\"")[:90]
        raise InputError(f"{path}: broken or not of this kind ({says}). Save it again.") from None
    return _checked(path, np.asarray(raw))


def _checked(path: Path, raw: NDArray[Any]) -> HeightImage:
    notes: list[str] = []
    if raw.dtype.kind not in "buif" or raw.dtype.itemsize > 8:
        raise InputError(f"{path}: holds {raw.dtype} values. Use whole numbers or floats.")
    if raw.ndim == 3 and raw.shape[2] in (1, 2, 3, 4):
        raw = _one_channel(path, raw, notes)
    if raw.ndim != 2:
        shape = " x ".join(str(n) for n in raw.shape)
        raise InputError(f"{path}: has the shape {shape}. A height image has rows and columns.")
    if min(raw.shape) < 2:
        raise InputError(f"{path}: {raw.shape[1]} x {raw.shape[0]} pixels. At least 2 x 2.")
    if raw.size > _LARGEST:
        raise InputError(
            f"{path}: {raw.shape[1]} x {raw.shape[0]} pixels. At most {_LARGEST:,} in all."
        )
    in_metres = raw.dtype.kind == "f"
    if in_metres:
        if not np.isfinite(raw).all():
            raise InputError(
                f"{path}: holds NaN or infinity. Fill the holes of a scan before it is used."
            )
        with np.errstate(over="ignore"):
            values = np.ascontiguousarray(raw, dtype=np.float32)
        if not np.isfinite(values).all():
            raise InputError(f"{path}: holds values beyond 1e38. Use metres.")
        return HeightImage(values, True, None, tuple(notes))
    largest = _full_scale(raw)
    values = raw.astype(np.float32)
    values /= np.float32(largest)
    if largest == 255:
        notes.append(
            f"{path.name}: 8-bit heights, 256 levels; under a graze they show as terraces. "
            "16-bit is better."
        )
    return HeightImage(values, False, largest + 1, tuple(notes))


def _full_scale(raw: NDArray[Any]) -> int:
    if raw.dtype.kind == "b":
        return 1
    return int(np.iinfo(raw.dtype).max)


def _one_channel(path: Path, raw: NDArray[Any], notes: list[str]) -> NDArray[Any]:
    channels = raw.shape[2]
    if channels in (2, 4):
        notes.append(f"{path.name}: its alpha channel is not used.")
        raw = raw[..., : channels - 1]
    if raw.shape[2] == 1:
        return raw[..., 0]
    if np.array_equal(raw[..., 0], raw[..., 1]) and np.array_equal(raw[..., 0], raw[..., 2]):
        return raw[..., 0]
    # a map of surface directions looks bluish all over; read as heights it would be nonsense
    mean = raw.reshape(-1, 3).mean(axis=0, dtype=np.float64)
    top = 1.0 if raw.dtype.kind == "f" else float(_full_scale(raw))
    if mean[2] > 0.8 * top and abs(mean[0] - top / 2) < 0.1 * top > abs(mean[1] - top / 2):
        raise InputError(
            f"{path}: looks like a normal map (directions, not heights). Use the height image."
        )
    notes.append(f"{path.name}: a colour image; its luminance is used as height.")
    grey = raw[..., :3].astype(np.float32) @ _LUMINANCE
    if raw.dtype.kind == "f":
        return np.asarray(grey)
    # stays on the scale of the integer format, without rounding
    return np.asarray(np.rint(grey * (65535 / top)), dtype=np.uint16)


def _png(path: Path) -> NDArray[Any]:
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None  # the limit here is our own, with our own message
    with Image.open(path, formats=["PNG"]) as image:
        if image.width * image.height > _LARGEST:
            raise InputError(
                f"{path}: {image.width} x {image.height} pixels. At most {_LARGEST:,} in all."
            )
        if image.mode == "P":
            return np.asarray(image.convert("RGBA" if "transparency" in image.info else "RGB"))
        if image.mode in ("RGB", "RGBA", "LA"):
            return _shallow_png(path, image)
        return np.asarray(image)


def _shallow_png(path: Path, image: Any) -> NDArray[Any]:
    # Pillow would cut 16-bit colour to 8 bits in silence; the ninth byte of IHDR tells
    with path.open("rb") as file:
        head = file.read(25)
    if head[24] == 16:
        raise InputError(
            f"{path}: 16 bits in {len(image.getbands())} channels. Save it as 16-bit grey, "
            "one channel: heights need no colour."
        )
    return np.asarray(image)


def _tiff(path: Path) -> NDArray[Any]:
    import tifffile

    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        if int(np.prod(page.shape)) > 4 * _LARGEST:
            raise InputError(f"{path}: {page.shape} samples. At most {_LARGEST:,} pixels.")
        return np.asarray(page.asarray())


def _exr(path: Path) -> NDArray[Any]:
    import OpenEXR

    with OpenEXR.File(str(path), separate_channels=True) as file:
        channels = {name: np.asarray(c.pixels) for name, c in file.channels().items()}
    for only in ("Z", "Y", "height", "H", "V"):
        if only in channels:
            return channels[only].astype(np.float32)
    if {"R", "G", "B"} <= set(channels):
        rgb = np.stack([channels[c] for c in "RGB"], axis=-1)
        return rgb.astype(np.float32)
    if len(channels) == 1:
        return next(iter(channels.values())).astype(np.float32)
    names = ", ".join(sorted(channels))
    raise InputError(f"{path}: channels {names}. Name the one with the heights Y or Z.")


def _npy(path: Path) -> NDArray[Any]:
    mapped = np.load(path, mmap_mode="r", allow_pickle=False)
    if not isinstance(mapped, np.ndarray):
        raise InputError(f"{path}: not a single array. Save one array of heights in metres.")
    if mapped.size > _LARGEST:
        raise InputError(f"{path}: {mapped.size:,} samples. At most {_LARGEST:,}.")
    return np.array(mapped)


_READERS: dict[str, Callable[[Path], NDArray[Any]]] = {
    ".png": _png,
    ".tif": _tiff,
    ".tiff": _tiff,
    ".exr": _exr,
    ".npy": _npy,
}
