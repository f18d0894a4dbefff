"""What a desk and the process of its lesson say to each other, one JSON text a line.

The first line to the lesson says what to run; every further one, empty, asks for a fresh link to
its page.
"""

from __future__ import annotations

from typing import Any

import msgspec


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What to run: the program's file and the version of it that was looked at, or the number of a
    lesson to go on with; an address for each launcher, and whether the page is for the court's
    network too."""

    program: str = ""
    version: str = ""
    lesson: int | None = None
    urls: tuple[str, ...]
    court_network: bool = False


class Ended(msgspec.Struct, frozen=True, kw_only=True):
    """How the lesson ended, or why none began. ``summary`` as ``feedscript run`` gives it."""

    fine: bool
    summary: dict[str, Any] = {}
    not_stopped: tuple[str, ...] = ()  # launchers that never confirmed it
    diagnostics: tuple[dict[str, Any], ...] = ()


class Told(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A line out: where the page is, or how it ended."""

    page: str = ""
    ended: Ended | None = None
