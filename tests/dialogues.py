"""Plays the stories of ``shared/vectors/dialogues.json`` to anything that speaks the wire.

Each story is a list of steps, one a string; ``shared/vectors/README.md`` has the notation.
Nothing of the project's driver is in here: lines are made from ``shared/protocol.md`` with the
standard library.
"""

from __future__ import annotations

import binascii
import hashlib
import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

FILE = Path(__file__).resolve().parents[1] / "shared" / "vectors" / "dialogues.json"
BOOK: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
_ALL: dict[str, dict[str, Any]] = {story["name"]: story for story in BOOK["stories"]}
STORIES = {name: story for name, story in _ALL.items() if "axes" not in story}
#: Of launchers whose axes look for their home.
OF_HOMING = {name: story for name, story in _ALL.items() if "axes" in story}
#: Stories that need minutes of the launcher's time.
LONG = frozenset(name for name, story in STORIES.items() if story.get("long"))

_WRAP = 2**32
_ANSWER_MS = 50
_BEAT_MS = 200
_BEATS = range(60_000, 65_000)  # numbers of heartbeats that no story sends by itself
_FIELD = re.compile(r"\{(?P<name>[a-z]\w*)?(?P<what>\?|[+-]\d+)?(?:~(?P<near>\d+))?\}")


class Bench(Protocol):
    """A launcher with everything round it that a person could touch, in its own time."""

    def write(self, data: bytes) -> None:
        """Bytes from the host."""

    def advance(self, ms: int) -> bytes:
        """Let it run; what it has sent."""

    def turn(self, what: str) -> None:
        """Do one of the acts that stories name (``switch on``, ``next ball jams``)."""

    def is_off(self) -> bool:
        """Whether gate, drives and axes are all without power, as a meter would tell."""


def plain_line(body: str) -> bytes:
    """A plain line: the body, its CRC-16/IBM-3740, LF."""
    return f"{body}*{binascii.crc_hqx(body.encode('ascii'), 0xFFFF):04X}\n".encode("ascii")


def tag(key: bytes, direction: str, numbers: tuple[int, int, int], body: str) -> str:
    """The tag of a keyed line; ``numbers`` are boot, nonce and counter."""
    message = direction.encode() + b"".join(part.to_bytes(4, "little") for part in numbers)
    return hashlib.blake2s(message + body.encode("ascii"), digest_size=8, key=key).hexdigest()


def _between(first: int, second: int) -> int:
    """From one number to another, which may have wrapped."""
    return (second - first + _WRAP // 2) % _WRAP - _WRAP // 2


@dataclass
class Heard:
    """One line of the launcher, its closing judged."""

    body: str
    nonce: int | None = None  # that its tag was made under; None for a plain line


@dataclass
class Player:
    """The host's side of one story."""

    bench: Bench
    names: dict[str, int] = field(default_factory=dict)
    kept: dict[str, bytes] = field(default_factory=dict)
    inbox: list[Heard] = field(default_factory=list)
    beats: bool = True
    keyed_beats: bool = False
    at_ms: int = 0
    clock: int = 0  # the launcher's, as last heard
    _heard_ms: int = 0  # when that was
    _rest: bytes = b""
    _beaten_ms: int = -_BEAT_MS
    _beat_number: int = _BEATS.start
    _counter: int = 0
    nonces: list[int] = field(default_factory=list)  # of every keyed opening
    _their_counters: dict[int, int] = field(default_factory=dict)
    _step_ms: int = 0  # when the step before ended

    # The notation

    def play(self, steps: list[str]) -> None:
        """Every step in its order; the first that does not come out fails the test."""
        for number, step in enumerate(steps, start=1):
            try:
                self.step(step)
            except AssertionError as wrong:
                raise AssertionError(f"step {number}, {step!r}: {wrong}") from wrong
        assert not self.inbox, f"after the last step: {self.inbox}"

    def step(self, step: str) -> None:
        mark, _, rest = step.partition(" ")
        if mark == ">":
            self.bench.write(plain_line(self.fill(rest)))
        elif mark == ">#":
            self.bench.write(self.keyed_line(self.fill(rest)))
        elif mark == ">>":
            self.bench.write(rest.encode("latin-1"))
        elif mark.startswith("<"):
            self.hear(rest, keyed="#" in mark, within_ms=int(mark.strip("<#") or _ANSWER_MS))
        else:
            self.act(mark, rest)
            return
        self._step_ms = self.at_ms

    def act(self, verb: str, rest: str) -> None:
        words = rest.split(" ")
        match verb:
            case "quiet":  # quiet MS, or quiet until {MOMENT} by the launcher's clock
                moment = self.fill(words[-1])
                now = self.clock + self.at_ms - self._heard_ms
                self.run(_between(now, int(moment)) if words[0] == "until" else int(moment))
                assert not self.inbox, f"heard {self.inbox}"
            case "host":
                self.beats, self.keyed_beats = words[0] != "silent", words[-1] == "keyed"
            case "let":  # let NAME = now + MS; now is asked of the launcher
                self._beat()
                self.run(15)
                self.names[words[0]] = (self.clock + int(words[-1])) % _WRAP
            case "seal":  # seal boot BOOT after COUNTER under NONCE: what keyed lines need
                numbers = re.findall(r"\{\w+\}|\d+", rest)
                boot, self._counter, nonce = (int(self.fill(number)) for number in numbers)
                self.names |= {"_boot": boot, "_nonce": nonce}
            case "under":  # the nonce that what the launcher says next is closed under
                self.names["_nonce"] = int(rest)
            case "keep":  # keep NAME: BODY, for later; keep forged NAME: BODY, under another key
                key = bytes(32) if words[0] == "forged" else self.key
                name, _, body = rest.removeprefix("forged ").partition(": ")
                self.kept[name] = self.keyed_line(self.fill(body), key)
            case "send":  # send NAME, or send NAME with OLD for NEW
                line = self.kept[words[0]]
                if len(words) > 1:
                    assert words[2].encode() in line
                    line = line.replace(words[2].encode(), words[4].encode())
                self.bench.write(line)
            case "outputs":
                assert self.bench.is_off() == (rest == "off"), "the outputs are not"
            case _:
                self.bench.turn(f"{verb} {rest}")
                if verb == "power":
                    self._rest, self.clock = b"", 0
        self._step_ms = self.at_ms

    def fill(self, body: str) -> str:
        """Put the values of names in their places."""

        def value(found: re.Match[str]) -> str:
            return str((self.names[found["name"]] + int(found["what"] or 0)) % _WRAP)

        return _FIELD.sub(value, body)

    def hear(self, pattern: str, *, keyed: bool, within_ms: int) -> None:
        ends_ms = self._step_ms + within_ms
        while not self.inbox and self.at_ms < ends_ms:
            self.run(min(5 if within_ms <= 2 * _ANSWER_MS else 20, ends_ms - self.at_ms))
        assert self.inbox, f"nothing came within {within_ms} ms"
        heard = self.inbox.pop(0)
        wants = self.names["_nonce"] if keyed else None
        assert heard.nonce == wants, f"closed the other way: {heard}"
        words, wanted = heard.body.split(" "), pattern.split(" ")
        same = len(words) == len(wanted) and all(map(self.agrees, wanted, words))
        assert same, f"heard {heard.body!r}, names {self.names}"

    def agrees(self, wanted: str, word: str) -> bool:
        """Whether one field is as the story has it; names what it shall name."""
        if wanted == "{*}":
            return bool(word)
        found = _FIELD.fullmatch(wanted)
        if found is None:
            return wanted == word
        if found["what"] == "?":
            if found["name"]:
                self.names[found["name"]] = int(word, 16 if found["name"] == "caps" else 10)
            return True
        value = self.names[found["name"]] + int(found["what"] or 0)
        return abs(_between(value, int(word))) <= int(found["near"] or 0)

    # Lines

    @property
    def key(self) -> bytes:
        return bytes.fromhex(BOOK["key"])

    def keyed_line(self, body: str, key: bytes | None = None) -> bytes:
        self._counter += 1
        opens = re.search(r" OPEN \d+ (\d+)$", body)
        if opens is not None:
            self.nonces.append(int(opens[1]))
        nonce = 0 if opens is not None else self.names["_nonce"]
        numbers = (self.names["_boot"], nonce, self._counter)
        mark = tag(key or self.key, "H", numbers, body)
        return f"{body}#{self._counter:08X}{mark.upper()}\n".encode("ascii")

    def run(self, ms: int) -> None:
        """Let time pass, with heartbeats; what comes is read."""
        ends_ms = self.at_ms + ms
        while self.at_ms < ends_ms:
            if self.beats and self.at_ms - self._beaten_ms >= _BEAT_MS:
                self._beat()
            due_ms = self._beaten_ms + _BEAT_MS if self.beats else ends_ms
            step = max(1, min(ends_ms, due_ms) - self.at_ms)
            data = self.bench.advance(step)
            self.at_ms += step
            *lines, self._rest = (self._rest + data).split(b"\n")
            for line in lines:
                self._take(line.decode("ascii"))

    def _beat(self) -> None:
        self._beaten_ms = self.at_ms
        following = self._beat_number + 1
        self._beat_number = following if following in _BEATS else _BEATS.start
        body = f"T {self._beat_number} {self.clock}"
        self.bench.write(self.keyed_line(body) if self.keyed_beats else plain_line(body))

    def _take(self, line: str) -> None:
        heard = self._judge(line)
        words = heard.body.split(" ")
        if words[0] == "t":
            self.clock, self._heard_ms = int(words[2]), self.at_ms
            if int(words[1]) in _BEATS:
                is_keyed = heard.nonce is not None
                assert is_keyed == self.keyed_beats, f"a heartbeat closed the other way: {line}"
                return
        self.inbox.append(heard)

    def _judge(self, line: str) -> Heard:
        """The closing of a line of the launcher must be right, and its counter one higher."""
        body, mark, closing = re.split(r"([*#])", line, maxsplit=1)
        if mark == "*":
            assert plain_line(body).decode("ascii") == line + "\n", f"a wrong check: {line}"
            return Heard(body)
        for nonce in self.nonces:
            counter = self._their_counters.get(nonce, 0) + 1
            numbers = (self.names["_boot"], nonce, counter)
            if closing == f"{counter:08X}{tag(self.key, 'L', numbers, body).upper()}":
                self._their_counters[nonce] = counter
                return Heard(body, nonce)
        raise AssertionError(f"neither the next counter nor a right tag: {line}")


def play(bench: Bench, name: str) -> None:
    """One story on one launcher that was just switched on."""
    story = _ALL[name]
    Player(bench).play(BOOK["openings"].get(story.get("after"), []) + story["steps"])
