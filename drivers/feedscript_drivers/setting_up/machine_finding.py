"""One look at this machine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """What was looked at, what was seen, and the one command (or act) that fixes it."""

    what: str
    fine: bool
    seen: str
    fix: str = ""
