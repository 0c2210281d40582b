"""Memory the engine is done with goes back to the system."""

from __future__ import annotations

import ctypes
import sys
from functools import cache

MMAP_THRESHOLD = -3
"""mallopt(3): the size in bytes from which a block is mapped, and given back, on its own."""
LARGE = 4 << 20
TRIM_THRESHOLD = -1
"""mallopt(3): free bytes at the end of the heap from which that end is given back."""
KEPT = 64 << 20


@cache
def give_back() -> None:
    """Large blocks are given back as soon as they are free. glibc raises its threshold to 32 MB by
    itself, and the holes the engine's arrays leave then stay with the program: half of all it
    holds (measured). The end of the heap stays: fetched anew, a page at a time, for every array of a
    megabyte, it makes weighing a few hundred hypotheses four times slower (measured).
    Elsewhere than on Linux with glibc nothing happens."""
    if sys.platform != "linux":
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(MMAP_THRESHOLD, LARGE)
        mallopt(TRIM_THRESHOLD, KEPT)
