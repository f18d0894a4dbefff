"""Memory that a process has used and will use again."""

from __future__ import annotations

import ctypes
import sys
from functools import cache

#: Parameters of mallopt(3), and what glibc itself goes up to where nobody tells it anything.
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
_MOST_MMAP_BYTES = 32 * 1024 * 1024


@cache
def keep_freed_memory() -> bool:
    """Keep it for the next piece of work of this size instead of giving it back and asking for it
    anew, even where the surroundings ask for that (MALLOC_TRIM_THRESHOLD_). Whether it is so:
    elsewhere than with glibc nothing is changed."""
    if sys.platform != "linux":
        return False
    tell = getattr(ctypes.CDLL(None), "mallopt", None)
    if tell is None:  # another C library
        return False
    told = tell(_MMAP_THRESHOLD, _MOST_MMAP_BYTES), tell(_TRIM_THRESHOLD, 2 * _MOST_MMAP_BYTES)
    return all(told)
