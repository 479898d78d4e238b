"""A painting as the measures see it: a rectangle on a surface."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Painting:
    """One painting, graphic or mural.

    Parameters
    ----------
    tag : str
        Its name.
    on : str
        Its wall.
    surface : str
        The surface that carries its light: its own, or the wall for a mural.
    low_m, high_m : tuple of float
        Corners of the image on that surface, as (u, v). [m]
    glazed : bool
        Whether it is behind glass.
    """

    tag: str
    on: str
    surface: str
    low_m: tuple[float, float]
    high_m: tuple[float, float]
    glazed: bool = False
