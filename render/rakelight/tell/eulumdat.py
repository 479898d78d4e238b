"""EULUMDAT files from a distribution."""

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.measure.photometry import downward_share
from rakelight.scene.intensity import Intensity
from rakelight.tell.stored_planes import angle_text, even_step, number_text, stored_planes

Floats = NDArray[np.float64]
_ISYM = {"none": 0, "rotational": 1, "C0-C180": 2, "C90-C270": 3, "quadrants": 4}
_WIDEST = 78


def eulumdat_bytes(intensity: Intensity) -> bytes:
    """Write a distribution as a EULUMDAT file.

    The C angles are kept as they are, so the opening's sizes go where they lie: line 16 along
    C90, line 17 along C0. The ten direct ratios, which no light is computed from, are 0.

    Parameters
    ----------
    intensity : Intensity
        Of type C.

    Returns
    -------
    bytes
        Reading them gives the same light to better than 1e-6; lines end in CR LF, Latin-1.

    Raises
    ------
    InputError
        If the distribution is of type A or B, which the format cannot hold.

    References
    ----------
    .. [1] A. W. Stockmar, EULUMDAT, 1990 (from memory).
    """
    if intensity.native is not None:
        raise InputError(
            f"{intensity.name}: type {intensity.native.photometric_type}; EULUMDAT holds type C "
            "only. Write an .ies file, which keeps the angles."
        )
    stored = stored_planes(intensity)
    isym, c, candela = _chosen(stored.symmetry, stored.c_deg, stored.candela)
    gamma = stored.gamma_deg
    # the lumens as written are the ones that the intensities are divided by
    lumens = float(number_text(intensity.lumens if intensity.absolute else intensity.lamp_lumens))
    ratio = 100 * intensity.lumens / lumens
    along, across = (1000 * v for v in (intensity.width_m, intensity.length_m))
    if intensity.opening_shape == "circle":
        across = 0.0
    elif along > 0 and across == 0:
        across = 0.1  # a width of 0 would mean a disc
    height = number_text(1000 * intensity.height_m)
    words = {key.upper(): text for key, text in reversed(intensity.keywords)}
    watts = 0.0 if np.isnan(intensity.watts) else intensity.watts
    point = intensity.long_side_m <= 2 * intensity.short_side_m
    lines = [
        _plain(words.get("MANUFAC", "not stated")),
        str((1 if isym == 1 else 3) if point else 2),
        str(isym),
        str(c.size),
        angle_text(even_step(c)),
        str(gamma.size),
        angle_text(even_step(gamma)),
        _plain(words.get("TEST", "")),
        _plain(words.get("LUMINAIRE", intensity.name)),
        _plain(words.get("LUMCAT", "")),
        _plain(intensity.name),
        _plain(words.get("ISSUEDATE", "")),
        number_text(along),
        number_text(across),
        height,
        number_text(along),
        number_text(across),
        *[height] * 4,
        number_text(round(100 * downward_share(intensity), 2)),
        number_text(round(ratio, 2)),
        "1",
        "0",
        "1",
        "-1" if intensity.absolute else "1",
        _plain(words.get("LAMP", "not stated")),
        number_text(lumens),
        _plain(words.get("COLORTEMP", "not stated")),
        _plain(words.get("CRI", "not stated")),
        number_text(watts),
        *["0"] * 10,
        *[angle_text(v) for v in c],
        *[angle_text(v) for v in gamma],
        *[number_text(v) for v in (candela * (1000 / lumens)).ravel()],
    ]
    return ("\r\n".join(lines) + "\r\n").encode("latin-1", "replace")


def not_kept_in_eulumdat(intensity: Intensity) -> tuple[str, ...]:
    """What the format has no place for, in words."""
    lost = []
    if intensity.lamp_tilt is not None:
        lost.append("the lamp's output against tilt")
    if intensity.round_opening and intensity.opening_shape != "circle":
        lost.append(f"the opening's shape ({intensity.opening_shape})")
    kept = {"MANUFAC", "TEST", "LUMINAIRE", "LUMCAT", "ISSUEDATE", "LAMP", "COLORTEMP", "CRI"}
    others = sorted({key.upper() or "label" for key, _ in intensity.keywords} - kept)
    if others:
        lost.append(f"keyword lines ({', '.join(others)})")
    return tuple(lost)


def _chosen(symmetry: str, c_deg: Floats, candela: Floats) -> tuple[int, Floats, Floats]:
    """Isym, the angle list and the stored planes in the format's order."""
    count, isym = c_deg.size, _ISYM[symmetry]
    if isym == 1:
        return 1, c_deg[:1], candela[:1]
    if isym == 2:
        return 2, c_deg, candela[: count // 2 + 1]
    # the format finds C90 and C270 by their place in the list
    quarters = count % 4 == 0 and c_deg[count // 4] == 90 and c_deg[3 * count // 4] == 270
    if isym == 3 and quarters:
        return 3, c_deg, np.concatenate([candela[3 * count // 4 :], candela[: count // 4 + 1]])
    if isym == 4 and quarters:
        return 4, c_deg, candela[: count // 4 + 1]
    if c_deg[-1] <= 180:  # planes must be seen to go all round: add one in the last gap
        last = float(c_deg[-1])
        share = (270.0 - last) / (360.0 - last)
        extra = candela[-1] * (1 - share) + candela[0] * share
        return 0, np.append(c_deg, 270.0), np.concatenate([candela, extra[None]])
    return 0, c_deg, candela


def _plain(text: str) -> str:
    return " ".join(text.split())[:_WIDEST]
