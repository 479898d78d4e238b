"""Words for places on a surface: heights up a wall, distances from a wall across a ceiling."""

from dataclasses import dataclass

from rakelight.scene.surfaces import Surface


@dataclass(frozen=True, slots=True)
class LieWords:
    """How to say where along v something is.

    Parameters
    ----------
    along : str
        After a length: ``up from the foot``, ``from the main wall``.
    start, end : str
        What lies where v is 0, and at its other end: ``the foot``, ``the main wall``.
    """

    along: str
    start: str
    end: str


def lie_words(surface: Surface) -> LieWords:
    """Words for a wall's heights, or for distances across a floor or ceiling.

    A level or sloping surface is said from the wall, or the ridge, where its v begins.
    """
    frame = surface.frame
    if abs(float(frame.n[2])) < 0.5:
        return LieWords("up from the foot", "the foot", "the top")
    x, y = float(frame.v[0]), float(frame.v[1])
    if abs(x) > abs(y):
        start, end = ("left", "right") if x > 0 else ("right", "left")
    else:
        start, end = ("opposite", "main") if y > 0 else ("main", "opposite")
    begins = "the ridge" if surface.name.endswith(" far") else f"the {start} wall"
    return LieWords(f"from {begins}", begins, f"the {end} wall")
