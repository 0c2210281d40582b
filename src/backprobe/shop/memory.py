"""Memory the engine is done with goes back to the system."""

from __future__ import annotations

import ctypes
import sys
from functools import cache

MMAP_THRESHOLD = -3
"""mallopt(3): the size in bytes from which a block is mapped, and given back, on its own."""
LARGE = 4194304


@cache
def give_back() -> None:
    """Large blocks are given back as soon as they are free. glibc raises its threshold to 32 MB by
    itself, and the holes the engine's arrays leave then stay with the program: half of all it
    holds (measured). Elsewhere than on Linux with glibc nothing happens."""
    if sys.platform != "linux":
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(MMAP_THRESHOLD, LARGE)
