"""A file that is there already, written anew whole or not at all."""

from __future__ import annotations

import os
import stat
import tempfile
from contextlib import suppress
from pathlib import Path


def replace_whole(path: Path, content: bytes) -> None:
    """Write beside and move into place, where a link leads, with the file's own mode: on a full
    disk, or killed meanwhile, the old content stays. Raises OSError."""
    target = Path(os.path.realpath(path))
    descriptor, beside = tempfile.mkstemp(prefix=".", suffix=".tmp", dir=target.parent)
    try:
        with open(descriptor, "wb") as file:
            file.write(content)
        os.chmod(beside, stat.S_IMODE(target.stat().st_mode))
        os.replace(beside, target)
    except BaseException:
        with suppress(OSError):
            os.unlink(beside)
        raise
