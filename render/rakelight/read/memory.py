"""How much memory is free, for guards that say which step would fit."""

import os
from pathlib import Path


def available_memory_bytes(meminfo: Path = Path("/proc/meminfo")) -> int | None:
    """Memory that can be used without swapping; None where the system does not say.

    Parameters
    ----------
    meminfo : Path
        Where Linux tells it (proc(5)); elsewhere half of the physical memory is taken.
    """
    try:
        for line in meminfo.read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    except (OSError, ValueError, IndexError):
        pass
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    except (AttributeError, OSError, ValueError):
        return None
