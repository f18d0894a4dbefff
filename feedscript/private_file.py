"""Files in which players' names stand: for their owner alone."""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path


def write_private(path: Path, content: bytes) -> None:
    """Write a file that only its owner may read, also over one that others could. Raises OSError.

    A disk that knows no owners (many a USB stick) holds it as it holds everything.
    """
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with open(descriptor, "wb") as file:
        if stat.S_ISREG(os.fstat(descriptor).st_mode):
            with contextlib.suppress(OSError):
                os.chmod(path, 0o600)
        file.write(content)
