"""What a launcher said in a capture, in order, kept in a file of its own: a long lesson's is larger
than a small machine's memory."""

from __future__ import annotations

import tempfile
from array import array

from feedscript_drivers.wire.messages import EventLine, LauncherBody, read_launcher_body


class Said:
    """Messages by their number, from 0. Only where each begins is in memory."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - closed by `close`
        self._begins = array("Q", [0])
        self._events = bytearray()  # for each whether it is an event

    def __len__(self) -> int:
        return len(self._events)

    def append(self, message: LauncherBody) -> None:
        body = message.body().encode("ascii")
        self._file.write(body)
        self._begins.append(self._begins[-1] + len(body))
        self._events.append(isinstance(message, EventLine))

    def __getitem__(self, number: int) -> LauncherBody:
        begins, ends = self._begins[number : number + 2]
        self._file.seek(begins)
        message = read_launcher_body(self._file.read(ends - begins).decode("ascii"))
        assert message is not None  # it was read once before
        return message

    def is_event(self, number: int) -> bool:
        return bool(self._events[number])

    def close(self) -> None:
        self._file.close()


class Numbers:
    """Numbers of messages, each to be taken once, in order."""

    def __init__(self) -> None:
        self._numbers = array("Q")
        self._taken = 0

    def append(self, number: int) -> None:
        self._numbers.append(number)

    def take(self) -> int | None:
        """The next; None where there is none any more."""
        if self._taken == len(self._numbers):
            return None
        self._taken += 1
        return self._numbers[self._taken - 1]
