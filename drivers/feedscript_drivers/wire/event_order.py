"""Puts the launcher's events in order, each once, and says which are missing."""

from __future__ import annotations

from msgspec import Struct, field

from feedscript_drivers.wire.messages import EventLine

_NUMBERS = 65536
_HALF = _NUMBERS // 2


class EventOrder(Struct):
    """Sans-IO: ``last`` is the number of the event delivered last."""

    last: int
    newest: int = 0
    _early: dict[int, EventLine] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.newest = self.last

    def _ahead(self, number: int) -> int:
        """How far a number is past the last delivered one; negative for one of before."""
        distance = (number - self.last) % _NUMBERS
        return distance if distance < _HALF else distance - _NUMBERS

    def _note(self, number: int) -> None:
        if self._ahead(number) > self._ahead(self.newest):
            self.newest = number

    def take(self, event: EventLine) -> list[EventLine]:
        """The events that can be delivered now that this one has come."""
        ahead = self._ahead(event.sequence)
        if ahead <= 0:
            return []
        self._note(event.sequence)
        self._early[event.sequence] = event
        ready = []
        while (following := self._early.pop((self.last + 1) % _NUMBERS, None)) is not None:
            ready.append(following)
            self.last = following.sequence
        return ready

    def hear_of(self, number: int) -> None:
        """A heartbeat's answer named its newest event."""
        if self._ahead(number) > 0:
            self._note(number)

    def first_missing(self) -> int | None:
        """The event to ask for, if one is missing."""
        return (self.last + 1) % _NUMBERS if self._ahead(self.newest) > 0 else None

    def give_up_before(self, oldest: int) -> list[EventLine]:
        """Skip what the launcher no longer keeps; the events that this makes deliverable."""
        if self._ahead(oldest) > 0:
            self.last = (oldest - 1) % _NUMBERS
            self._early = {n: e for n, e in self._early.items() if self._ahead(n) > 0}
        held = [self._early[number] for number in sorted(self._early, key=self._ahead)]
        ready: list[EventLine] = []
        for event in held:
            ready += self.take(event)
        return ready
