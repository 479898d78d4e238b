"""Two pieces of work at once in one process: few of them fill the cores on their own."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from rakelight.light.kernels.compile import own_threads

Submit = Callable[..., "Future[Any]"]


@contextmanager
def alongside() -> Iterator[Submit]:
    """Give `submit(function, *args)`, which does work beside that of the caller.

    One piece after the other, in the order given; at once, before `submit` returns, where kernels
    of two threads must not run together or only one thread is wanted. The outcome is the same to
    the last bit: what is handed over must change nothing that the caller uses meanwhile.
    """
    if own_threads() > 1:
        with ThreadPoolExecutor(1) as pool:
            yield pool.submit
    else:
        yield at_once


def at_once(function: Callable[..., Any], *args: Any) -> "Future[Any]":
    """Do work here and now; what `submit` is where nothing goes beside."""
    out: Future[Any] = Future()
    out.set_result(function(*args))
    return out
