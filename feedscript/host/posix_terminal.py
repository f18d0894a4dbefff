"""A POSIX terminal that gives each key at once."""

from __future__ import annotations

import sys

if sys.platform == "win32":
    raise ImportError("Windows has no such terminals")

import os
import termios
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any


@contextmanager
def key_by_key(descriptor: int) -> Iterator[None]:
    """This terminal gives each key at once, unechoed; afterwards it is as it was."""
    before = termios.tcgetattr(descriptor)
    taken: list[Any] = termios.tcgetattr(descriptor)
    taken[0] &= ~termios.IXON
    taken[3] &= ~(termios.ICANON | termios.ECHO)
    taken[6][termios.VMIN], taken[6][termios.VTIME] = 1, 0
    taken[6][termios.VSUSP] = bytes([os.fpathconf(descriptor, "PC_VDISABLE")])
    termios.tcsetattr(descriptor, termios.TCSADRAIN, taken)
    try:
        yield
    finally:
        with suppress(termios.error):  # the window may be gone
            termios.tcsetattr(descriptor, termios.TCSADRAIN, before)
