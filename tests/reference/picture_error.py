"""How far a still is from the same scene computed at four times the vertices and samples.

    .venv/bin/python tests/reference/picture_error.py               # every shipped relief
    .venv/bin/python tests/reference/picture_error.py NAME ...      # some

It lights a wall of 1.2 x 0.9 m with a graze 76 mm off it, seen square-on at the scale of a full
still (2.5 mm a pixel), once as stills are made and once with half the mesh step and twice the
azimuths and steps, and prints CIEDE2000 between the two 8-bit pictures over the relief's pixels.
"""

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))
from rakelight.build.scene import build_scene
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.picture.draw import draw
from rakelight.picture.exposure import automatic_ev100
from rakelight.picture.shade import develop, shade
from rakelight.picture.tone import WHITE, srgb_decode
from rakelight.picture.white import DEGREE, adaptation, balanced, white_of
from rakelight.read.shipped import shipped_folder
from rakelight.scene.quality import Quality
from reference.colour_library import colour_library

SCENE = """
title = "Crop"
[room]
width = 1.2
depth = 2.4
height = 0.9
[[relief]]
texture = "TEXTURE"
[picture]
width = 480
height = 360
figure = false
[[camera]]
name = "front"
[[run]]
lights = "main"
photometry = "graze-narrow"
setback = "SETBACK"
drop = "40 mm"
dim = 0.6
cct = "3000 K"
"""


@dataclass(frozen=True)
class Difference:
    mean: float
    high: float  # 95th percentile
    pixels: int


def codes_of(path: Path, quality: Quality, ev100: float | None):
    scene = build_scene(path, quality=quality)
    lit = direct(prepare(scene.room, quality))
    view = draw(scene.room, scene.cameras[0], quality.supersample)
    matrix = adaptation(white_of(scene.room.groups), float(DEGREE))
    picture = balanced(shade(view, scene.room, lit), matrix)
    if ev100 is None:
        ev100 = automatic_ev100([picture.of(view, ("main",))], WHITE)
    return develop(picture, ev100), picture.ids == view.names.index("main"), ev100


def difference(texture: str, setback: str = "76 mm") -> Difference:
    """CIEDE2000 over the relief's pixels."""
    usual = Quality()
    fine = Quality(
        mesh_step_m=usual.mesh_step_m / 2,
        plane_step_m=usual.plane_step_m / 2,
        azimuths=usual.azimuths * 2,
        steps=usual.steps * 2,
        supersample=usual.supersample * 2,
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "crop.toml"
        text = SCENE.replace("TEXTURE", texture).replace("SETBACK", setback)
        path.write_text(text, encoding="utf-8")
        codes, on, ev100 = codes_of(path, usual, None)
        exact, on_too, _ = codes_of(path, fine, ev100)
    here = on & on_too
    apart = ciede2000(codes[here], exact[here])
    return Difference(float(apart.mean()), float(np.quantile(apart, 0.95)), int(here.sum()))


def ciede2000(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Colour difference of sRGB codes, shape (k, 3), under D65 (by colour-science)."""
    colour = colour_library()
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    to_xyz = colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ
    lab = [colour.XYZ_to_Lab(srgb_decode(c / 255.0) @ to_xyz.T, white) for c in (one, other)]
    return np.asarray(colour.delta_E(*lab, method="CIE 2000"))


def main() -> None:
    names = sys.argv[1:] or sorted(p.stem for p in shipped_folder("textures").glob("*.toml"))
    for name in names:
        found = difference(name)
        print(f"{name:24} mean {found.mean:.2f}  95 % below {found.high:.2f}", flush=True)


if __name__ == "__main__":
    main()
