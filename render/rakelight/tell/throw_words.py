"""What is said where a run's light is strongest twice across a ceiling: near it, and far out.

A cove's light often makes a narrow bright line beside it and a broad band across the room. Half
of the peak is then half of the narrow line, and where it is left says little unless both are told.
"""

import math
from collections.abc import Callable, Sequence

#: Two places that are this close are one. [m]
SAME_M = 0.05


def second_words(
    first_m: float, half_m: float, second_m: float, share: float, say: Callable[[float], str]
) -> str:
    """Say that the light rises again beyond its peak, and what its half then means.

    Parameters
    ----------
    first_m, half_m : float
        From the run to where its light is first down to half of its peak, and to where it is so
        for good. [m]
    second_m : float
        From the run to its second maximum; nan where it has one alone. [m]
    share : float
        The second maximum over the first.
    say : callable
        Writes a distance.

    Returns
    -------
    str
        To follow what is said of the half; empty where there is one maximum.
    """
    if not (math.isfinite(second_m) and math.isfinite(first_m)):
        return ""
    rises = f"rises to {100 * share:.0f} % of its peak again {say(second_m)} out"
    if not math.isfinite(half_m):
        return (
            f" for good: it falls to half {say(first_m)} out, the edge of a narrow bright line, "
            f"but {rises}"
        )
    if half_m - first_m < SAME_M:
        return f", the edge of a narrow bright line; beyond that it {rises}"
    return f" for good: a narrow bright line ends {say(first_m)} out, beyond which it {rises}"


def jump_words(labels: Sequence[str], first_m: Sequence[float], half_m: Sequence[float]) -> str:
    """Say where in a sweep the half leaves the narrow line for the broad band, or comes back.

    Parameters
    ----------
    labels : sequence of str
        Of the steps.
    first_m, half_m : sequence of float
        As for `second_words`, one for each step; first_m is nan for one with one maximum.

    Returns
    -------
    str
        Empty where it does not.
    """
    far = [
        math.isfinite(first) and not half - first < SAME_M  # nan: never for good
        for first, half in zip(first_m, half_m, strict=True)
    ]
    two = [math.isfinite(first) for first in first_m]
    for k in range(1, len(far)):
        if far[k] != far[k - 1] and two[k] and two[k - 1]:
            passes = "comes over" if far[k] else "falls under"
            return (
                f"it jumps from {labels[k - 1]} to {labels[k]}, where the light that rises again "
                f"beyond a narrow bright line {passes} half of it"
            )
    return ""
