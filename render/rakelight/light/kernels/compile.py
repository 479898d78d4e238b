"""How every kernel is compiled: once for each function, cached where a cache can be written."""

from collections.abc import Callable
from functools import partial
from typing import Any

import numba

#: True as soon as one kernel found no folder for its compiled code; `cli` says so in one line.
CACHE_MISSING: list[str] = []


def kernel(function: Callable[..., Any], error_model: str = "python") -> Callable[..., Any]:
    """Compile a loop over float32 and integer arrays, parallel over `numba.prange`.

    With the error model "numpy" a division by zero gives infinity instead of an exception, and
    loops with divisions can run several elements at once.

    Kernels let go of the interpreter while they run, so that threads of one process run several.

    No fast maths: the order of every sum is fixed and NaN stays NaN, so one thread and two
    give the same bytes. Where no cache folder can be written the kernel is compiled anew
    in each process and its name is noted in `CACHE_MISSING`.
    """
    try:
        compiled: Callable[..., Any] = numba.njit(
            parallel=True, cache=True, nogil=True, error_model=error_model
        )(function)
    except RuntimeError:  # numba: "no locator available"
        CACHE_MISSING.append(function.__name__)
        compiled = numba.njit(parallel=True, nogil=True, error_model=error_model)(function)
    return compiled


def inline(function: Callable[..., Any], error_model: str = "python") -> Callable[..., Any]:
    """Compile a small function that kernels call."""
    compiled: Callable[..., Any] = numba.njit(function, error_model=error_model)
    return compiled


#: The same with the error model "numpy", for loops whose divisions are known to be sound.
quick, quick_kernel = partial(inline, error_model="numpy"), partial(kernel, error_model="numpy")


def own_threads() -> int:
    """How many threads may run kernels of their own at once; 1 where the layer forbids it.

    Only true once a kernel has run: the layer is chosen then.
    """
    try:
        layer = numba.threading_layer()
    except ValueError:  # no kernel has run yet
        return 1
    return int(numba.get_num_threads()) if layer in ("omp", "tbb") else 1


def run_alone() -> None:
    """Let kernels that this thread calls use no other threads."""
    numba.set_num_threads(1)
