"""Bounds of the system on what a process may use."""

from __future__ import annotations

import os
import sys


def bound_this_process(*, memory_bytes: int, file_bytes: int, gives_way: int) -> None:
    """No more memory for its data, no longer file, no picture of it on the disk where it crashes,
    and others first (nice(1)'s number). Windows has no such bounds for a process's own."""
    if sys.platform != "win32":
        import resource

        os.nice(gives_way)
        for what, most in (
            (resource.RLIMIT_DATA, memory_bytes),
            (resource.RLIMIT_FSIZE, file_bytes),
            (resource.RLIMIT_CORE, 0),
        ):
            resource.setrlimit(what, (most, most))
