"""Lit lengths of a run: luminaires end to end, with gaps, along a wall."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Lengths:
    """Where a run is lit.

    Parameters
    ----------
    lit_m : ndarray of float64, shape (k, 2)
        From the wall's left end, touching lengths merged. [m]
    bodies_m : ndarray of float64, shape (n, 2)
        Each luminaire's luminous length, not merged; one entry for a run made to measure. [m]
    count : float
        Luminaires; not whole for a run made to measure. [1]
    luminaire_m : float
        Lit length of one. [m]
    dark_end_m : float
        What stays dark before `end` because no further luminaire fits. [m]
    """

    lit_m: NDArray[np.float64]
    bodies_m: NDArray[np.float64]
    count: float
    luminaire_m: float
    dark_end_m: float

    def from_end(self) -> "Lengths":
        """The same lengths counted the other way, from the last lit end on."""
        last = float(self.lit_m[-1, 1])
        return replace(
            self, lit_m=last - self.lit_m[::-1, ::-1], bodies_m=last - self.bodies_m[::-1, ::-1]
        )


def lay_out(
    start_m: float,
    end_m: float,
    *,
    count: int | None,
    length_m: float | None,
    gap_m: float,
    file_length_m: float,
    centred: bool = False,
) -> Lengths:
    """Lay luminaires out from `start_m`.

    Parameters
    ----------
    start_m, end_m : float
        Where the run may be. [m]
    count : int or None
        None with no `length_m` and no gap: one lit length from start to end; None otherwise:
        as many as fit.
    length_m : float or None
        Lit length of one; None: the file's. [m]
    gap_m : float
        Dark length between openings. [m]
    file_length_m : float
        Lit length of the luminaire that the file describes. [m]
    centred : bool
        Leave as much dark before the first as after the last.

    Raises
    ------
    ValueError
        If not one luminaire, or not `count` of them, fits; the text says what would.
    """
    room = end_m - start_m
    if count is None and length_m is None and gap_m == 0:
        whole = np.array([[start_m, end_m]])
        return Lengths(whole, whole, room / file_length_m, file_length_m, 0.0)
    each = file_length_m if length_m is None else length_m
    pitch = each + gap_m
    fits = int((room + gap_m) / pitch + 1e-9)
    number = fits if count is None else count
    if number < 1 or number > fits:
        raise ValueError(str(fits))
    spare = room - (number * pitch - gap_m)
    first = start_m + (spare / 2 if centred else 0.0) + pitch * np.arange(number)
    bodies = np.stack([first, first + each], axis=1)
    lit = bodies if gap_m > 1e-9 else np.array([[bodies[0, 0], bodies[-1, 1]]])
    return Lengths(lit, bodies, float(number), each, max(0.0, end_m - float(bodies[-1, 1])))
