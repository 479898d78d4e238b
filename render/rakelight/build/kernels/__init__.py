"""Compiled loops of the room `build`: plain arrays in and out."""

from collections.abc import Callable
from typing import Any

import numba


def loop(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop for one thread, so that its order never changes; cached where it can be."""
    try:
        compiled: Callable[..., Any] = numba.njit(cache=True)(function)
    except RuntimeError:  # numba: "no locator available"
        compiled = numba.njit(function)
    return compiled
