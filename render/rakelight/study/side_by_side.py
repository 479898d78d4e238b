"""Jobs done on several cores, results in the order of the jobs.

Threads of one process, each with its own kernels: what a step does outside the kernels runs on
one core only, so that two steps side by side take little longer than one. Horizons and form
factors are in memory once.
"""

import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Event
from typing import TypeVar

from rakelight.light.kernels.compile import own_threads, run_alone

Found = TypeVar("Found")

#: How long a thread may hold the interpreter that another waits for; every kernel's end waits
#: so. The usual 5 ms cost two steps side by side a twentieth of their time. [s]
SWITCH_S = 2e-4


class Stopped(Exception):
    """Raised in a job that nobody waits for any more."""


def in_order(
    jobs: Iterable["Found | Callable[[Event], Found]"], *, several: bool = True
) -> Iterator[Found]:
    """Do jobs, at most one more in hand than there are cores.

    Parameters
    ----------
    jobs : iterable
        Results that are known, and functions that find the others. A function is given an event;
        once it is set nobody waits for the result, and the job may end itself with `Stopped`.
    several : bool
        False: one after the other, each on all cores.

    Yields
    ------
    object
        Results, in the order of the jobs. What a job raises is raised here in its turn.

    Notes
    -----
    The first function runs here and on all cores: it prepares what the others share.
    """
    stop = Event()
    waiting: deque[Found | Future[Found]] = deque()
    pool: ThreadPoolExecutor | None = None
    threads = 0
    usual_s = sys.getswitchinterval()
    try:
        for job in jobs:
            if not callable(job):
                waiting.append(job)
            elif pool is not None:
                waiting.append(pool.submit(job, stop))
            else:
                waiting.append(job(stop))
                threads = own_threads() if several else 1
                if threads > 1:
                    sys.setswitchinterval(SWITCH_S)
                    pool = ThreadPoolExecutor(threads, initializer=run_alone)
            while waiting and (not _unknown(waiting) or _unknown(waiting) > threads):
                yield _result(waiting.popleft())
        while waiting:
            yield _result(waiting.popleft())
    finally:
        stop.set()
        if pool is not None:
            pool.shutdown(cancel_futures=True)
        sys.setswitchinterval(usual_s)


def _unknown(waiting: "Iterable[Found | Future[Found]]") -> int:
    return sum(isinstance(one, Future) and not one.done() for one in waiting)


def _result(one: "Found | Future[Found]") -> Found:
    return one.result() if isinstance(one, Future) else one
