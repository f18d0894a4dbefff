"""The bodies of lines as values: commands, heartbeats, replies, events."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TypeAlias

from msgspec import Struct

from feedscript_drivers.wire.protocol import ARGUMENT_RANGES, COMMANDS, Code

#: What a launcher may be called.
NAME = re.compile(r"[A-Za-z0-9._-]{1,32}")
#: Arguments that are no numbers: a digest, a name.
_WORDS = {"h": re.compile(r"[0-9a-fA-F]{64}"), "n": NAME}

Argument: TypeAlias = int | str


class Command(Struct, frozen=True):
    """One command of the host."""

    sequence: int
    word: str
    arguments: tuple[Argument, ...] = ()

    def body(self) -> str:
        return " ".join([str(self.sequence), self.word, *map(str, self.arguments)])

    def numbers(self) -> tuple[int, ...]:
        """The arguments of a command that has only numbers."""
        return tuple(int(argument) for argument in self.arguments)


class Heartbeat(Struct, frozen=True):
    """The host is alive; ``echo`` is the launcher's clock as last heard."""

    number: int
    echo: int

    def body(self) -> str:
        return f"T {self.number} {self.echo}"


class BadCommand(Struct, frozen=True):
    """A command whose number can be answered but whose rest is wrong."""

    sequence: int
    code: Code
    word: str = ""


HostBody: TypeAlias = Command | Heartbeat | BadCommand


class Reply(Struct, frozen=True):
    """The launcher's answer to one command; ``code`` is None for OK."""

    sequence: int
    code: int | None
    arguments: tuple[str, ...] = ()

    def body(self) -> str:
        verdict = ["OK"] if self.code is None else ["NO", str(self.code)]
        return " ".join([str(self.sequence), *verdict, *self.arguments])


class Beat(Struct, frozen=True):
    """The launcher's answer to a heartbeat."""

    number: int
    ms: int
    event: int
    state: int
    boot: int

    def body(self) -> str:
        return f"t {self.number} {self.ms} {self.event} {self.state} {self.boot}"


class EventLine(Struct, frozen=True):
    """Something the launcher reports."""

    sequence: int
    ms: int
    word: str
    numbers: tuple[int, ...] = ()

    def body(self) -> str:
        return " ".join(["!", str(self.sequence), str(self.ms), self.word, *map(str, self.numbers)])


LauncherBody: TypeAlias = Reply | Beat | EventLine


def number(text: str, kind: str) -> int | None:
    """A number of this kind as the wire spells it, in one way only, or None."""
    try:
        value = int(text)
    except ValueError:
        return None
    least, most = ARGUMENT_RANGES[kind]
    return value if least <= value <= most and str(value) == text else None


@lru_cache(64)
def _kinds(shape: str) -> tuple[int, str]:
    """How many arguments there are at least, and the kind of each."""
    kinds = shape.replace("?", "")
    return len(kinds) - shape.count("?"), kinds


def _arguments(texts: list[str], shape: str) -> tuple[Argument, ...] | None:
    least, kinds = _kinds(shape)
    if not least <= len(texts) <= len(kinds):
        return None
    values: list[Argument] = []
    for text, kind in zip(texts, kinds, strict=False):
        value = _word(text, kind) if kind in _WORDS else number(text, kind)
        if value is None:
            return None
        values.append(value)
    return tuple(values)


def _word(text: str, kind: str) -> str | None:
    return text if _WORDS[kind].fullmatch(text) else None


def read_host_body(body: str) -> HostBody | None:
    """What a host's line says; None when it cannot even be answered."""
    first, *rest = body.split(" ")
    if first == "T":
        numbers = _arguments(rest, "uU")
        return Heartbeat(*map(int, numbers)) if numbers is not None else None
    sequence = number(first, "u")
    if sequence is None or not rest:
        return None
    word, *texts = rest
    if word in ("OK", "NO"):  # an echo of the launcher's own: to answer it would never end
        return None
    shape = COMMANDS.get(word)
    if shape is None:
        return BadCommand(sequence, Code.UNKNOWN_WORD if word else Code.MALFORMED)
    arguments = _arguments(texts, shape)
    if arguments is None:
        return BadCommand(sequence, Code.MALFORMED, word)
    return Command(sequence, word, arguments)


def read_launcher_body(body: str) -> LauncherBody | None:
    """What a launcher's line says; None when it says nothing this version knows."""
    first, *rest = body.split(" ")
    if first == "t":
        numbers = _arguments(rest, "uUuuU")
        return Beat(*map(int, numbers)) if numbers is not None else None
    if first == "!":
        return _read_event(rest)
    sequence = number(first, "u")
    if sequence is None or not rest:
        return None
    if rest[0] == "OK":
        return Reply(sequence, None, tuple(rest[1:]))
    if rest[0] == "NO" and len(rest) > 1:
        code = number(rest[1], "u")
        return Reply(sequence, code, tuple(rest[2:])) if code is not None else None
    return None


def _read_event(rest: list[str]) -> EventLine | None:
    if len(rest) < 3 or not rest[2].isalpha():
        return None
    head = _arguments(rest[:2], "uU")
    tail = [number(text, "U") for text in rest[3:]]
    if head is None or None in tail:
        return None
    return EventLine(int(head[0]), int(head[1]), rest[2], tuple(n for n in tail if n is not None))
