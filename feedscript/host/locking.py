"""A file that one process at a time holds: the lock ends with the process, however that ends."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from pathlib import Path

_FLAGS = os.O_RDWR | getattr(os, "O_BINARY", 0)
#: Windows keeps others from reading locked bytes; who holds the file stands before this one.
_LOCKED_BYTE = 1 << 30
#: How Windows' C library says that another process holds them (Microsoft, "_locking", 2022), and
#: how Wine does, which gives no reason.
_HELD = (errno.EACCES, errno.EDEADLK, 0)


def hold(path: Path) -> int | None:
    """A descriptor of the file, made and locked; None where another process holds it. Raises
    OSError."""
    while True:
        descriptor = os.open(path, _FLAGS | os.O_CREAT, 0o600)
        try:
            if not _locked(descriptor):
                os.close(descriptor)
                return None
            if _is_still(path, descriptor):
                return descriptor
        except BaseException:
            os.close(descriptor)
            raise
        os.close(descriptor)  # its last holder took the file away just now


def release(path: Path, descriptor: int) -> None:
    """Give the file up, and take it away."""
    if sys.platform == "win32":
        # Nobody can take away what somebody has open: whoever holds it by now keeps it.
        os.close(descriptor)
        with suppress(OSError):
            path.unlink()
    else:
        with suppress(OSError):
            path.unlink()  # while it is still locked: nobody holds a file that is then gone
        os.close(descriptor)


def is_held(path: Path) -> bool:
    """Whether a process holds it. Raises OSError; a file that is gone is held by nobody."""
    try:
        descriptor = os.open(path, _FLAGS)
    except FileNotFoundError:
        return False
    try:
        return not _locked(descriptor)
    finally:
        os.close(descriptor)


def write_holder(descriptor: int, words: bytes) -> None:
    """Say in the file who holds it."""
    os.ftruncate(descriptor, 0)
    os.lseek(descriptor, 0, os.SEEK_SET)
    os.write(descriptor, words)


def _locked(descriptor: int) -> bool:
    if sys.platform == "win32":
        import msvcrt

        os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as trouble:
            if trouble.errno not in _HELD:
                raise
            return False
    else:
        import fcntl

        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
    return True


def _is_still(path: Path, descriptor: int) -> bool:
    """Whether what was locked still lies there; on Windows nothing else can."""
    if sys.platform == "win32":
        return True
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except FileNotFoundError:
        return False
