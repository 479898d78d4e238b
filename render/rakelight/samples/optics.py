"""Invented linear optics as LM-63-2019 files: ``python -m rakelight.samples.optics FOLDER``.

No luminaire that is sold was measured or copied. Each optic is a curve across the run times a
cosine along it,

    I(direction) = across(phi) cos(alpha),

phi from nadir in the plane across the run, positive toward C90 (the throw), and alpha from that
plane toward the run's ends. Beside a long run the wall then gets E = pi I' sin(phi)^2 / (2 s)
(I' per metre, s the setback), which is how the wash curves were shaped: for a 2.7 m wall at 0.75
to 0.9 m.
"""

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.intensity import Intensity

Floats = NDArray[np.float64]

# Gaussian sigma for a full width at half maximum of 1
_SIGMA = 1 / (2 * np.sqrt(2 * np.log(2)))


@dataclass(frozen=True, slots=True, eq=False)
class Optic:
    """One invented luminaire.

    Parameters
    ----------
    name : str
        File name without its ending.
    says : str
        What it is made for.
    across : callable
        Relative intensity over phi in degrees, -90 to 270, toward C90.
    step_deg : float
        Grid of the file. [deg]
    gamma_deg : tuple of float
        First and last vertical angle. [deg]
    c_deg : tuple of float
        First and last horizontal angle. [deg]
    length_m, width_m : float
        Luminous opening along C0 and along C90; a negative pair is round. [m]
    lumens : float
        Of one luminaire. [lm]
    watts : float
        [W]
    """

    name: str
    says: str
    across: Callable[[Floats], Floats]
    step_deg: float
    gamma_deg: tuple[float, float]
    c_deg: tuple[float, float]
    length_m: float
    width_m: float
    lumens: float
    watts: float


def bell(phi: Floats, centre: float, below: float, above: float) -> Floats:
    """Bell with its own full width at half maximum on each side of its centre. [deg]"""
    width = np.where(phi < centre, below, above) * _SIGMA
    curve: Floats = np.exp(-0.5 * ((phi - centre) / width) ** 2)
    return curve


def skirt(phi: Floats) -> Floats:
    """Stray light of a downward opening: a cosine about nadir."""
    return np.maximum(np.cos(np.deg2rad(phi)), 0.0)


def rise(phi: Floats, centre: float, scale: float) -> Floats:
    """Smooth step up at `centre`: the inner edge of a wash's beam. [deg]"""
    curve: Floats = 1 / (1 + np.exp(-(phi - centre) / scale))
    return curve


def shoulder(phi: Floats) -> Floats:
    """Cut-off before the horizontal, so that a wash leaves no streak under the ceiling."""
    return skirt(phi) ** 0.15 * (1 - rise(phi, 80.0, 2.5))


def graze(centre: float, width: float) -> Callable[[Floats], Floats]:
    """Narrow beam a few degrees off nadir with a little stray light."""
    return lambda phi: bell(phi, centre, width, width) + 0.012 * skirt(phi)


def wash_flat(phi: Floats) -> Floats:
    """Nearly 1 / sin^2 phi, which lights a wall evenly, weaker toward the foot."""
    sine = np.sin(np.deg2rad(np.maximum(phi, 0.0)))
    beam = rise(phi, 11.5, 2.5) * shoulder(phi) / (sine**1.25 + 0.03)
    return beam + 0.02 * skirt(phi)


def wash_glow(phi: Floats) -> Floats:
    """Puts its band of most light at about 0.6 of the wall's height."""
    sine = np.sin(np.deg2rad(phi))
    band = 0.25 + 0.75 * bell(phi, 35.0, 18.0 / _SIGMA, 20.0 / _SIGMA)
    return rise(phi, 16.0, 3.5) * band * shoulder(phi) / (sine**2 + 0.03) + 0.02 * skirt(phi)


def upward(phi: Floats) -> Floats:
    """Cosine about zenith."""
    return np.maximum(-np.cos(np.deg2rad(phi)), 0.0)


def cove_throw(phi: Floats) -> Floats:
    """Peak 15 deg above horizontal, for an even ceiling."""
    return bell(phi, 105.0, 34.0, 20.0) * rise(phi, 91.5, 1.2) + 0.05 * upward(phi)


def cove_glow(phi: Floats) -> Floats:
    """Peak 25 deg above horizontal: brighter near the cove."""
    return bell(phi, 115.0, 38.0, 40.0) * rise(phi, 91.5, 1.2) + 0.10 * upward(phi)


def perimeter(phi: Floats) -> Floats:
    """Up-light only, leaning into the room, nothing at or below horizontal."""
    return upward(phi) ** 0.5 * (bell(phi, 120.0, 60.0, 70.0) + 0.25 * upward(phi))


def aimable(phi: Floats) -> Floats:
    """Beam about nadir, to be aimed by tilting the housing."""
    return bell(phi, 0.0, 26.0, 26.0) + 0.03 * skirt(phi)


def spot(phi: Floats) -> Floats:
    """Round narrow beam; here phi is gamma."""
    return bell(phi, 0.0, 16.0, 16.0) + 0.015 * skirt(phi)


_DOWN, _UP, _ALL = (0.0, 90.0), (90.0, 180.0), (0.0, 180.0)
_MIRRORED = (90.0, 270.0)

OPTICS: tuple[Optic, ...] = (
    Optic("graze-narrow", "grazing close to the wall, beam 11 deg across", graze(4.0, 11.0),
          1.0, _DOWN, _MIRRORED, 1.2, 0.020, 2400.0, 21.6),
    Optic("graze-medium", "grazing, beam 18 deg across", graze(5.0, 18.0),
          1.0, _DOWN, _MIRRORED, 1.2, 0.022, 2520.0, 22.2),
    Optic("graze-wide", "grazing, beam 28 deg across", graze(5.0, 28.0),
          2.5, _DOWN, _MIRRORED, 1.2, 0.025, 2640.0, 22.8),
    Optic("wash-flat", "even wash of a 2.7 m wall from 0.75 to 0.9 m", wash_flat,
          2.5, _DOWN, _MIRRORED, 1.2, 0.035, 3600.0, 32.4),
    Optic("wash-glow", "wash with a focal glow at mid-height, 2.7 m wall, 0.75 to 0.9 m",
          wash_glow, 2.5, _DOWN, _MIRRORED, 1.2, 0.035, 3360.0, 30.6),
    Optic("wash-aimable", "beam about nadir, aimed by tilting the housing", aimable,
          2.5, _DOWN, (0.0, 90.0), 1.2, 0.030, 3000.0, 26.4),
    Optic("cove-throw", "cove, peak 15 deg above horizontal, even ceiling", cove_throw,
          2.5, _ALL, _MIRRORED, 1.2, 0.030, 1920.0, 16.8),
    Optic("cove-glow", "cove, peak 25 deg above horizontal, focal glow", cove_glow,
          2.5, _ALL, _MIRRORED, 1.2, 0.030, 1920.0, 16.8),
    Optic("perimeter-indirect", "floating ceiling or perimeter slot, up-light only", perimeter,
          2.5, _UP, _MIRRORED, 1.2, 0.040, 2640.0, 24.0),
    Optic("spot-single", "single short luminaire with a round beam of 16 deg", spot,
          1.0, _DOWN, (0.0, 0.0), -0.040, -0.040, 900.0, 8.2),
)  # fmt: skip


def table_of(optic: Optic) -> tuple[Floats, Floats, Floats]:
    """Angles and candela as the file states them.

    Parameters
    ----------
    optic : Optic
        One of `OPTICS`.

    Returns
    -------
    c_deg, gamma_deg : ndarray of float64, shape (planes,), (angles,)
        [deg]
    candela : ndarray of float64, shape (planes, angles)
        Rounded to 0.1 cd; the flux is the optic's lumens but for the rounding.
    """
    gamma = np.arange(optic.gamma_deg[0], optic.gamma_deg[1] + 1e-6, optic.step_deg)
    c = np.arange(optic.c_deg[0], optic.c_deg[1] + 1e-6, optic.step_deg)
    cc, gg = np.deg2rad(np.meshgrid(c, gamma, indexing="ij"))
    if c.size == 1:
        curve = optic.across(np.rad2deg(gg))
    else:
        x, y, down = np.sin(gg) * np.cos(cc), np.sin(gg) * np.sin(cc), np.cos(gg)
        across = np.hypot(y, down)
        phi = np.where(across > 1e-12, np.rad2deg(np.arctan2(y, down)), 0.0)
        phi = np.mod(phi + 90, 360) - 90  # unrolled at the horizontal behind, not at zenith
        curve = optic.across(phi) * np.sqrt(np.maximum(1 - x * x, 0.0))
    # nadir and zenith are one direction each, whatever the rounding of the sines says
    for column, angle in ((0, 0.0), (-1, 180.0)):
        if gamma[column] == angle:
            curve[:, column] = curve[0, column]
    repeats = {0.0: 360.0, 90.0: 4.0, 180.0: 2.0}[optic.c_deg[1] - optic.c_deg[0]]
    if c.size == 1:
        unit = _flux(np.array([0.0, 2 * np.pi]), np.deg2rad(gamma), np.repeat(curve, 2, axis=0))
    else:
        unit = repeats * _flux(np.deg2rad(c), np.deg2rad(gamma), curve)
    return c, gamma, np.round(curve * (optic.lumens / unit), 1)


def _flux(c_rad: Floats, gamma_rad: Floats, candela: Floats) -> float:
    """Flux over the stored planes alone. [lm]"""
    nan = float("nan")
    return Intensity(c_rad, gamma_rad, candela, nan, 0.0, 0.0, 0.0, "").lumens


def lm63_text(optic: Optic) -> str:
    """Whole text of the optic's LM-63-2019 file, lines ending in CR LF.

    Parameters
    ----------
    optic : Optic
        One of `OPTICS`.

    Returns
    -------
    str
        The same every time.

    References
    ----------
    .. [1] ANSI/IES LM-63-2019; file-generation type 1.00010, computer simulation, from memory.
    """
    c, gamma, candela = table_of(optic)
    lines = [
        "IES:LM-63-2019",
        f"[TEST] invented optic {optic.name}",
        "[TESTLAB] none, computed",
        "[ISSUEDATE] 01-JAN-2025",
        "[MANUFAC] none, invented",
        f"[LUMCAT] {optic.name}",
        f"[LUMINAIRE] {optic.says}",
        "[OTHER] Not a product: shaped by a formula for examples and tests.",
        "TILT=NONE",
        f"1 -1 1 {gamma.size} {c.size} 1 2 {optic.width_m:g} {optic.length_m:g} 0",
        f"1 1.00010 {optic.watts:g}",
        *_wrapped(gamma),
        *_wrapped(c),
    ]
    for plane in candela:
        lines.extend(_wrapped(plane))
    return "\r\n".join(lines) + "\r\n"


def _wrapped(values: Floats, most: int = 16) -> list[str]:
    words = [f"{value:.1f}".removesuffix(".0") for value in values]
    return [" ".join(words[k : k + most]) for k in range(0, len(words), most)]


def write_all(folder: Path) -> list[Path]:
    """Write every optic's file into `folder`, each whole or not at all.

    Parameters
    ----------
    folder : Path
        Made if it is not there.

    Returns
    -------
    list of Path
        The files, in the order of `OPTICS`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for optic in OPTICS:
        path = folder / f"{optic.name}.ies"
        draft = path.with_name(f".{path.name}.part")
        draft.write_bytes(lm63_text(optic).encode("ascii"))
        os.replace(draft, path)
        written.append(path)
    return written


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m rakelight.samples.optics FOLDER")
    for file in write_all(Path(sys.argv[1])):
        print(file)
