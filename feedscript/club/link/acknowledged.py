"""What of a journal the club is known to have: a small file beside it.

The club itself knows best, and is asked at every beginning; the file is what is known while it
cannot be asked. It may be lost without harm.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import msgspec

from feedscript.private_file import write_private


class Acknowledged(msgspec.Struct, frozen=True, kw_only=True):
    """As told by the club to this ``host``: the highest number held of each lesson."""

    host: str
    held: dict[str, int] = {}


def acknowledged_path(journal: Path) -> Path:
    """Beside the journal."""
    return journal.with_name(f"{journal.name}-club.json")


def read_acknowledged(journal: Path, host: str) -> Mapping[str, int]:
    """What is known; nothing where the file is lost, broken or tells of another membership."""
    try:
        found = msgspec.json.decode(acknowledged_path(journal).read_bytes(), type=Acknowledged)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return {}
    return found.held if found.host == host else {}


def keep_acknowledged(journal: Path, host: str, held: Mapping[str, int]) -> None:
    """Write it whole or not at all. Raises OSError."""
    path = acknowledged_path(journal)
    beside = path.with_name(f"{path.name}.new")
    write_private(beside, msgspec.json.encode(Acknowledged(host=host, held=dict(held))))
    os.replace(beside, path)
