"""One look at this machine."""

from __future__ import annotations

from msgspec import Struct


class Finding(Struct, frozen=True):
    """What was looked at, what was seen, and the one command (or act) that fixes it."""

    what: str
    fine: bool
    seen: str
    fix: str = ""
