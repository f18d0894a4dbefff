"""What of a journal the club is known to have: a small file beside it.

The club itself knows best, and is asked at every beginning; the file is what is known while it
cannot be asked. Lost, it is made anew by asking. It alone knows which lessons went to a club, or
under a key, that this computer had before: those are not sent to another.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import msgspec
from msgspec.structs import replace

from feedscript.host.private_file import write_private


class Acknowledged(msgspec.Struct, frozen=True, kw_only=True):
    """As told by the club to this ``host``: the highest number held of each lesson. ``elsewhere``:
    lessons that were sent under an earlier membership."""

    host: str
    held: dict[str, int] = {}
    elsewhere: tuple[str, ...] = ()


def acknowledged_path(journal: Path) -> Path:
    """Beside the journal."""
    return journal.with_name(f"{journal.name}-club.json")


def read_acknowledged(journal: Path, host: str) -> Acknowledged:
    """What is known; nothing where the file is lost or broken."""
    try:
        found = msgspec.json.decode(acknowledged_path(journal).read_bytes(), type=Acknowledged)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return Acknowledged(host=host)
    if found.host == host:
        return found
    return Acknowledged(host=host, elsewhere=(*found.elsewhere, *found.held))


def keep_acknowledged(journal: Path, known: Acknowledged) -> None:
    """Write it whole or not at all. Raises OSError."""
    path = acknowledged_path(journal)
    beside = path.with_name(f"{path.name}.new")
    write_private(beside, msgspec.json.encode(known))
    os.replace(beside, path)


def keeper(journal: Path, known: Acknowledged) -> Callable[[dict[str, int]], None]:
    """What writes down what the club has from now on, where that can be written."""

    def keep(held: dict[str, int]) -> None:
        with suppress(OSError):  # a full disk; the club itself knows it, too
            keep_acknowledged(journal, replace(known, held=held))

    return keep
