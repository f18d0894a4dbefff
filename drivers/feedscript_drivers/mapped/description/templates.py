"""Commands as they are written in a mapping: fixed text or bytes with places for numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator

from feedscript_drivers.mapped.description.keys import ByCommand, Gatt, Mapping

_PLACE = re.compile(r"\{(\w+)\}")
_HEX = re.compile(r"\s*(?:(?:[0-9A-Fa-f]{2}|\{\w+\})\s*)*")
_NAMED = re.compile(r"([a-z][a-z_]{0,19}): ?")


def templates(mapping: Mapping) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every command that is given, and its place in the file."""
    commands = mapping.commands
    for number, step in enumerate(mapping.start):
        yield ("start", str(number), "send"), step.send
    for number, part in enumerate(commands.set):
        yield ("commands", "set", str(number)), part
    for name in ("feed", "stop", "emergency", "alive", "poll"):
        if text := getattr(commands, name):
            yield ("commands", name), text


def patterns(mapping: Mapping) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every pattern that is given, and its place in the file."""
    replies = mapping.replies
    for number, step in enumerate(mapping.start):
        yield ("start", str(number), "answer"), step.answer
    for name in ("done", "refused"):
        found = getattr(replies, name)
        if isinstance(found, ByCommand):
            for word in ("set", "feed", "stop", "emergency", "alive", "poll"):
                if text := getattr(found, word):
                    yield ("replies", name, word), text
        else:
            yield ("replies", name), found
    for name in ("ball", "empty", "ready", "hopper", "fault"):
        if text := getattr(replies, name):
            yield ("replies", name), text
    for name, text in replies.faults.items():
        yield ("replies", "faults", name), text


def places(template: str) -> list[str]:
    """What numbers a command has, in order."""
    return _PLACE.findall(template)


def is_hex(template: str) -> bool:
    """Whether it is bytes in hexadecimal, with places between them."""
    return bool(_HEX.fullmatch(template))


def written(gatt: Gatt) -> list[str]:
    """The characteristics that the host writes."""
    return [name for name, one in gatt.characteristics.items() if one.write != "no"]


def speaking(gatt: Gatt) -> list[str]:
    """The characteristics by which the device speaks."""
    return [name for name, one in gatt.characteristics.items() if one.notify]


def addressed(gatt: Gatt | None, template: str) -> tuple[str, str]:
    """The characteristic that a command is for, and the command; "" where there is none."""
    if gatt is None:
        return "", template
    writable = written(gatt)
    if len(writable) == 1:
        return writable[0], template
    named = _NAMED.match(template)
    if named is None or named[1] not in writable:
        return "", template
    return named[1], template[named.end() :]
