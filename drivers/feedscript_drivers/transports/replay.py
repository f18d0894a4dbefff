"""``replay:FILE``: a capture as the far end, so that a user's trouble becomes a test.

The launcher's side of the capture is played back to whatever the host now says: each command gets
the reply that the same word got then, in the same order, each heartbeat the next answer, and
events come where they came. A status that is asked for tells the state and the clock that the host
has been told by then: it may be asked for at other moments than it was. When the capture ends the
launcher falls silent, as it did.

Keyed lines are played back as plain ones: the capture holds no key, so their tags cannot be judged.
"""

from __future__ import annotations

import contextlib
from collections import defaultdict
from collections.abc import AsyncIterator, Iterable, Iterator
from pathlib import Path
from typing import BinaryIO, TypeAlias
from urllib.parse import unquote_to_bytes

import anyio
from msgspec import Struct, field
from msgspec.structs import replace

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.override import override
from feedscript.plain_file import open_plain
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_drivers.transports.said import Numbers, Said
from feedscript_drivers.transports.tap import CAPTURE, CAPTURE_HEADER, transport_tap
from feedscript_drivers.wire.codec import Keyed, LineReader, Plain, plain_line
from feedscript_drivers.wire.messages import (
    BadCommand,
    Beat,
    Command,
    EventLine,
    Heartbeat,
    LauncherBody,
    Reply,
    read_host_body,
    read_launcher_body,
)
from feedscript_drivers.wire.protocol import StopCharacter
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher


class Script(Struct):
    """What the launcher said, in order, and to which words of the host."""

    said: Said = field(default_factory=Said)
    replies: dict[str, Numbers] = field(default_factory=lambda: defaultdict(Numbers))
    beats: Numbers = field(default_factory=Numbers)

    def close(self) -> None:
        self.said.close()


#: A piece of a capture holds what was received at once, at most 64 KiB, each byte as up to three.
_MOST_LINE = 1 << 20
#: The word that asks for the state; it is asked for now and then.
_STATUS = "STAT"

#: What one side said, in the order in which it crossed the link.
Crossed: TypeAlias = Command | Heartbeat | LauncherBody


class Timed(Struct, frozen=True):
    """A line, or a stop character of the host's, and when it crossed: seconds since opening."""

    at_s: float
    said: Crossed | StopCharacter


def each_crossed(path: Path) -> Iterator[Crossed]:
    """All lines that were understood of a capture, in order, read as they are taken. Raises
    LauncherError for a file that is none."""
    for one in each_timed(path):
        if not isinstance(one.said, StopCharacter):
            yield one.said


def read_timed(path: Path) -> list[Timed]:
    """The same with stop characters and moments, all at once."""
    return list(each_timed(path))


def each_timed(path: Path) -> Iterator[Timed]:
    """The same, as they are taken."""
    try:
        with open_plain(path) as file:
            yield from _understood(_pieces(file))
    except (OSError, ValueError) as error:
        raise _unreadable(path, str(error)) from error


def _pieces(file: BinaryIO) -> Iterator[tuple[float, str, bytes]]:
    """Raises ValueError where it is no capture."""
    lines = _lines(file)
    if next(lines, "") != CAPTURE_HEADER:
        raise ValueError(f"its first line is not {CAPTURE_HEADER!r}")
    for line in lines:
        at_s, way, data = line.split(" ", 2)
        yield float(at_s), way, unquote_to_bytes(data)


def _lines(file: BinaryIO) -> Iterator[str]:
    while line := file.readline(_MOST_LINE):
        if len(line) == _MOST_LINE:
            raise ValueError("one of its lines is longer than any piece that crosses a link")
        yield line.decode("ascii").rstrip("\r\n")


def _understood(crossed: Iterable[tuple[float, str, bytes]]) -> Iterator[Timed]:
    readers = {">": LineReader(stop_characters=True), "<": LineReader()}
    for at_s, way, data in crossed:
        for item in readers[way].feed(data) if way in readers else ():
            if isinstance(item, StopCharacter):
                yield Timed(at_s, item)
            if not isinstance(item, Plain | Keyed):
                continue
            said = read_host_body(item.body) if way == ">" else read_launcher_body(item.body)
            if said is not None and not isinstance(said, BadCommand):
                yield Timed(at_s, said)


def read_capture(path: Path) -> Script:
    """A capture as a script. Raises LauncherError for a file that is none."""
    script, words = Script(), dict[int, str]()
    try:
        _write(script, words, path)
    except LauncherError:
        script.close()
        raise
    return script


def _write(script: Script, words: dict[int, str], path: Path) -> None:
    """``words``: of the commands that are not answered yet, by their sequence number."""
    for message in each_crossed(path):
        if isinstance(message, Command):
            words[message.sequence] = message.word
        if isinstance(message, Command | Heartbeat):
            continue
        index = len(script.said)
        script.said.append(message)
        if isinstance(message, Beat):
            script.beats.append(index)
        elif isinstance(message, Reply) and message.sequence in words:
            script.replies[words.pop(message.sequence)].append(index)


def _unreadable(path: Path, why: str) -> LauncherError:
    return LauncherError(
        CAPTURE.report(
            f"this is no capture: {why}",
            help="name a file that `run --capture FILE` wrote",
            device=f"replay:{path}",
        )
    )


class ReplayStream(InboxStream):
    """The far end of a capture."""

    def __init__(self, script: Script) -> None:
        super().__init__()
        self._script = script
        self._reader = LineReader(stop_characters=True)
        self._answered: dict[int, Reply] = {}
        self._played = 0  # everything said before this has been played or passed over
        self._state: EventLine | None = None  # the last change of state that was told
        self._beaten: Beat | None = None
        self._status: Reply | None = None

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        for line in self._reader.feed(item):
            if not isinstance(line, Plain):
                continue
            match read_host_body(line.body):
                case Command() as command:
                    self._answer(command)
                case Heartbeat() as heartbeat:
                    self._beat(heartbeat)

    def _answer(self, command: Command) -> None:
        reply = self._answered.get(command.sequence)
        index = None if reply is not None else self._script.replies[command.word].take()
        if index is not None:
            said = self._script.said[index]
            assert isinstance(said, Reply)
            if command.word == _STATUS:
                self._status = said
                said = self._of_now(said)
            reply = self._answered[command.sequence] = replace(said, sequence=command.sequence)
            self._say(reply)
            if command.word != _STATUS:
                self._say_events_after(index)
        elif reply is not None:
            self._say(reply)
        elif command.word == _STATUS and self._status is not None:
            self._say(replace(self._of_now(self._status), sequence=command.sequence))

    def _of_now(self, status: Reply) -> Reply:
        """The status with the state and the clock that the host has been told."""
        told = list(status.arguments)
        if status.code is not None or self._state is None:
            return status
        told[:2] = map(str, self._state.numbers)
        told[2] = str(max(self._state.ms, self._beaten.ms if self._beaten else 0))
        return replace(status, arguments=tuple(told))

    def _beat(self, heartbeat: Heartbeat) -> None:
        index = self._script.beats.take()
        if index is not None:
            said = self._script.said[index]
            assert isinstance(said, Beat)
            self._say_events_after(index - 1)
            self._say(replace(said, number=heartbeat.number))
            self._say_events_after(index)

    def _say_events_after(self, index: int) -> None:
        """The events up to the next answer, and those passed over on the way."""
        end = index + 1
        said = self._script.said
        while end < len(said) and said.is_event(end):
            end += 1
        for number in range(self._played, end):
            if said.is_event(number):
                self._say(said[number])
        self._played = max(self._played, end)

    def _say(self, message: LauncherBody) -> None:
        if isinstance(message, EventLine) and message.word == "STATE":
            self._state = message
        elif isinstance(message, Beat):
            self._beaten = message
        self.come(plain_line(message.body()))


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a capture as if it were the launcher."""
    with contextlib.closing(read_capture(Path(address))) as script:
        far_end = ReplayStream(script)
        async with (
            transport_tap(far_end, options.capture) as stream,
            open_launcher(stream, options, f"replay:{address}", trust=Trust.PLAIN) as launcher,
        ):
            yield launcher
