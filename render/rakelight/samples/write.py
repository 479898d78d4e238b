"""Write the shipped reliefs and finishes: `python -m rakelight.samples.write textures`."""

import io
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from rakelight.samples.baguettes import terracotta_baguettes
from rakelight.samples.blasted import shot_blasted_concrete
from rakelight.samples.brick import running_brick
from rakelight.samples.concrete import board_concrete
from rakelight.samples.finishes import (
    Finish,
    acoustic_felt,
    oak_boards,
    painted_plaster,
    stone_flags,
    terrazzo,
)
from rakelight.samples.fluted import fluted_plaster
from rakelight.samples.ledgestone import split_ledgestone
from rakelight.samples.limestone import rough_limestone
from rakelight.samples.periodic import Sample
from rakelight.samples.plaster import trowelled_plaster
from rakelight.samples.plasterboard import taped_plasterboard
from rakelight.samples.slats import vertical_slats
from rakelight.samples.tile import folded_tile
from rakelight.samples.wave import wave_panel

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # Rec.709


class Entry(NamedTuple):
    """One shipped relief.

    Parameters
    ----------
    name, title : str
        Name of its files, and name for captions.
    draw : callable
        Returns the sample.
    coarsest_m : float
        Heights are rounded to this; less than is seen, and the file stays small. [m]
    gloss : float
        0 (dull) to 1.
    suits_setback_mm : tuple of int
        Setbacks that show it well.
    """

    name: str
    title: str
    draw: Callable[..., Sample]
    coarsest_m: float
    gloss: float
    suits_setback_mm: tuple[int, int]


RELIEFS = (
    Entry("split-ledgestone", "Split ledgestone", split_ledgestone, 2e-5, 0.0, (75, 300)),
    Entry("trowelled-plaster", "Trowelled plaster", trowelled_plaster, 2e-7, 0.02, (25, 100)),
    Entry("board-concrete", "Board-marked concrete", board_concrete, 2e-6, 0.0, (50, 200)),
    Entry("running-brick", "Running-bond brick", running_brick, 2e-5, 0.0, (50, 200)),
    Entry("vertical-slats", "Vertical slats", vertical_slats, 1e-5, 0.05, (100, 300)),
    Entry("folded-tile", "Folded tile", folded_tile, 4e-6, 0.15, (75, 300)),
    Entry("rough-limestone", "Rough-hewn limestone", rough_limestone, 3e-5, 0.0, (100, 450)),
    Entry("fluted-plaster", "Fluted plaster", fluted_plaster, 4e-6, 0.02, (75, 300)),
    Entry(
        "terracotta-baguettes", "Terracotta baguettes", terracotta_baguettes, 1e-5, 0.0, (100, 300)
    ),
    Entry(
        "blasted-concrete", "Shot-blasted concrete", shot_blasted_concrete, 1.4e-5, 0.0, (40, 150)
    ),
    Entry("wave-panel", "Routed wave panel", wave_panel, 3e-6, 0.2, (75, 400)),
    Entry("taped-plasterboard", "Taped plasterboard", taped_plasterboard, 1e-6, 0.03, (600, 1200)),
)


class Coat(NamedTuple):
    """One shipped finish: a reflectance map without depth.

    Parameters
    ----------
    name, title : str
        Name of its files, and name for captions.
    draw : callable
        Returns the finish.
    gloss : float
        0 (dull) to 1.
    """

    name: str
    title: str
    draw: Callable[..., Finish]
    gloss: float


FINISHES = (
    Coat("oak-boards", "Oiled oak boards", oak_boards, 0.08),
    Coat("terrazzo", "Ground terrazzo", terrazzo, 0.25),
    Coat("stone-flags", "Honed limestone flags", stone_flags, 0.10),
    Coat("painted-plaster", "Painted plaster", painted_plaster, 0.0),
    Coat("acoustic-felt", "Acoustic felt", acoustic_felt, 0.0),
)


def grey16(sample: Sample, coarsest_m: float) -> NDArray[np.uint16]:
    """Heights as 16-bit greys, row 0 at the top; 65535 stands for the sample's depth."""
    step = max(1, int(coarsest_m / sample.depth_m * 65535))
    share = np.clip(sample.heights_m / sample.depth_m, 0.0, 1.0)
    grey: NDArray[np.uint16] = (
        (np.rint(share * 65535 / step) * step).clip(0, 65535).astype(np.uint16)
    )
    return grey


def srgb8(linear: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Linear reflectance as 8-bit sRGB (IEC 61966-2-1)."""
    code = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    encoded: NDArray[np.uint8] = np.rint(np.clip(code, 0, 1) * 255).astype(np.uint8)
    return encoded


def sidecar(entry: Entry, sample: Sample, reflectance: float) -> str:
    """Text of the TOML file beside the images."""
    low, high = entry.suits_setback_mm
    return (
        f'title = "{entry.title}"\n'
        f'heights = "{entry.name}/height.png"\n'
        f'width = "{sample.width_m:g} m"\n'
        f'height = "{sample.height_m:g} m"\n'
        f'depth = "{sample.depth_m * 1000:g} mm"\n'
        'backing = "black"\n'
        'repeat = "tile"\n'
        f"reflectance = {reflectance:.3f}\n"
        f'reflectance_map = "{entry.name}/reflectance.jpg"\n'
        f"gloss = {entry.gloss:g}\n"
        f'suits_setback = ["{low} mm", "{high} mm"]\n'
    )


def write_relief(folder: Path, entry: Entry) -> None:
    """Write one relief's images and TOML file into `folder`."""
    sample = entry.draw()
    (folder / entry.name).mkdir(parents=True, exist_ok=True)
    height = io.BytesIO()
    Image.fromarray(grey16(sample, entry.coarsest_m)).save(height, "PNG", optimize=True)
    mean = float(sample.reflectance_rgb.mean(axis=(0, 1)) @ _LUMINANCE)
    _replace(folder / entry.name / "height.png", height.getvalue())
    _replace(folder / entry.name / "reflectance.jpg", _jpeg(sample.reflectance_rgb))
    _replace(folder / f"{entry.name}.toml", sidecar(entry, sample, mean).encode())


def finish_text(coat: Coat, finish: Finish, reflectance: float) -> str:
    """Text of the TOML file beside a finish's map."""
    return (
        f'title = "{coat.title}"\n'
        f'width = "{finish.width_m:g} m"\n'
        f'height = "{finish.height_m:g} m"\n'
        f"reflectance = {reflectance:.3f}\n"
        f'reflectance_map = "{coat.name}.jpg"\n'
        f"gloss = {coat.gloss:g}\n"
    )


def write_finish(folder: Path, coat: Coat) -> None:
    """Write one finish's map and TOML file into `folder`."""
    finish = coat.draw()
    folder.mkdir(parents=True, exist_ok=True)
    mean = float(finish.reflectance_rgb.mean(axis=(0, 1)) @ _LUMINANCE)
    _replace(folder / f"{coat.name}.jpg", _jpeg(finish.reflectance_rgb))
    _replace(folder / f"{coat.name}.toml", finish_text(coat, finish, mean).encode())


def _jpeg(linear: NDArray[np.float64]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(srgb8(linear)).save(out, "JPEG", quality=90, subsampling=0, optimize=True)
    return out.getvalue()


def _replace(path: Path, data: bytes) -> None:
    # whole or not at all; the room that has this for outputs lies above this one
    handle, temporary = tempfile.mkstemp(prefix=".rakelight-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def main() -> None:
    """Write all reliefs and finishes, or those named after the folder."""
    if len(sys.argv) < 2:
        sys.exit("usage: python -m rakelight.samples.write FOLDER [NAME ...]")
    names = sys.argv[2:] or [entry.name for entry in (*RELIEFS, *FINISHES)]
    for entry in RELIEFS:
        if entry.name in names:
            write_relief(Path(sys.argv[1]), entry)
    for coat in FINISHES:
        if coat.name in names:
            write_finish(Path(sys.argv[1]) / "finishes", coat)


if __name__ == "__main__":
    main()
