"""Local mean by a Gaussian whose full width at half maximum is given in metres."""

import numpy as np
from numpy.typing import NDArray

# full width at half maximum of a Gaussian over its standard deviation, 2 sqrt(2 ln 2)
FWHM_PER_SIGMA = 2.0 * np.sqrt(2.0 * np.log(2.0))
# A long axis needs no wider window than this many features of the short one: the mean
# over the short axis already takes the texture out, and a wall-high window would read the
# slow change of the light as texture.
LONGEST = 8.0
# Standard deviations in samples above which blocks are averaged first: the kernel's cost
# grows with its width, and a Gaussian of 4 blocks is as good as one of 40 samples. A running
# mean before the blocks keeps fine texture from coming back as a slow beat (0.1 % at most).
_COARSE = 12.0
_PER_BLOCK = 4.0


def local_mean(
    values: NDArray[np.float32],
    valid: NDArray[np.bool_],
    width_m: tuple[float, float],
    step_m: tuple[float, float],
) -> NDArray[np.float32]:
    """Gaussian local mean over valid samples only.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        What is averaged; anything where `valid` is False.
    valid : ndarray of bool, shape (rows, columns)
        Samples that count.
    width_m : tuple of float
        Full width at half maximum along rows (v) and columns (u); may be inf. [m]
    step_m : tuple of float
        Distance between rows and between columns. [m]

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        Divided by the filtered mask, so a border or a hole does not darken it: constant
        values come back unchanged, and a linear ramp too, away from the ends. 0 where no
        valid sample is near.

    Raises
    ------
    ValueError
        If a width is not positive.
    """
    if not (width_m[0] > 0 and width_m[1] > 0):
        raise ValueError(f"width_m is {width_m}; both must be above 0 m")
    shortest = min(width_m)
    from scipy.ndimage import gaussian_filter, gaussian_filter1d  # late: slow to load

    sigma: list[float] = []
    factor: list[int] = []
    under: NDArray[np.float32]
    for axis in (0, 1):
        extent = values.shape[axis] * step_m[axis]
        width = min(width_m[axis], LONGEST * shortest, extent)
        samples = width / step_m[axis] / FWHM_PER_SIGMA
        block = max(1, int(samples / _PER_BLOCK)) if samples >= _COARSE else 1
        block -= 1 - block % 2  # odd, so that the running mean is centred
        # two means over a block and interpolating back widen the Gaussian by f^2/12 twice
        # and f^2/6
        spread = max(samples**2 - (block**2 / 3 if block > 1 else 0), 0.0)
        sigma.append(float(np.sqrt(spread)) / block)
        factor.append(block)
    everywhere = bool(valid.all())
    weighted = values if everywhere else np.where(valid, values, np.float32(0))
    weighted = _blocks(_blocks(weighted, factor[0], 0), factor[1], 1)
    top = gaussian_filter(weighted, sigma, output=np.float32, mode="constant")
    if everywhere:  # the filtered mask is then the product of two lines
        lines: list[NDArray[np.float64]] = [
            gaussian_filter1d(
                _blocks(np.ones(n, np.float32), f, 0), s, output=np.float64, mode="constant"
            )
            for n, f, s in zip(values.shape, factor, sigma, strict=True)
        ]
        under = (lines[0][:, None] * lines[1]).astype(np.float32)
    else:
        mask = _blocks(_blocks(valid.astype(np.float32), factor[0], 0), factor[1], 1)
        under = gaussian_filter(mask, sigma, output=np.float32, mode="constant")
    mean = np.divide(top, under, out=np.zeros_like(top), where=under > 1e-6)
    out = _back(_back(mean, factor[1], values.shape[1], 1), factor[0], values.shape[0], 0)
    return np.asarray(out, dtype=np.float32)


def _blocks(values: NDArray[np.float32], size: int, axis: int) -> NDArray[np.float32]:
    """Triangle-weighted means, one for each block of `size` samples; missing samples count 0."""
    if size == 1:
        return values
    from scipy.ndimage import uniform_filter1d  # late: slow to load

    running = uniform_filter1d(values, size, axis=axis, mode="constant")
    starts = np.arange(0, values.shape[axis], size)
    sums = np.add.reduceat(running, starts, axis=axis)
    return np.asarray(sums / size, dtype=np.float32)


def _back(values: NDArray[np.float32], size: int, count: int, axis: int) -> NDArray[np.float32]:
    """Linear interpolation from block centres to `count` samples along an axis."""
    if size == 1:
        return values
    blocks = values.shape[axis]
    place = (np.arange(count) + 0.5) / size - 0.5
    low = np.clip(np.floor(place).astype(np.int64), 0, max(blocks - 2, 0))
    high = np.minimum(low + 1, blocks - 1)
    # past the outermost centres the last slope goes on, so that a ramp stays a ramp
    part = (place - low).astype(np.float32)
    if axis == 0:
        part = part[:, None]
    below = np.take(values, low, axis=axis)
    out: NDArray[np.float32] = below + (np.take(values, high, axis=axis) - below) * part
    return out
