"""Shape of a luminous opening, which LM-63 codes in the signs of its three sizes."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Signs of width, length and height of the opening to its shape.
SHAPES_2002 = {
    "-0-": "vertical circle",
    "--0": "circle",
    "--+": "vertical cylinder",
    "---": "sphere",
    "-+-": "horizontal cylinder along C0",
    "+--": "horizontal cylinder along C90",
}
SHAPES_1986 = {
    "-00": "circle",
    "-+0": "ellipse",
    "-0+": "vertical cylinder",
    "-0-": "sphere",
    "0+-": "horizontal cylinder along C0",
    "+0-": "horizontal cylinder along C90",
}


def opening(sizes: Floats, edition: int, notes: list[str]) -> tuple[float, float, float, str]:
    """Width, length and height as magnitudes, and the shape that their signs say.

    Parameters
    ----------
    sizes : ndarray of float64, shape (3,)
        Width, length, height as the file has them, in any unit.
    edition : int
        Year of LM-63.
    notes : list of str
        Odd codes are added to it.

    Returns
    -------
    width, length, height : float
        In the unit of `sizes`; a diameter written once is given to both sides.
    shape : str
        In words.
    """
    width, length, height = (float(v) for v in np.abs(sizes))
    signs = "".join("+" if v > 0 else "-" if v < 0 else "0" for v in sizes)
    if "-" not in signs:
        if signs == "000":
            notes.append("the opening is a point (0, 0, 0): its edges will look sharper than real")
        shape = {"000": "point", "++0": "rectangle", "+++": "box with luminous sides"}.get(
            signs, "line" if signs.count("+") == 1 else "rectangle"
        )
        return width, length, height, shape
    own, other = SHAPES_1986, SHAPES_2002
    if edition >= 2002:
        own, other = other, own
    shape = own.get(signs, other.get(signs, ""))
    if signs not in own:
        notes.append(
            f"the signs of the opening's sizes ({', '.join(signs)}) are not in the table of "
            f"LM-63-{edition}: " + (f"taken as a {shape}" if shape else "only their sizes are used")
        )
        shape = shape or "rounded"
    if shape == "circle" and width != length and length > 0:
        shape = "ellipse"
    if shape == "sphere" and not (width == height and length in (0, width)):
        shape = "ellipsoid"
    # the older editions write a diameter once
    if shape in ("circle", "vertical cylinder", "sphere", "ellipsoid") and length == 0:
        length = width
    if shape == "horizontal cylinder along C0" and width == 0:
        width = height
    if shape == "horizontal cylinder along C90" and length == 0:
        length = height
    return width, length, height, shape
