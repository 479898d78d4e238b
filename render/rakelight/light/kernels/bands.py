"""A relief's light band by band: its sum for luminance, and its level set anew."""

import numba
import numpy as np

from rakelight.light.kernels.compile import quick_kernel

F0, F1 = np.float32(0.0), np.float32(1.0)


@quick_kernel
def weighed(light, weights, out):
    """Sum of bands: light (R, C, B), weights (B,), out (R, C), all float32."""
    for r in numba.prange(out.shape[0]):
        for c in range(out.shape[1]):
            total = F0
            for b in range(weights.size):
                total += light[r, c, b] * weights[b]
            out[r, c] = total


@quick_kernel
def set_level(light, weights, found, hidden, openness, least_hidden, least, most, out):
    """Give light that a vertex has of its relief the level that was found for it.

    light (R, C, B) float32 [lx]: in the right colour; weights (B,) float32: the bands' for
    luminance; found (R, C) float32 [lx]: of what is seen within reach, hidden (R, C) float32: the
    form factor to that, openness (R, C) float32: to the room, so that what is found stands for the
    rest, between `least` and `most` times itself. Where next to nothing is seen, light stays as it
    is. out (R, C, B) float32.
    """
    for r in numba.prange(out.shape[0]):
        for c in range(out.shape[1]):
            usual = F0
            for b in range(weights.size):
                usual += light[r, c, b] * weights[b]
            ratio = F1
            if hidden[r, c] > least_hidden and usual > F0:
                rest = max(F1 - openness[r, c], F0)
                ratio = min(max(rest / hidden[r, c], least), most) * found[r, c] / usual
            for b in range(weights.size):
                out[r, c, b] = light[r, c, b] * ratio


@quick_kernel
def go_on(before, openness, rho, least, light):
    """Add to a look's light what it changed, times the sum of a share's powers; in place.

    before, light (R, C, B) float32 [lx]: what the look started from, and found; openness (R, C)
    float32; rho (B,) float32: what a vertex sends back, so that rho (1 - openness) is the share;
    least float32: of the look's light there stays so much at least.
    """
    for r in numba.prange(light.shape[0]):
        for c in range(light.shape[1]):
            hidden = min(max(F1 - openness[r, c], F0), F1)
            for b in range(rho.size):
                share = rho[b] * hidden
                last = light[r, c, b]
                on = last + share / (F1 - share) * (last - before[r, c, b])
                light[r, c, b] = max(on, least * last)
