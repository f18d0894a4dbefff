"""Files that a person names: read only where they are files, whatever else the name leads to.

A pipe would be waited for, a device may start something by being opened (a serial port resets many
a board), and a link that leads back to itself leads nowhere. All that is an ``OSError`` here, with
words for a person in ``strerror``.
"""

from __future__ import annotations

import errno
import logging
import os
import re
import stat
import sys
from pathlib import Path
from typing import BinaryIO

_LOG = logging.getLogger("feedscript.files")

#: What a program that is piped in is called. Its neighbours are those of the current folder.
STANDARD_INPUT = Path("(standard input)")

_WORDS = {
    errno.ELOOP: "a link on the way to it leads back to itself",
    errno.ENAMETOOLONG: "no file can have so long a name",
}
#: Names that are devices on Windows (Microsoft, "Naming files, paths, and namespaces", 2024).
_DEVICE = re.compile(r"(?:CON|PRN|AUX|NUL|(?:COM|LPT)[0-9¹²³])(?:\.|$)", re.IGNORECASE)
_OTHERS = (
    (stat.S_ISDIR, errno.EISDIR, "it is a folder, not a file"),
    (stat.S_ISFIFO, errno.EINVAL, "it is a pipe, not a file"),
    (stat.S_ISSOCK, errno.EINVAL, "it is a socket, not a file"),
)


def see_that_it_is_a_file(path: Path) -> None:
    """Raise OSError unless ``path`` is a file that is there, links followed."""
    if sys.platform == "win32" and _DEVICE.match(path.name):  # in every folder, with any ending
        raise OSError(errno.EINVAL, "it is a device, not a file", str(path))
    try:
        mode = os.stat(path).st_mode
    except ValueError as trouble:  # a null character
        raise OSError(errno.EINVAL, "no file can have this name", str(path)) from trouble
    except OSError as trouble:
        words = _WORDS.get(trouble.errno or 0, trouble.strerror)
        raise OSError(trouble.errno, words, str(path)) from trouble
    for is_one, number, words in _OTHERS:
        if is_one(mode):
            raise OSError(number, words, str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is a device, not a file", str(path))


def is_plain(path: Path) -> bool:
    """Whether it is a file that is there. Never raises."""
    try:
        see_that_it_is_a_file(path)
    except OSError:
        return False
    return True


def read_plain(path: Path, most_bytes: int | None = None) -> bytes:
    """The file's bytes, or those of standard input; of a longer one than ``most_bytes`` one byte
    more. Raises OSError."""
    if path == STANDARD_INPUT:
        return sys.stdin.buffer.read(-1 if most_bytes is None else most_bytes + 1)
    see_that_it_is_a_file(path)
    _LOG.debug("reads %s", path)
    with open(path, "rb") as file:
        return file.read(-1 if most_bytes is None else most_bytes + 1)


def open_plain(path: Path) -> BinaryIO:
    """The file to read from, bit by bit. Raises OSError."""
    see_that_it_is_a_file(path)
    _LOG.debug("reads %s", path)
    return open(path, "rb")


def real_path(path: Path) -> Path:
    """Absolute, with links followed as far as they lead. Raises ValueError for a null character."""
    return Path(os.path.realpath(path))
