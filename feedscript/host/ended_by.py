"""Who or what asks a process to end."""

from __future__ import annotations

from enum import Enum, auto


class EndedBy(Enum):
    """Who or what asks for the end."""

    PERSON = auto()  # Ctrl-C
    PROGRAM = auto()
    WINDOW = auto()
