"""Random fields and curves that repeat without a seam, and what the samples share.

Everything is float64: a height is rounded to a coarse quantum at the end, so the last bits,
which differ between processors, never reach a file.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """An invented relief and its reflectance; both repeat in both directions.

    Parameters
    ----------
    heights_m : ndarray of float64, shape (rows, columns)
        Over the backing, toward the viewer, in [0, depth_m]; row 0 at the top. [m]
    reflectance_rgb : ndarray of float64, shape (rows, columns, 3)
        Linear Rec.709 diffuse reflectance of the same points, 0 to 1.
    width_m, height_m : float
        Physical size of one repeat. [m]
    depth_m : float
        Height that a full grey value stands for. [m]
    """

    heights_m: Array
    reflectance_rgb: Array
    width_m: float
    height_m: float
    depth_m: float


def shape_of(width_m: float, height_m: float, step_m: float) -> tuple[int, int]:
    """Rows and columns of a repeat of `width_m` x `height_m`.

    Raises
    ------
    ValueError
        If the sizes are not whole numbers of steps: the repeat would have a seam.
    """
    rows, columns = height_m / step_m, width_m / step_m
    if abs(rows - round(rows)) > 1e-6 or abs(columns - round(columns)) > 1e-6:
        raise ValueError(f"{width_m} x {height_m} m is not a whole number of {step_m} m steps")
    return round(rows), round(columns)


def _weight(wavenumber: Array, longest: float, shortest: float, fall: float) -> Array:
    with np.errstate(divide="ignore"):
        weight = np.where(wavenumber > 0, wavenumber, np.inf) ** -fall
    low = 1 / longest
    high = 1 / shortest
    # soft band limits, or the field rings
    weight *= 1 - np.exp(-((wavenumber / low) ** 4))
    weight *= np.exp(-((wavenumber / high) ** 2))
    return np.asarray(weight)


def field(
    random: np.random.Generator,
    shape: tuple[int, int],
    step_m: float,
    *,
    longest_m: float,
    shortest_m: float,
    fall: float = 2.0,
    stretch: float = 1.0,
) -> Array:
    """Gaussian field of mean 0 and variance 1 that repeats without a seam.

    Parameters
    ----------
    random : numpy.random.Generator
        Source of the field.
    shape : tuple of int
        Rows and columns.
    step_m : float
        Distance between samples. [m]
    longest_m, shortest_m : float
        Wavelengths between which the field lives, along v. [m]
    fall : float
        Amplitude falls with wavenumber to this power; 2 looks like broken stone, 1 like grain.
    stretch : float
        How many times longer the features are along u than along v.

    Returns
    -------
    ndarray of float64, shape `shape`
    """
    spectrum = np.fft.rfft2(random.standard_normal(shape))
    along_v = np.fft.fftfreq(shape[0], step_m)[:, None]
    along_u = np.fft.rfftfreq(shape[1], step_m)[None, :] * stretch
    wavenumber = np.asarray(np.hypot(along_v, along_u), dtype=np.float64)
    spectrum *= _weight(wavenumber, longest_m, shortest_m, fall)
    values = np.fft.irfft2(spectrum, shape)
    return np.asarray((values - values.mean()) / values.std())


def curve(
    random: np.random.Generator,
    count: int,
    step_m: float,
    *,
    longest_m: float,
    shortest_m: float,
    fall: float = 1.5,
) -> Array:
    """One-dimensional `field`: mean 0, variance 1, its end meets its start."""
    spectrum = np.fft.rfft(random.standard_normal(count))
    wavenumber = np.asarray(np.fft.rfftfreq(count, step_m), dtype=np.float64)
    spectrum *= _weight(wavenumber, longest_m, shortest_m, fall)
    values = np.fft.irfft(spectrum, count)
    return np.asarray((values - values.mean()) / values.std())


def window(values: Array, row: int, column: int, rows: int, columns: int) -> Array:
    """Cut `rows` x `columns` out of a repeating field, starting anywhere."""
    return np.take(
        np.take(values, np.arange(row, row + rows), axis=0, mode="wrap"),
        np.arange(column, column + columns),
        axis=1,
        mode="wrap",
    )


def block_mean(values: Array, factor: int) -> Array:
    """Average over blocks of `factor` x `factor` samples; further axes are kept."""
    rows, columns = values.shape[0] // factor, values.shape[1] // factor
    blocks = values.reshape(rows, factor, columns, factor, *values.shape[2:])
    return np.asarray(blocks.mean(axis=(1, 3)))


def worn(heights: Array, step_m: float, arris_m: float | tuple[float, float] = 0.003) -> Array:
    """Round the arrises of a repeating height field: a Gaussian of standard deviation `arris_m`.

    Two of them: along v and along u.

    No stone, brick or board keeps a knife edge, and a mesh of 2.5 mm cannot carry one: a cliff one
    cell wide has vertices only at its lit edge and its dark foot, so split stone caught a third
    more light than passed its plane; with 3 mm of wear 3 %.
    """
    out: Array = gaussian_filter(heights, np.divide(arris_m, step_m), mode="wrap")
    return out


def rise(values: Array, start: float, end: float | Array) -> Array:
    """Smooth step from 0 at `start` to 1 at `end`."""
    t = np.clip((values - start) / (end - start), 0.0, 1.0)
    return np.asarray(t * t * (3 - 2 * t))


def cells_around(
    random: np.random.Generator, shape: tuple[int, int], radius_m: float, step_m: float
) -> tuple[NDArray[np.signedinteger], tuple[NDArray[np.signedinteger], ...]]:
    """Window of at least `radius_m` around a random cell of a repeating field.

    Parameters
    ----------
    random : numpy.random.Generator
        Source of the place: a row, then a column.
    shape : tuple of int
        Rows and columns of the field.
    radius_m, step_m : float
        Half of the window, and the distance between samples. [m]

    Returns
    -------
    offsets : ndarray of int, shape (k,)
        Samples from the window's middle, along either axis.
    cells : tuple of ndarray
        Index of the window into the field, wrapped around its borders.
    """
    reach = int(radius_m / step_m) + 2
    offsets = np.arange(-reach, reach + 1)
    row, column = int(random.integers(shape[0])), int(random.integers(shape[1]))
    return offsets, cells_from(shape, row - reach, column - reach, offsets.size, offsets.size)


def cells_from(
    shape: tuple[int, ...], row: int, column: int, rows: int, columns: int
) -> tuple[NDArray[np.signedinteger], ...]:
    """Index of `rows` x `columns` cells from (row, column) on, wrapped around the borders."""
    return np.ix_((row + np.arange(rows)) % shape[0], (column + np.arange(columns)) % shape[1])


def one_of(random: np.random.Generator, colours: Array, often: Array) -> Array:
    """One row of `colours`, each met as often as its share in `often`."""
    return np.asarray(colours[int(random.choice(len(colours), p=often))])
