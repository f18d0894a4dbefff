"""What befalls the lines of one link: lost, doubled, late, spoilt, or none at all crosses it.

Sans-IO and in front of the far end itself, so that it is the same on every kind of link.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator

from feedscript_drivers.wire.codec import Keyed, LineReader, Plain
from feedscript_drivers.wire.messages import (
    Beat,
    Command,
    EventLine,
    Heartbeat,
    Reply,
    read_host_body,
    read_launcher_body,
)
from feedscript_drivers.wire.protocol import StopCharacter
from msgspec import Struct, field

from feedscript.launcher.trials.trial import Lines, Trial, Way, What

_STOPS = bytes(StopCharacter)
_KINDS: dict[type, Lines] = {
    Command: Lines.COMMANDS,
    Heartbeat: Lines.HEARTBEATS,
    Reply: Lines.REPLIES,
    Beat: Lines.BEATS,
    EventLine: Lines.EVENTS,
}


class _Waiting(Struct):
    """A fault of single lines that has begun, and how many lines it still befalls."""

    trial: Trial
    left: int


class Line(Struct):
    """``hear`` gives bytes to the launcher at a moment, ``tell`` to the host; ``struck`` is told
    of each fault that befell a line."""

    hear: Callable[[bytes, float], None]
    tell: Callable[[bytes], None]
    struck: Callable[[str, float], None]
    _waiting: list[_Waiting] = field(default_factory=list)
    _dead_until_s: dict[bool, float] = field(default_factory=lambda: {True: -1.0, False: -1.0})
    _late: list[tuple[float, int, bool, bytes]] = field(default_factory=list)
    _number: int = 0
    _rest: bytearray = field(default_factory=bytearray)
    _words: dict[int, str] = field(default_factory=dict)

    # What begins

    def begin(self, trial: Trial) -> None:
        """From now on lines of its kind are befallen, as many as it says."""
        self._waiting.append(_Waiting(trial, trial.times or 1))

    def die(self, now_s: float, way: Way | None, lasts_s: float | None) -> None:
        """Nothing crosses, one way or both, for so long; for good where that is not said."""
        until_s = now_s + (math.inf if lasts_s is None else lasts_s)
        for out, other in ((True, Way.FROM_LAUNCHER), (False, Way.TO_LAUNCHER)):
            if way is not other:
                self._dead_until_s[out] = until_s

    # What crosses

    def to_launcher(self, data: bytes, now_s: float) -> None:
        """Bytes of the host. Stop characters go ahead, whatever line they stand in."""
        for stop in (byte for byte in data if byte in _STOPS):
            self._cross(bytes([stop]), now_s, out=True)
        self._rest += data.translate(None, _STOPS)
        while (end := self._rest.find(b"\n") + 1) > 0:
            line = bytes(self._rest[:end])
            del self._rest[:end]
            self._cross(line, now_s, out=True)

    def to_host(self, data: bytes, now_s: float) -> None:
        """Whole lines of the launcher."""
        for line in data.splitlines(keepends=True):
            self._cross(line, now_s, out=False)

    def next_wake_s(self) -> float | None:
        return self._late[0][0] if self._late else None

    def deliver(self, now_s: float) -> None:
        """What was late and is due."""
        while self._late and self._late[0][0] <= now_s:
            _, _, out, piece = heapq.heappop(self._late)
            self._arrive(piece, now_s, out=out)

    def _cross(self, piece: bytes, now_s: float, *, out: bool) -> None:
        if now_s < self._dead_until_s[out]:
            return
        kind, word = self._is(piece, out=out)
        found = next(self._befalling(kind, word), None)
        if found is None:
            self._arrive(piece, now_s, out=out)
            return
        found.left -= 1
        self.struck(found.trial.name, now_s)
        match found.trial.what:
            case What.DOUBLED:
                self._arrive(piece, now_s, out=out)
                self._arrive(piece, now_s, out=out)
            case What.LATE:
                self._number += 1
                due_s = now_s + (found.trial.by_s or 0.0)
                heapq.heappush(self._late, (due_s, self._number, out, piece))
            case What.SPOILT:
                at = len(piece) // 2
                spoilt = piece[:at] + bytes([piece[at] ^ 1]) + piece[at + 1 :]
                self._arrive(spoilt, now_s, out=out)
            case _:
                pass  # lost

    def _befalling(self, kind: Lines | None, word: str) -> Iterator[_Waiting]:
        for one in self._waiting:
            trial = one.trial
            if one.left and kind is trial.of and trial.word in (None, word):
                yield one

    def _arrive(self, piece: bytes, now_s: float, *, out: bool) -> None:
        if now_s < self._dead_until_s[out]:
            return
        if out:
            self.hear(piece, now_s)
        else:
            self.tell(piece)

    def _is(self, piece: bytes, *, out: bool) -> tuple[Lines | None, str]:
        """What a line is, and its word; of a reply the word that it answers."""
        for item in LineReader().feed(piece):
            if not isinstance(item, Plain | Keyed):
                continue
            said = read_host_body(item.body) if out else read_launcher_body(item.body)
            word = getattr(said, "word", "")
            if isinstance(said, Command):
                self._words[said.sequence] = said.word
            elif isinstance(said, Reply):
                word = self._words.get(said.sequence, "")
            return _KINDS.get(type(said)), word
        return None, ""
