"""A host that says exactly what a check wants said, whole, half or wrong, and hears everything."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable
from typing import Final

import anyio
from anyio.abc import ByteStream
from msgspec import Struct

from feedscript_drivers.wire.codec import LineReader, Plain, plain_line
from feedscript_drivers.wire.link import STREAM_ENDS

_CHUNK: Final = 4096
_BEAT_S: Final = 0.15
_ANSWER_S: Final = 0.6  # slow memory may take 200 ms, and a line some 10 ms each way
_LOOK_S: Final = 0.01
_WRAP: Final = 2**32


class Wrong(Exception):  # noqa: N818 - what a step found, no error of the program
    """A step's finding that is not as it must be; its text is the figure."""


class Event(Struct, frozen=True):
    """One event of the launcher: its own clock, its word, its numbers."""

    at_ms: int
    word: str
    numbers: tuple[int, ...]


class BoardHost:
    """See the module. :meth:`read` and :meth:`beat` run beside the steps."""

    def __init__(self, stream: ByteStream) -> None:
        self.clock_ms = 0  # the launcher's, as last heard
        self.heard_s = 0.0  # when that was
        self.state = -1
        self.speaks = True
        self.spoilt = 0
        self.events: list[Event] = []
        self._stream = stream
        self._reader = LineReader()
        self._replies: dict[int, list[str]] = {}
        self._sequence = secrets.randbelow(30_000)
        self._beat = 0

    # beside the steps

    async def read(self) -> None:
        """Take in all that comes until the port closes."""
        while True:
            try:
                data = await self._stream.receive(_CHUNK)
            except STREAM_ENDS:
                return
            for line in self._reader.feed(data):
                if isinstance(line, Plain):
                    self._take(line.body.split(" "))
                else:
                    self.spoilt += 1

    async def beat(self) -> None:
        """Heartbeats, each echoing the clock as last heard, while the host speaks."""
        while True:
            if self.speaks:
                self._beat = (self._beat + 1) % 65536
                with contextlib.suppress(Wrong):  # a port that has closed is a step's to tell
                    await self.send(plain_line(f"T {self._beat} {self.clock_ms}"))
            await anyio.sleep(_BEAT_S)

    def _take(self, words: list[str]) -> None:
        try:
            if words[0] == "t":
                self.clock_ms, self.heard_s = int(words[2]), anyio.current_time()
                self.state = int(words[4])
            elif words[0] == "!":
                numbers = tuple(int(word) for word in words[4:])
                self._happened(Event(int(words[2]), words[3], numbers))
            else:
                self._replies.setdefault(int(words[0]), []).append(" ".join(words[1:]))
        except (ValueError, IndexError):
            self.spoilt += 1

    def _happened(self, event: Event) -> None:
        self.events.append(event)
        if event.word == "BOOT":
            self.clock_ms = 0  # it begins anew
        elif event.word == "STATE":
            self.state = event.numbers[0]

    # what a step says

    async def send(self, data: bytes) -> None:
        """These bytes and nothing else."""
        try:
            await self._stream.send(data)
        except STREAM_ENDS as error:
            raise Wrong(f"the port closed ({error or type(error).__name__})") from error

    def next_sequence(self) -> int:
        """The number of the next command."""
        self._sequence = (self._sequence + 1) % 65536
        return self._sequence

    async def reply_to(self, sequence: int, within_s: float = _ANSWER_S, *, count: int = 1) -> str:
        """The last of so many replies; an empty text when they do not come."""
        with anyio.move_on_after(within_s):
            while len(self._replies.get(sequence, ())) < count:
                await anyio.sleep(_LOOK_S)
        replies = self._replies.get(sequence, [])
        return replies[-1] if len(replies) >= count else ""

    def replies(self, sequence: int) -> tuple[str, ...]:
        """Every reply so far to a command."""
        return tuple(self._replies.get(sequence, ()))

    async def ask(self, text: str) -> str:
        """One command, sent once; its reply, or an empty text."""
        sequence = self.next_sequence()
        await self.send(plain_line(f"{sequence} {text}"))
        return await self.reply_to(sequence)

    async def must(self, text: str) -> list[str]:
        """The same; the words after OK. Anything else is Wrong."""
        reply = await self.ask(text)
        words = reply.split(" ")
        if words[0] != "OK":
            raise Wrong(f"{text.split(' ')[0]} was answered {reply or 'nothing'!r}")
        return words[1:]

    async def until(self, holds: Callable[[], bool], within_s: float) -> bool:
        """Wait for something to hold; whether it came."""
        with anyio.move_on_after(within_s):
            while not holds():
                await anyio.sleep(_LOOK_S)
        return holds()

    async def state_becomes(self, state: int, within_s: float) -> bool:
        """Asked with STAT, which is no sign of life."""
        began = anyio.current_time()
        while anyio.current_time() - began < within_s:
            words = (await self.ask("STAT")).split(" ")
            if words[0] == "OK":
                self.state = int(words[1])
            if self.state == state:
                return True
            await anyio.sleep(_LOOK_S)
        return False

    async def open(self) -> None:
        """A session of its own; the launcher is safe afterwards, a fault ended."""
        nonce = secrets.randbelow(_WRAP)
        await self.must(f"OPEN {secrets.randbelow(_WRAP)} {nonce}")

    def said(self, word: str, since: int) -> list[Event]:
        """Events of one kind since so many there were."""
        return [event for event in self.events[since:] if event.word == word]
