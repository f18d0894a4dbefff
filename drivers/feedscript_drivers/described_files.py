"""The files that drivers read: what each is called, and the type that it is read as."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from feedscript_drivers.mapped.description import keys
from feedscript_drivers.setting_up.board_file import Board
from feedscript_drivers.transports.bridge import Bridge


def described_files() -> Mapping[str, type[Any]]:
    """Each file's type by the name of its schema."""
    return {"mapping": keys.Mapping, "bridge": Bridge, "board": Board}
