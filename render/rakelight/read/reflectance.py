"""Reflectance maps in: an sRGB image, scaled so that its mean is the stated reflectance."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # Rec.709
_LARGEST = 100_000_000  # pixels

Rgb = tuple[float, float, float]


def _decode(code: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear values of sRGB-encoded ones, 0 to 1 (IEC 61966-2-1)."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def _encode(linear: NDArray[np.float64]) -> NDArray[np.uint8]:
    linear = np.clip(linear, 0.0, 1.0)
    code = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    encoded: NDArray[np.uint8] = np.rint(code * 255).astype(np.uint8)
    return encoded


_LINEAR = _decode(np.arange(256) / 255)


def even_reflectance(wish: float | Rgb) -> tuple[NDArray[np.uint8], float, float]:
    """One reflectance everywhere: a 1 x 1 map, its scale and its mean.

    Parameters
    ----------
    wish : float or three floats
        Diffuse reflectance, even or in linear Rec.709. 0 to 1
    """
    if isinstance(wish, tuple):
        top = max(wish)
        if top == 0:
            return np.full((1, 1, 3), 255, np.uint8), 0.0, 0.0
        encoded = _encode(np.array(wish)[None, None, :] / top)
        # the brightest channel is exact, the others to half a code
        return encoded, top, float(_LINEAR[encoded[0, 0]] @ _LUMINANCE) * top
    return np.full((1, 1, 3), 255, np.uint8), float(wish), float(wish)


def read_reflectance(
    path: Path, wish: float | Rgb | None, notes: list[str]
) -> tuple[NDArray[np.uint8], float, float]:
    """Read a map and scale it.

    Parameters
    ----------
    path : Path
        PNG, JPEG or 8-bit TIFF, sRGB.
    wish : float, three floats or None
        Mean reflectance to reach; three different ones shift the colour; None: as it stands.
    notes : list of str
        Lines are added for what had to be assumed.

    Returns
    -------
    encoded : ndarray of uint8, shape (rows, columns, 3)
        Row 0 at the foot.
    scale : float
        Factor on the linear values.
    mean : float
        Luminance-weighted mean reflectance that results.

    Raises
    ------
    InputError
        If the file is broken, or the reflectance would pass 1.
    """
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None
    try:
        with Image.open(path) as image:
            if image.width * image.height > _LARGEST:
                raise InputError(f"{path}: more than {_LARGEST:,} pixels.")
            if image.mode not in ("RGB", "L", "RGBA", "LA", "P", "1"):
                raise InputError(f"{path}: {image.mode} pixels. Save the map as 8-bit sRGB.")
            if image.mode in ("RGBA", "LA"):
                notes.append(f"{path.name}: its alpha channel is not used.")
            encoded = np.asarray(image.convert("RGB"))[::-1]
    except InputError:
        raise
    except Exception as error:  # Pillow raises anything on broken files
        says = type(error).__name__
        raise InputError(f"{path}: no image that can be read ({says}).") from None
    means = np.array(
        [np.bincount(encoded[..., c].ravel(), minlength=256) @ _LINEAR for c in range(3)]
    ) / (encoded.shape[0] * encoded.shape[1])
    mean = float(means @ _LUMINANCE)
    if mean <= 0:
        raise InputError(f"{path}: black all over. A reflectance map has a mean above 0.")
    if wish is None:
        return np.ascontiguousarray(encoded), 1.0, mean
    if isinstance(wish, tuple) and len(set(wish)) > 1:
        encoded = _recoloured(encoded, np.array(wish) / np.maximum(means, 1e-9))
        factor = float(_factor(wish, means))
        return _limited(path, encoded, factor, float(np.array(wish) @ _LUMINANCE), notes)
    target = float(wish[0] if isinstance(wish, tuple) else wish)
    return _limited(path, np.ascontiguousarray(encoded), target / mean, target, notes)


def _factor(wish: Rgb, means: NDArray[np.float64]) -> np.float64:
    return np.max(np.array(wish) / np.maximum(means, 1e-9))


def _recoloured(encoded: NDArray[np.uint8], ratio: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Shift the colour; the channel that grows most keeps its codes, the scale does the rest."""
    tables = _encode(_LINEAR[None, :] * (ratio / ratio.max())[:, None])
    return np.stack([tables[c][encoded[..., c]] for c in range(3)], axis=-1)


def _limited(
    path: Path, encoded: NDArray[np.uint8], scale: float, target: float, notes: list[str]
) -> tuple[NDArray[np.uint8], float, float]:
    """No point reflects more than falls on it: cap a few bright specks, refuse more."""
    if scale * float(_LINEAR[encoded.max()]) <= 1:
        return encoded, scale, target
    codes = np.flatnonzero(_LINEAR * scale <= 1)
    cap = int(codes[-1])
    share = float((encoded.max(axis=-1) > cap).mean())
    if share > 0.01:
        raise InputError(
            f"{path}: a mean reflectance of {target:g} takes {share:.0%} of this map above 1. "
            f"State at most {target / (scale * float(_LINEAR[encoded.max()])):.2f}."
        )
    notes.append(f"{path.name}: its brightest {share:.2%} are held at a reflectance of 1.")
    return np.minimum(encoded, np.uint8(cap)), scale, target
