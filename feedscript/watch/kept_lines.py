"""A file that only grows: a line for each thing that is done, under one that says of what it is.

A line that was cut off as the program ended is not read, and a file of something else is begun
anew. Nothing is written before the first line is added.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

import msgspec

from feedscript.host.private_file import open_private
from feedscript.plain_file import read_plain

T = TypeVar("T")


class KeptLines(Generic[T]):
    """The rows of one file, as they were kept and as they are added."""

    def __init__(
        self, path: Path, head: bytes, read: Callable[[bytes], T], write: Callable[[T], bytes]
    ) -> None:
        """Reads what is there, until the first line that cannot be read. Raises OSError where it
        is no plain file, or not to be read."""
        self.path, self._head, self._write = path, head, write
        lines = read_plain(path).split(b"\n") if path.exists() else [b""]
        # After the last line's end there is none.
        self.rows: list[T] = rows_in(lines[1:-1], read) if lines[0] == head else []
        self._begun = False

    def add(self, row: T) -> None:
        """Keep one more. Raises OSError."""
        self.rows.append(row)
        added = [row] if self._begun else self.rows
        lines = [*([] if self._begun else [self._head]), *map(self._write, added)]
        new = os.O_APPEND if self._begun else os.O_TRUNC  # without what could not be read
        with open(open_private(self.path, new), "wb") as file:
            file.write(b"".join(line + b"\n" for line in lines))
        self._begun = True


def rows_in(lines: list[bytes], read: Callable[[bytes], T]) -> list[T]:
    """Until the first line that cannot be read."""
    found: list[T] = []
    for line in lines:
        try:
            found.append(read(line))
        except (msgspec.MsgspecError, UnicodeDecodeError):
            break
    return found
