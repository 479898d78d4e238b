"""A photograph becomes reflectance: the smooth part of its own lighting is divided out."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.number import Number

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # Rec.709
_BLOCKS = 96  # along the longer side
_ORDER = 2  # a third bends after single stones: up to twice the error (tried)
_PARTS, _CHANCE = 6, 2.0
_MOST_LOST = 0.25
_WORTH_SAYING = 0.001
_STRONG = 8.0
_MAY_PASS_1 = 0.01

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PhotoReflectance:
    """Reflectance over a surface, from a photograph.

    Parameters
    ----------
    encoded : ndarray of uint8, shape (rows, columns, 3)
        sRGB-encoded (IEC 61966-2-1), its brightest at full scale; rows as in the photograph.
    numbers : tuple of Number
        What was divided out and where nothing could be.
    notes : tuple of str
        Cautions, one line each.
    """

    encoded: NDArray[np.uint8]
    numbers: tuple[Number, ...]
    notes: tuple[str, ...]


def photo_reflectance(
    linear: NDArray[np.float32],
    clipped: NDArray[np.bool_],
    black: NDArray[np.bool_],
    reflectance: float,
) -> PhotoReflectance:
    """Divide a photograph's lighting out.

    Parameters
    ----------
    linear : ndarray of float32, shape (rows, columns, 3)
        Linear Rec.709.
    clipped, black : ndarray of bool, shape (rows, columns)
        Where nothing is known.
    reflectance : float
        Mean reflectance that the map will be scaled to. 0 to 1

    Returns
    -------
    PhotoReflectance

    Raises
    ------
    ValueError
        If too much is clipped or black, or the reflectance would take the map above 1.

    Notes
    -----
    The lighting's logarithm is a polynomial of second order over the picture, fitted to the
    means of blocks with Huber's weights: lamps' fall-off, vignetting and a leaning light, but
    no stone; trends that chance explains are left alone. All channels are divided by the same
    field, so colour is kept. A surface that itself grows darker toward one side is evened out
    with it; no photograph can tell the two apart.
    """
    if not 0 < reflectance <= 1:
        raise ValueError(f"the reflectance is {reflectance:g}; it must be above 0, at most 1")
    lost = float((clipped | black).mean())
    if lost > _MOST_LOST:
        raise ValueError(
            f"{lost:.0%} of the photograph is clipped or black; at most {_MOST_LOST:.0%} may be. "
            "Take it again with another exposure"
        )
    luminance = linear @ _LUMINANCE
    coefficients = _fitted(luminance, ~(clipped | black))
    rows, columns = luminance.shape
    v, u = _places(rows), _places(columns)
    mean_log = _field(coefficients, v[:: max(1, rows // 64)], u[:: max(1, columns // 64)])
    lowest, highest = float(mean_log.min()), float(mean_log.max())
    middle = float(mean_log.mean())
    even = np.empty_like(linear)
    for start in range(0, rows, 256):  # bounded work space
        field = _field(coefficients, v[start : start + 256], u)
        factor = np.exp(middle - field).astype(np.float32)
        even[start : start + 256] = linear[start : start + 256] * factor[..., None]
    mean = float((even.reshape(-1, 3).mean(axis=0, dtype=np.float64) * _LUMINANCE).sum())
    brightest = even.max(axis=-1)
    over = float((brightest * (reflectance / mean) > 1).mean())
    if over > _MAY_PASS_1:
        limit = math.floor(100 * mean / float(np.quantile(brightest, 1 - _MAY_PASS_1))) / 100
        raise ValueError(
            f"a mean reflectance of {reflectance:g} takes {over:.0%} of the map above 1; "
            f"state at most {limit:.2f}"
        )
    notes = ["the relief's own shadows and highlights stay in it: photograph under flat light"]
    ratio = math.exp(highest - lowest)
    if ratio > _STRONG:
        notes.append(
            f"its lighting varied {ratio:.0f}:1; where it was dim, noise was raised with it"
        )
    shares = (("clipped", clipped, "too bright"), ("black", black, "too dark"))
    for key, where, says in shares:
        share = float(where.mean())
        if share > _WORTH_SAYING:
            notes.append(f"{share:.1%} is {key}, {says} to know; its lighting stays in it there")
    numbers = (
        Number("photo.lighting_ratio", ratio, "1", "lighting divided out, brightest to darkest"),
        Number("photo.clipped_share", float(clipped.mean()), "1", "clipped, not corrected"),
        Number("photo.black_share", float(black.mean()), "1", "black, not corrected"),
    )
    top = min(float(brightest.max()), mean / reflectance)
    return PhotoReflectance(_encoded(even, top), numbers, tuple(notes))


def check_shape(
    photo: tuple[int, int], width_m: float, height_m: float, within: float = 0.01
) -> float:
    """Check that a photograph can show what a height map shows.

    Parameters
    ----------
    photo : tuple of int
        Rows and columns.
    width_m, height_m : float
        What the height map shows. [m]
    within : float
        How far the ratios may differ.

    Returns
    -------
    float
        Stretch that is needed, 1 for none.

    Raises
    ------
    ValueError
        Beyond `within`.
    """
    rows, columns = photo
    own, wanted = columns / rows, width_m / height_m
    stretch = wanted / own
    if abs(stretch - 1) > within:
        raise ValueError(
            f"{columns} x {rows} pixels, width over height {own:.3f}; the height map's is "
            f"{wanted:.3f}. Crop it to the same part of the surface, within {within:.0%}"
        )
    return stretch


def _places(count: int) -> Floats:
    return np.asarray((np.arange(count) + 0.5) / count * 2 - 1, np.float64)


def _powers() -> list[tuple[int, int]]:
    return [(i, k) for i in range(_ORDER + 1) for k in range(_ORDER + 1 - i)]


def _field(coefficients: Floats, v: Floats, u: Floats) -> Floats:
    """Logarithm of the lighting at the crossings of v and u."""
    out = np.zeros((v.size, u.size))
    for c, (i, k) in zip(coefficients, _powers(), strict=True):
        out += c * np.outer(v**i, u**k)
    return out


def _fitted(luminance: NDArray[np.float32], known: NDArray[np.bool_]) -> Floats:
    rows, columns = luminance.shape
    side = max(1, math.ceil(max(rows, columns) / _BLOCKS))
    row_cuts, column_cuts = np.arange(0, rows, side), np.arange(0, columns, side)

    def blocks(values: NDArray[np.float32]) -> Floats:
        over_rows = np.add.reduceat(values, row_cuts, axis=0, dtype=np.float64)
        return np.asarray(np.add.reduceat(over_rows, column_cuts, axis=1), np.float64)

    count = blocks(known.astype(np.float32))
    total = blocks(np.where(known, luminance, np.float32(0)))
    size = blocks(np.ones_like(luminance))
    used = (count > 0.5 * size) & (total > 0)
    log = np.log(total[used] / count[used])
    v = (np.minimum(row_cuts + side, rows) + row_cuts) / rows - 1
    u = (np.minimum(column_cuts + side, columns) + column_cuts) / columns - 1
    vv, uu = np.meshgrid(v, u, indexing="ij")
    terms = np.stack([vv[used] ** i * uu[used] ** k for i, k in _powers()], axis=1)
    weight = np.ones(log.size)
    coefficients: Floats = np.zeros(terms.shape[1])
    for _ in range(20):
        root = np.sqrt(weight)
        found = np.linalg.lstsq(terms * root[:, None], log * root, rcond=1e-8)[0]
        coefficients = np.asarray(found, np.float64)
        rest = np.abs(log - terms @ coefficients)
        limit = 1.345 * 1.4826 * float(np.median(rest))
        if limit <= 1e-9:
            break
        weight = np.minimum(1.0, limit / np.maximum(rest, 1e-12))
    places = np.stack([vv[used], uu[used]], axis=1)
    return _beyond_chance(terms, log, weight, places, coefficients)


def _beyond_chance(
    terms: Floats, log: Floats, weight: Floats, places: Floats, coefficients: Floats
) -> Floats:
    """Shrink the fit by what a few stones that differ would give under even light.

    Positive-part shrinkage of each orthogonal term (W. James and C. Stein, 1961, from memory).
    What chance gives is judged from the means of a few large parts, within which stones of any
    usual size have averaged as they do over the picture.
    """
    root = np.sqrt(weight)
    triangle = np.linalg.qr(terms * root[:, None], mode="r")
    rest = (log - terms @ coefficients) * root
    part = np.clip((places + 1) / 2 * _PARTS, 0, _PARTS - 1).astype(np.int64) @ [_PARTS, 1]
    size = np.bincount(part, minlength=_PARTS**2)
    sums = np.bincount(part, rest, minlength=_PARTS**2)
    freedom = max(1, int((size > 0).sum()) - terms.shape[1])
    chance = float((sums[size > 0] ** 2 / size[size > 0]).sum()) / freedom
    amount = triangle @ coefficients
    kept = np.clip(1 - _CHANCE * chance / np.maximum(amount**2, 1e-300), 0, 1)
    kept[0] = 1.0  # the picture's own level
    shrunk: Floats = np.linalg.lstsq(triangle, amount * kept, rcond=1e-8)[0]
    return shrunk


def _encoded(linear: NDArray[np.float32], top: float) -> NDArray[np.uint8]:
    out = np.empty(linear.shape, dtype=np.uint8)
    for start in range(0, len(linear), 256):
        part = np.clip(linear[start : start + 256] / np.float32(top), 0, 1)
        code = np.where(part <= 0.0031308, 12.92 * part, 1.055 * part ** (1 / 2.4) - 0.055)
        out[start : start + 256] = np.rint(code * 255)
    return out
