"""Lines over a byte stream: one command at a time, stops ahead of everything, answers sorted out.

The link knows nothing of feeds. A command goes out with a number of its own and is repeated with
the same number until it is answered, given up for a stop, or the link is lost.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Protocol, runtime_checkable

import anyio
from anyio.abc import ByteStream
from msgspec import Struct, field

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.faults import where_to_look
from feedscript.launcher.port import LINK_LOST, GivenUpError, LauncherError
from feedscript_drivers.pages import GIVEN_UP, NO_ANSWER
from feedscript_drivers.wire.codec import Keyed, Line, LineReader, Plain, Refused
from feedscript_drivers.wire.messages import (
    Argument,
    Beat,
    Command,
    EventLine,
    Heartbeat,
    Reply,
    read_launcher_body,
)
from feedscript_drivers.wire.protocol import StopCharacter, Times
from feedscript_drivers.wire.seal import KeyedSeal, PlainSeal

_CHUNK: Final = 4096
_TAIL: Final = 160  # bytes kept for the report of a failed step
PATIENCE_S: Final = 3.0
_LOOK: Final = "look at cable, power and range"
#: A launcher that heard no heartbeat for so long has stopped by itself, told or not: its stated
#: watchdog time, and a little for clocks that differ.
SILENT_S: Final = Times.WATCHDOG / 1000 + 0.1
#: A stop acknowledged is more than a hold acknowledged.
_GRAVITY: Final = {StopCharacter.HOLD: 1, StopCharacter.STOP: 2, StopCharacter.EMERGENCY: 3}

#: What reading or writing a dead stream raises.
STREAM_ENDS: Final = (
    anyio.EndOfStream,
    anyio.ClosedResourceError,
    anyio.BrokenResourceError,
    OSError,
)


class _Waiting(Struct, eq=False):
    """A command that waits for its reply; done with no reply when given up or lost."""

    sequence: int
    urgent: bool
    done: anyio.Event = field(default_factory=anyio.Event)
    reply: Reply | None = None


@runtime_checkable
class HeardAtOnce(Protocol):
    """A stream whose far end lies in this process and need not wake a reader to be heard."""

    async def tell(self, hear: Callable[[bytes], None]) -> None:
        """Call ``hear`` with whatever comes, as it comes, until the stream ends."""


class Counters(Struct):
    """What the host had to refuse or repeat; ``link-check`` shows them."""

    refused: int = 0
    repeated: int = 0
    unread: int = 0


class Link:
    """See the module. ``on_beat`` and ``on_event`` are called from the reader."""

    def __init__(self, stream: ByteStream, device: str, first_sequence: int) -> None:
        self.device = device
        self.seal: PlainSeal | KeyedSeal = PlainSeal()
        self.counters = Counters()
        self.lost: Diagnostic | None = None
        self.lost_cause = ""  # where it is known
        self.lost_event = anyio.Event()
        self.tail = bytearray()
        self.on_beat: Callable[[Beat], None] = lambda _beat: None
        self.on_event: Callable[[EventLine], None] = lambda _event: None
        self._stream = stream
        self._reader = LineReader()
        self._writing = anyio.Lock(fast_acquire=True)
        self._turn = anyio.Lock(fast_acquire=True)
        self.sequence = first_sequence % 65536
        self._waiting: _Waiting | None = None
        self._urgent = 0
        self._stop_asked_s: float | None = None  # the first that is not acknowledged
        self._gravity = 0  # of the gravest of those
        self._heard_of_stop = anyio.Event()

    # Reading

    async def read(self) -> None:
        """Read until the stream ends, which loses the link."""
        try:
            if isinstance(self._stream, HeardAtOnce):
                await self._stream.tell(self._hear)
            while True:
                self._hear(await self._stream.receive(_CHUNK))
        except STREAM_ENDS as error:
            self.lose(f"the port closed ({error or type(error).__name__})")

    def _hear(self, data: bytes) -> None:
        self._keep_tail(data)
        for item in self._reader.feed(data):
            if not isinstance(item, StopCharacter):
                self._take(item)

    def _keep_tail(self, data: bytes) -> None:
        self.tail += data
        del self.tail[:-_TAIL]

    def _take(self, line: Line) -> None:
        body = self._open_line(line)
        if body is None:
            self.counters.refused += 1
            return
        message = read_launcher_body(body)
        match message:
            case Reply():
                waiting = self._waiting
                if waiting is not None and waiting.sequence == message.sequence:
                    waiting.reply = message
                    waiting.done.set()
            case Beat():
                self.on_beat(message)
            case EventLine():
                self.on_event(message)
            case _:
                self.counters.unread += 1

    def _open_line(self, line: Line) -> str | None:
        if isinstance(line, Refused):
            return None
        if isinstance(line, Plain):
            return None if isinstance(self.seal, KeyedSeal) else line.body
        assert isinstance(line, Keyed)
        return line.body if self.seal.accepts(line) else None

    # Writing

    async def _write(self, data: bytes) -> None:
        async with self._writing:
            try:
                await self._stream.send(data)
            except STREAM_ENDS as error:
                self.lose(f"the port took no more bytes ({error or type(error).__name__})")

    async def heartbeat(self, beat: Heartbeat) -> None:
        """Send one heartbeat, past any command that waits."""
        await self._write(self.seal.close(beat.body()))

    async def command(
        self,
        word: str,
        *arguments: Argument,
        again_s: float | None = None,
        patience_s: float = PATIENCE_S,
    ) -> Reply:
        """One command, answered. Raises LauncherError when given up or the link is lost.

        The reply may be a refusal; judging it is the caller's.
        """
        if self._urgent:
            raise self.given_up(word)
        async with self._turn:
            if self._urgent:
                raise self.given_up(word)
            again_s = Times.COMMAND_AGAIN / 1000 if again_s is None else again_s
            return await self._exchange(word, arguments, again_s, patience_s, urgent=False)

    async def urgent(self, character: StopCharacter, word: str, *arguments: Argument) -> Reply:
        """A stop or hold: its byte at once, then its line until it is answered.

        Until it is acknowledged there are no heartbeats (:meth:`silence_s`).
        """
        self._stop_is_asked(_GRAVITY[character])
        self._urgent += 1
        try:
            waiting = self._waiting
            if waiting is not None and (not waiting.urgent or character is StopCharacter.EMERGENCY):
                waiting.done.set()
            await self._write(bytes([character]))
            async with self._turn:
                reply = await self._exchange(
                    word, arguments, Times.STOP_AGAIN / 1000, PATIENCE_S, urgent=True
                )
        finally:
            self._urgent -= 1
        if reply.code is None:
            self.acknowledged(character)
        return reply

    def acknowledged(self, character: StopCharacter) -> None:
        """The launcher said that it stopped so, or something that it says only after it did."""
        if _GRAVITY[character] >= self._gravity:
            self._stop_asked_s, self._gravity = None, 0
            self._heard_of_stop.set()

    def _stop_is_asked(self, gravity: int) -> None:
        if self.silence_s() <= 0.0:
            self._stop_asked_s, self._gravity = anyio.current_time(), 0
            self._heard_of_stop = anyio.Event()
        self._gravity = max(self._gravity, gravity)

    def silence_s(self) -> float:
        """How long no heartbeat may be sent yet: a launcher that was told to stop, and has not
        said that it did, is left to its own watchdog and not kept alive."""
        if self._stop_asked_s is None:
            return 0.0
        return self._stop_asked_s + SILENT_S - anyio.current_time()

    async def until_beats_may(self) -> None:
        """Return when no stop or hold waits for its acknowledgement, or the watchdog's time is
        over."""
        while (rest_s := self.silence_s()) > 0.0:
            with anyio.move_on_after(rest_s):
                await self._heard_of_stop.wait()

    async def _exchange(
        self,
        word: str,
        arguments: tuple[Argument, ...],
        again_s: float,
        patience_s: float,
        *,
        urgent: bool,
    ) -> Reply:
        self.sequence = (self.sequence + 1) % 65536
        body = Command(self.sequence, word, arguments).body()
        waiting = self._waiting = _Waiting(self.sequence, urgent)
        patience = anyio.current_time() + patience_s
        try:
            while not waiting.done.is_set():
                if self.lost is not None:
                    raise LauncherError(self.lost)
                if anyio.current_time() > patience:
                    raise self._unanswered(word)
                await self._write(self.seal.close(body))
                with anyio.move_on_after(again_s):
                    await waiting.done.wait()
                self.counters.repeated += not waiting.done.is_set()
        finally:
            self._waiting = None
        if waiting.reply is not None:
            return waiting.reply
        if self.lost is not None:
            raise LauncherError(self.lost)
        raise self.given_up(word)

    # Trouble

    def lose(self, detail: str, cause: str = "") -> None:
        """The link is gone, for good: whoever waits is told, later commands fail at once.

        ``cause`` is one of ``launcher/faults.py``, where it is known.
        """
        if self.lost is not None:
            return
        self.lost = LINK_LOST.report(
            f"the link to the launcher is gone: {detail}",
            help=f"{where_to_look(cause, '') or _LOOK}, then start again with the same session",
            device=self.device,
        )
        self.lost_cause = cause
        self.lost_event.set()
        if self._waiting is not None:
            self._waiting.done.set()

    def given_up(self, word: str) -> LauncherError:
        return GivenUpError(
            GIVEN_UP.report(f"{word} was given up for a stop or hold", device=self.device)
        )

    def _unanswered(self, word: str) -> LauncherError:
        return LauncherError(
            NO_ANSWER.report(
                f"{word} was not answered; {self.last_bytes()}",
                help="run `feedscript link-check` on this address",
                device=self.device,
            )
        )

    def last_bytes(self) -> str:
        """The last bytes that came, as a report shows them."""
        if not self.tail:
            return "no byte came"
        return f"the last bytes that came: {bytes(self.tail[-60:])!r}"
