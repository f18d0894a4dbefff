"""Files and folders in which keys or players' names stand: for their owner alone.

On POSIX by mode. Windows knows no such modes: there a file is made with a list of who may use it
(its owner, the administrators and the system, as for a user's own folders) and takes over nothing
from the folder it lies in. Administrators may read everything on either kind of system.

A disk that knows no owners (many a USB stick) holds them as it holds everything.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import stat
import sys
from pathlib import Path
from typing import IO


def write_private(path: Path, content: bytes) -> None:
    """A file that only its owner may read, also over one that others could. Raises OSError."""
    copy_private(path, io.BytesIO(content))


def copy_private(path: Path, source: IO[bytes]) -> None:
    """The same of what is still to be read of ``source``, bit by bit. Raises OSError."""
    with open(open_private(path, os.O_TRUNC), "wb") as file:
        if sys.platform != "win32" and stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            with contextlib.suppress(OSError):
                os.chmod(path, 0o600)
        shutil.copyfileobj(source, file)


def open_private(path: Path, flags: int) -> int:
    """A descriptor to write with, of a file made for its owner alone where there is none. ``flags``
    are those of ``os.open``. Raises OSError."""
    if sys.platform == "win32":
        from feedscript.host.windows_private import keep_private

        keep_private(path)
        flags |= os.O_BINARY
    return os.open(path, os.O_WRONLY | os.O_CREAT | flags, 0o600)


def make_private(path: Path) -> None:
    """An empty file for its owner alone, unless something lies there. Raises OSError."""
    if not os.path.lexists(path):
        os.close(open_private(path, 0))


def private_folder(folder: Path) -> None:
    """A folder for its owner alone, and those above it, unless they are there. Raises OSError."""
    if sys.platform == "win32" and not os.path.lexists(folder):
        from feedscript.host.windows_private import make_folder

        folder.parent.mkdir(parents=True, exist_ok=True)
        make_folder(folder)
    else:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)


def keep_beside_private(path: Path, *endings: str) -> None:
    """What another program has put beside a private file, under its name and these endings, is as
    private. SQLite does that itself where it knows modes. Raises OSError."""
    if sys.platform == "win32":
        from feedscript.host.windows_private import keep_private

        for ending in endings:
            beside = path.with_name(path.name + ending)
            if beside.exists():
                keep_private(beside)
