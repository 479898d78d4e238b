"""Photographs of a surface in: any common file, as linear Rec.709, or a plain refusal."""

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError

_LARGEST = 60_000_000  # pixels; about 2 GB of work space
_CLIPPED, _BLACK = 254, 2  # codes


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photograph in linear light.

    Parameters
    ----------
    linear : ndarray of float32, shape (rows, columns, 3)
        Linear Rec.709, 0 to 1; row 0 at the top, as in the file.
    clipped, black : ndarray of bool, shape (rows, columns)
        Where a channel is at its top, and where all are at their bottom: nothing is known there.
    notes : tuple of str
        What was converted or assumed, one line each.
    """

    linear: NDArray[np.float32]
    clipped: NDArray[np.bool_]
    black: NDArray[np.bool_]
    notes: tuple[str, ...] = ()


def read_photo(path: Path) -> Photo:
    """Read a photograph.

    Parameters
    ----------
    path : Path
        Anything that Pillow reads: JPEG, PNG, TIFF, WebP.

    Returns
    -------
    Photo
        Turned as its camera held it, its colour profile converted; without one, sRGB
        (IEC 61966-2-1) is assumed.

    Raises
    ------
    InputError
        If it is broken, too large, or of 16 bits or CMYK without a profile that says what its
        numbers mean.
    """
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = None  # the limit here is our own, with our own message
    notes: list[str] = []
    try:
        # Pillow warns of small damage that it passes over
        with warnings.catch_warnings(action="ignore"), Image.open(path) as image:
            if image.width * image.height > _LARGEST:
                raise InputError(
                    f"{path}: {image.width} x {image.height} pixels; at most {_LARGEST:,} in all. "
                    "Scale it down."
                )
            _check_bits(path, image)
            orientation = image.getexif().get(0x0112, 1)
            turned = ImageOps.exif_transpose(image)
            if orientation not in (0, 1):
                notes.append(f"{path.name}: turned upright as its camera noted")
            encoded = np.asarray(_as_srgb(path, turned, notes))
    except InputError:
        raise
    except FileNotFoundError:
        raise InputError(f"{path}: no such file.") from None
    except IsADirectoryError:
        raise InputError(f"{path}: a folder, not a photograph.") from None
    except Exception as error:  # Pillow raises anything on broken files
        says = type(error).__name__
        raise InputError(
            f"{path}: no photograph that can be read ({says}). Save it as 8-bit sRGB."
        ) from None
    code = np.arange(256) / 255
    table = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    clipped: NDArray[np.bool_] = np.any(encoded >= _CLIPPED, axis=-1)
    black: NDArray[np.bool_] = np.all(encoded <= _BLACK, axis=-1)
    return Photo(
        table.astype(np.float32)[encoded],
        clipped,
        black,
        tuple(notes),
    )


def _check_bits(path: Path, image: Any) -> None:
    """Refuse deep files whose numbers may be linear or encoded: nobody says which."""
    deep = image.mode.startswith(("I", "F"))
    if image.format == "PNG" and image.mode in ("RGB", "RGBA", "LA"):
        with path.open("rb") as file:
            deep = file.read(25)[24:25] == b"\x10"  # bit depth, the ninth byte of IHDR
    if image.format == "TIFF":
        bits = image.tag_v2.get(258, (8,))
        deep = deep or max(bits if isinstance(bits, tuple) else (bits,)) > 8
    if not deep:
        return
    if image.mode.startswith(("I", "F")) or not (
        image.info.get("icc_profile") or "srgb" in image.info
    ):
        raise InputError(
            f"{path}: more than 8 bits and no colour profile, so its numbers may be linear or "
            "encoded. Save it as 8-bit sRGB."
        )


def _as_srgb(path: Path, image: Any, notes: list[str]) -> Any:
    """Three channels of 8 bits in sRGB."""
    from PIL import ImageCms

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
        if np.asarray(image)[..., 3].min() < 255:
            raise InputError(
                f"{path}: parts of it are transparent; what they reflect is unknown. "
                "Crop it to the photograph and flatten it."
            )
        image = image.convert("RGB")
    profile = image.info.get("icc_profile")
    if profile:
        try:
            own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            says = " ".join(ImageCms.getProfileDescription(own).split())[:60]
            if "srgb" in says.lower() and image.mode == "RGB":
                return image
            converted = ImageCms.profileToProfile(
                image, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
            raise InputError(
                f"{path}: its colour profile is broken or does not fit its pixels. "
                "Save it as 8-bit sRGB."
            ) from None
        notes.append(f"{path.name}: converted from its profile ({says}) to sRGB")
        return converted
    if image.mode in ("CMYK", "LAB", "HSV"):
        raise InputError(
            f"{path}: {image.mode} without a colour profile, so its colours are unknown. "
            "Save it as 8-bit sRGB."
        )
    if image.mode in ("L", "1"):
        notes.append(f"{path.name}: grey, so the surface is taken as without colour")
    return image.convert("RGB")
