"""Several connections to one launcher: nobody who only holds a connection keeps anybody out.

Each caller's lines are put together on their own and reach the launcher whole; stop characters go
through at once. Replies go to whoever asked; events, and what was held back, to the caller whose
line was last taken in full standing: the host of the session.
"""

from __future__ import annotations

from collections.abc import Callable

from feedscript_drivers.wire.protocol import MOST_LINE, StopCharacter
from msgspec import Struct, field

#: Connections kept at once; one more, and the oldest that is not the host's is closed.
MOST_CALLERS = 16
_STOPS = bytes(StopCharacter)
#: Enough of a line that is too long for the launcher to see that it is.
_KEPT = MOST_LINE + 3


class Caller(Struct, eq=False):
    """One connection: ``send`` takes bytes for it at once, ``close`` ends it."""

    send: Callable[[bytes], None]
    close: Callable[[], None]
    _line: bytearray = field(default_factory=bytearray)

    def whole_lines(self, data: bytes) -> list[bytes]:
        """The lines that these bytes complete, LF included."""
        *ends, rest = data.translate(None, _STOPS).split(b"\n")
        whole = []
        for end in ends:
            whole.append(bytes(self._line + end)[:_KEPT] + b"\n")
            self._line.clear()
        self._line = (self._line + rest)[:_KEPT]
        return whole


class Callers:
    """``hear`` gives bytes to the launcher, ``obeyed`` counts the lines that it obeyed in full."""

    def __init__(self, hear: Callable[[bytes], None], obeyed: Callable[[], int]) -> None:
        self._hear = hear
        self._obeyed = obeyed
        self._callers: list[Caller] = []
        self._host: Caller | None = None
        self._asking: Caller | None = None

    def come(self, caller: Caller) -> None:
        """A connection was made."""
        if len(self._callers) >= MOST_CALLERS:
            oldest = next(one for one in self._callers if one is not self._host)
            self.go(oldest)
            oldest.close()
        self._callers.append(caller)

    def go(self, caller: Caller) -> None:
        """A connection is over."""
        if caller in self._callers:
            self._callers.remove(caller)
        if self._host is caller:
            self._host = None

    def say(self, caller: Caller, data: bytes) -> None:
        """Bytes of a caller."""
        for stop in (byte for byte in data if byte in _STOPS):
            self._hear(bytes([stop]))
        for line in caller.whole_lines(data):
            before = self._obeyed()
            self._asking = caller
            self._hear(line)
            self._asking = None
            if self._obeyed() != before:
                self._host = caller

    def answer(self, data: bytes) -> None:
        """Bytes of the launcher: whole lines."""
        for line in data.splitlines(keepends=True):
            is_event = line.startswith(b"!")
            to = self._host if is_event or self._asking is None else self._asking
            if to is not None:
                to.send(line)
