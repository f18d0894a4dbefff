"""The launcher's events: numbered, the last few kept so that lost ones can be repeated."""

from __future__ import annotations

from collections import deque

from feedscript_drivers.wire.messages import EventLine
from feedscript_drivers.wire.protocol import KEEPS_EVENTS
from msgspec import Struct, field

_NUMBERS = 65536


class EventBook(Struct):
    """``unsent`` holds what has not been put on the wire yet."""

    last: int = 0
    unsent: list[EventLine] = field(default_factory=list)
    _kept: deque[EventLine] = field(default_factory=lambda: deque(maxlen=KEEPS_EVENTS))

    def note(self, ms: float, word: str, *numbers: int) -> None:
        self.last = (self.last + 1) % _NUMBERS
        line = EventLine(self.last, int(ms) % 2**32, word, numbers)
        self._kept.append(line)
        self.unsent.append(line)

    def oldest(self) -> int:
        return self._kept[0].sequence if self._kept else self.last

    def repeat_from(self, first: int) -> list[EventLine] | None:
        """The kept events from ``first`` on; None when that one is no longer kept."""
        wanted = [line for line in self._kept if (line.sequence - first) % _NUMBERS < _NUMBERS // 2]
        if first == (self.last + 1) % _NUMBERS:
            return []
        return wanted if wanted and wanted[0].sequence == first else None
