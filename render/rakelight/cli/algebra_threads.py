"""One thread for the linear algebra library: kernels have the cores, and sums keep their order."""

import os


def keep_algebra_on_one_core() -> None:
    """Hold matrix products to the thread that asks for them; call it before numpy is loaded.

    The products here are small, and after each one the library's own threads wait busily for the
    next: a fifth of all processor time of a sweep, taken from the steps that run side by side.
    Whoever has set the variable is not overruled.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
