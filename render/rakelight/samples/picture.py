"""Invented pictures to hang: `python -m rakelight.samples.picture textures`."""

import io
import itertools
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

Array = NDArray[np.float64]

WIDTH_PX, HEIGHT_PX = 1500, 1000

#: Height of each band's upper edge (share), lean of that edge, and colour, from the foot.
_BANDS = (
    (0.17, 0.02, (0.055, 0.050, 0.060)),
    (0.31, -0.03, (0.120, 0.045, 0.030)),
    (0.40, 0.05, (0.420, 0.135, 0.045)),
    (0.47, -0.02, (0.640, 0.360, 0.110)),
    (0.68, 0.03, (0.120, 0.205, 0.235)),
    (0.83, -0.02, (0.260, 0.345, 0.340)),
    (1.20, 0.00, (0.600, 0.570, 0.480)),
)


def low_tide(seed: int = 7) -> Array:
    """An abstract of horizontal fields with a low sun: linear reflectance, row 0 at the top.

    Parameters
    ----------
    seed : int
        Of its brushwork.

    Returns
    -------
    ndarray of float64, shape (1000, 1500, 3)
        Linear Rec.709, 0 to 1.
    """
    rng = np.random.default_rng(seed)
    rows, columns = HEIGHT_PX, WIDTH_PX
    up = (1 - (np.arange(rows) + 0.5) / rows)[:, None]
    along = ((np.arange(columns) + 0.5) / columns)[None]

    def noise(down_px: float, along_px: float) -> Array:
        field = gaussian_filter(rng.standard_normal((rows, columns)), (down_px, along_px))
        out: Array = field / field.std()
        return out

    wobble = 0.012 * noise(14, 160) + 0.004 * noise(3, 40)
    picture = np.zeros((rows, columns, 3))
    picture[:] = _BANDS[0][2]
    for (edge, lean, _), (_, _, colour) in itertools.pairwise(_BANDS):
        height = up + wobble - edge - lean * (along - 0.5)
        share = np.clip(height / 0.012 + 0.5, 0, 1)[..., None]
        picture += share * (np.array(colour) - picture)
    # a low sun and its broken light on the water
    far = np.hypot((along - 0.66) * columns / rows, up - 0.60)
    sun = np.clip((0.072 - far - 0.3 * np.abs(wobble)) / 0.006, 0, 1)[..., None]
    picture += sun * (np.array([0.74, 0.30, 0.10]) - picture)
    strip = np.exp(-(((along - 0.66) / 0.045) ** 2)) * ((up < 0.47) & (up > 0.05))
    broken = np.clip(noise(2.5, 30) - 0.4, 0, 1) * strip
    picture += 0.8 * broken[..., None] * (np.array([0.80, 0.46, 0.18]) - picture)
    # brushwork: long dry strokes and the canvas below
    strokes = 1 + 0.10 * noise(1.2, 45) + 0.05 * noise(5, 120)
    weave = (
        1 + 0.03 * np.sin(np.arange(columns) * 2.1)[None] * np.sin(np.arange(rows) * 2.3)[:, None]
    )
    painted: Array = np.clip(picture * (strokes * weave)[..., None], 0.015, 0.92)
    return painted


def write_picture(folder: Path, name: str, linear: Array) -> None:
    """Write a picture as 8-bit sRGB (IEC 61966-2-1) into the folder's `pictures`."""
    code = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    out = io.BytesIO()
    Image.fromarray(np.rint(255 * code).astype(np.uint8)).save(
        out, "JPEG", quality=88, subsampling=0, optimize=True
    )
    (folder / "pictures").mkdir(parents=True, exist_ok=True)
    (folder / "pictures" / f"{name}.jpg").write_bytes(out.getvalue())


def main() -> None:
    """Write all pictures."""
    if len(sys.argv) != 2:
        sys.exit("usage: python -m rakelight.samples.picture FOLDER")
    write_picture(Path(sys.argv[1]), "low-tide", low_tide())


if __name__ == "__main__":
    main()
