"""Memory that was freed is used again instead of going back to the system and coming again."""

import ctypes

# <malloc.h> of the GNU C library
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
#: Larger arrays go back at once, so that they leave no gaps.
_LARGE_BYTES = 1 << 28
_KEPT_BYTES = (1 << 31) - 1


def keep_freed_memory() -> None:
    """Let this process keep what its arrays leave free; nothing where the C library has no say.

    Arrays of some megabytes come and go all the time here. By default each is mapped anew, and
    the system clears its pages again: 8 % of all time of a sweep.
    """
    try:
        option = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError, TypeError):  # another C library
        return
    option(_MMAP_THRESHOLD, _LARGE_BYTES)
    option(_TRIM_THRESHOLD, _KEPT_BYTES)
    option(_ARENA_MAX, 1)  # a thread's own arena cannot hold arrays of that size
