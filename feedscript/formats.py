"""Every document of ours by its name, with the number of its format.

A document begins with its name and that number (``{"document": "check", "format": 1, …}``), so
that a program which reads it knows what it has. The number goes up when a field goes away or comes
to mean something else; a field that is new leaves it as it is. What the fields are stands in
``feedscript.documents``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_FIRST = dict.fromkeys(
    (
        "programs", "profiles", "settings", "tidy", "why", "why-list", "desk", "schema-list",
        "check", "check-several", "certificate", "playable", "certify", "draw", "rehearse", "test",
        "compare", "baseline-keep", "baseline-hold", "baseline-accept", "season", "season-held",
        "flight", "withstand", "touched", "relive",
        "find", "look-over", "set-up", "pair", "link-check", "jog-line", "board-check",
        "mapped-keys", "mapped-check", "mapped-examples", "parts", "stand-in-line",
        "run",
        "review", "record", "lessons", "journal-list", "journal-back-up", "journal-export",
        "journal-tables", "journal-forget", "journal-delete", "watch", "watch-sound",
        "tune", "tune-propose", "tune-compare", "tune-run", "bundle",
        "club-account", "club-export", "club-fetch", "club-invite", "club-join", "club-password",
        "club-player", "club-push", "club-serve",
        "refused",
    ),
    1,
)  # fmt: skip
#: Those that came to say something else since.
FORMATS: Final[Mapping[str, int]] = {**_FIRST, "compare": 2}


def headed(name: str, plain: Mapping[str, Any]) -> dict[str, Any]:
    """A document of this name: its head, and what it says."""
    return {"document": name, "format": FORMATS[name], **plain}
