"""How much of a step along a run lies on lit length, for all the places of a row at once."""

import numpy as np

from rakelight.light.kernels.compile import quick

F0 = np.float32(0.0)
F1 = np.float32(1.0)


@quick
def first_at(places, wanted):
    """Number of the first of some increasing places that is not below the one wanted."""
    low, high = 0, places.size
    while low < high:
        middle = (low + high) // 2
        if places[middle] < wanted:
            low = middle + 1
        else:
            high = middle
    return low


@quick
def lie_over(places, x_low, x_high, a, b, per_step, share):
    """Add the share of the step around each place that lies between a and b."""
    for c in range(share.size):
        right = places[c] + x_high
        right = right if right < b else b
        left = places[c] + x_low
        left = left if left > a else a
        overlap = right - left
        overlap = overlap if overlap > F0 else F0
        share[c] += overlap * per_step


@quick
def lit_share(lit, x_low, x_high, places, share):
    """Share of the step [u + x_low, u + x_high] on lit length, by place; the places touched."""
    count = share.size
    for c in range(count):
        share[c] = F0
    per_step = F1 / (x_high - x_low)
    first, last = count, -1
    for s in range(lit.shape[0]):
        a = lit[s, 0]
        b = lit[s, 1]
        low = first_at(places, a - x_high)
        high = first_at(places, b - x_low) - 1
        first = min(first, low)
        last = max(last, high)
        lie_over(places[low : high + 1], x_low, x_high, a, b, per_step, share[low : high + 1])
    return first, last
