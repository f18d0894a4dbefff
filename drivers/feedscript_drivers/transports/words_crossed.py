"""Which words of the wire crossed a link, beside all that there are."""

from __future__ import annotations

from enum import IntEnum
from pathlib import Path

from msgspec import Struct

from feedscript_drivers.transports.replay import each_crossed
from feedscript_drivers.wire.messages import Command, EventLine, Reply
from feedscript_drivers.wire.port_events import EVENTS
from feedscript_drivers.wire.protocol import COMMANDS, Code, FaultKind, Reason, spelled


class Crossed(Struct, frozen=True):
    """Words of one kind: every one that the wire has, and those that crossed."""

    kind: str
    known: tuple[str, ...]
    crossed: frozenset[str]


def words_crossed(path: Path) -> tuple[Crossed, ...]:
    """Of a capture, kind by kind. Raises LauncherError for a file that is none."""
    commands, codes, events = set[str](), set[str](), set[str]()
    reasons, faults = set[str](), set[str]()
    for message in each_crossed(path):
        match message:
            case Command(word=word):
                commands.add(word)
            case Reply(code=int(code)) if code in tuple(Code):
                codes.add(spelled(Code(code)))
            case EventLine(word=word, numbers=numbers):
                events.add(word)
                if word in ("MISS", "LOST", "STATE") and numbers[-1] in tuple(Reason):
                    reasons.add(spelled(Reason(numbers[-1])))
                if word == "FAULT" and numbers[0] in tuple(FaultKind):
                    faults.add(spelled(FaultKind(numbers[0])))
    return (
        Crossed("commands of the wire", tuple(COMMANDS), frozenset(commands)),
        Crossed("refusals of the wire", _all(Code), frozenset(codes)),
        Crossed("events of the wire", tuple(EVENTS), frozenset(events)),
        Crossed("reasons of the wire", _all(Reason), frozenset(reasons)),
        Crossed("faults of the wire", _all(FaultKind), frozenset(faults)),
    )


def _all(kind: type[IntEnum]) -> tuple[str, ...]:
    return tuple(spelled(one) for one in kind)
