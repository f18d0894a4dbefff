"""``paced:FILE``: a capture as the far end, in the order and at the pace in which it was.

Each line of the launcher's comes as long after what the host decided before it as it did then, so
that the same host hears the same at the same moments; in virtual time an hour takes seconds. One
that never decides that hears no more: the launcher waits for it. The launcher's clock in these
lines is moved by as much as their moments are.
"""

from __future__ import annotations

import contextlib
import heapq
import math
from collections import defaultdict, deque
from collections.abc import AsyncIterator
from pathlib import Path

import anyio
from msgspec import Struct, field
from msgspec.structs import replace

from feedscript.launcher.port import ConnectOptions, LauncherPort
from feedscript.override import override
from feedscript_drivers.transports.decisions import decides
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_drivers.transports.replay import Timed, read_timed
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.codec import LineReader, Plain, plain_line
from feedscript_drivers.wire.messages import (
    Beat,
    Command,
    EventLine,
    Heartbeat,
    LauncherBody,
    Reply,
    read_host_body,
)
from feedscript_drivers.wire.one_error import one_error
from feedscript_drivers.wire.protocol import StopCharacter
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher

#: Replies that tell the launcher's clock, and which of their arguments does.
_STATUS = "STAT"
_CLOCK = {_STATUS: 2, "HIST": 2}


class _Answer(Struct, frozen=True):
    """What was said to a line of the host: so long after it, which came at ``asked_s``.

    ``number``: its place in the capture; of lines that come at one moment the order is kept.
    """

    number: int
    asked_s: float
    after_s: float
    said: LauncherBody


class Pace(Struct):
    """A capture, taken apart: what was said to which line, and what by itself."""

    replies: dict[str, deque[_Answer | None]] = field(default_factory=lambda: defaultdict(deque))
    beats: deque[_Answer | None] = field(default_factory=deque)
    events: list[list[_Answer]] = field(default_factory=lambda: [[]])  # after each decision


def pace_of(crossed: list[Timed]) -> Pace:
    """Each reply with the line that it answers, each event with the decision before it."""
    pace, decided_s, seen = Pace(), 0.0, set[int]()
    waiting: dict[int, tuple[float, deque[_Answer | None], int]] = {}
    beating: dict[int, tuple[float, int]] = {}
    for place, one in enumerate(crossed):
        match one.said:
            case Command(sequence=number, word=word):
                if number in seen:
                    continue
                seen.add(number)
                queue = pace.replies[word]
                waiting[number] = one.at_s, queue, len(queue)
                queue.append(None)
            case Heartbeat(number=number):
                beating[number] = one.at_s, len(pace.beats)
                pace.beats.append(None)
            case Reply(sequence=number) as said if number in waiting:
                asked_s, queue, at = waiting.pop(number)
                queue[at] = _Answer(place, asked_s, one.at_s - asked_s, said)
            case Beat(number=number) as said if number in beating:
                asked_s, at = beating.pop(number)
                pace.beats[at] = _Answer(place, asked_s, one.at_s - asked_s, said)
            case EventLine() as said:
                pace.events[-1].append(_Answer(place, decided_s, one.at_s - decided_s, said))
        if decides(one.said):
            decided_s = one.at_s
            pace.events.append([])
    return pace


class PacedStream(InboxStream):
    """The far end of a capture."""

    def __init__(self, pace: Pace) -> None:
        super().__init__()
        self._pace = pace
        self._due: list[tuple[float, int, LauncherBody, str]] = []
        self._event: int | None = None  # the last event that was told
        self._state: EventLine | None = None  # the last change of state
        self._more = anyio.Event()
        self._reader = LineReader(stop_characters=True)
        self._opened_s = anyio.current_time()
        self._asked: set[int] = set()
        self._decided = 0
        self._tell_events()

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        for line in self._reader.feed(item):
            if isinstance(line, StopCharacter):
                self._decides()
            elif isinstance(line, Plain):
                self._hear(line)

    def _hear(self, line: Plain) -> None:
        match read_host_body(line.body):
            case Command(sequence=number, word=word) as command if number not in self._asked:
                self._asked.add(number)
                if decides(command):
                    self._decides()
                queue = self._pace.replies[word]
                answer = queue.popleft() if queue else None
                if answer is not None:
                    said = replace(answer.said, sequence=number)
                    self._later(replace(answer, said=said), word)
            case Heartbeat(number=number):
                answer = self._pace.beats.popleft() if self._pace.beats else None
                if answer is not None:
                    self._later(replace(answer, said=replace(answer.said, number=number)))

    def _decides(self) -> None:
        self._decided += 1
        self._tell_events()

    def _tell_events(self) -> None:
        """What the launcher said by itself after this decision."""
        if self._decided < len(self._pace.events):
            for event in self._pace.events[self._decided]:
                self._later(event)

    def _later(self, answer: _Answer, word: str = "") -> None:
        """Say it as long after now as it was after what it answers."""
        moved_s = anyio.current_time() - self._opened_s - answer.asked_s
        said = _moved(answer.said, word, round(moved_s * 1000))
        due_s = round(anyio.current_time() + answer.after_s, 4)
        heapq.heappush(self._due, (due_s, answer.number, said, word))
        self._more.set()

    async def keep_time(self) -> None:
        """Say each line when it is due."""
        while True:
            self._more = anyio.Event()
            with anyio.move_on_at(self._due[0][0] if self._due else math.inf):
                await self._more.wait()
            while self._due and self._due[0][0] <= anyio.current_time():
                _, _, said, word = heapq.heappop(self._due)
                self.come(plain_line(self._of_now(said, word).body()))

    def _of_now(self, said: LauncherBody, word: str) -> LauncherBody:
        """What tells the state, and the newest event, tells those that the host was told: a
        heartbeat or a status may come at another moment than it did."""
        match said:
            case EventLine(sequence=number, word=event):
                self._event = number
                self._state = said if event == "STATE" else self._state
            case Beat() if self._event is not None:
                state = self._state.numbers[0] if self._state is not None else said.state
                return replace(said, event=self._event, state=state)
            case Reply(code=None) if word == _STATUS and self._state is not None:
                told = [*map(str, self._state.numbers), *said.arguments[2:-1], str(self._event)]
                return replace(said, arguments=tuple(told))
        return said


def _moved(said: LauncherBody, word: str, by_ms: int) -> LauncherBody:
    """The same with the launcher's clock so much later."""
    if isinstance(said, Beat | EventLine):
        return replace(said, ms=(said.ms + by_ms) % 2**32)
    at = _CLOCK.get(word)
    if at is None or said.code is not None or not said.arguments[at : at + 1]:
        return said
    told = list(said.arguments)
    told[at] = str((int(told[at]) + by_ms) % 2**32)
    return replace(said, arguments=tuple(told))


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a capture as if it were the launcher, with its times. Raises LauncherError."""
    pace = pace_of(read_timed(Path(address)))
    with one_error():
        async with anyio.create_task_group() as tasks:
            far_end = PacedStream(pace)
            tasks.start_soon(far_end.keep_time)
            async with (
                transport_tap(far_end, options.capture) as stream,
                open_launcher(stream, options, f"paced:{address}", trust=Trust.PLAIN) as launcher,
            ):
                yield launcher
            tasks.cancel_scope.cancel()
