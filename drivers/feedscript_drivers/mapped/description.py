"""What a mapping file says, read strictly: a key that is not known is an error."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError
from feedscript.plain_file import read_plain

MAPPING = Page(
    slug="mapping-file",
    title="A mapping of another launcher's language that cannot be used",
    why=(
        "A mapping says how a device spells speed, aim, feed and stop, and what it answers. A "
        "device that does not stop by itself when the host falls silent is refused, unless the "
        "file says in `device.accepts_no_watchdog` why that may be: then a person must stand "
        "within reach of its switch whenever it is used."
    ),
)

Check = Literal["none", "sum8", "xor8", "crc16-ibm-3740", "crc16-modbus"]
QUANTITIES = ("drive_1", "drive_2", "drive_3", "pan_deg", "tilt_deg", "roll_deg")
NEVER = "(?!)"  # a pattern that nothing fits
Seconds = Annotated[float, Meta(ge=0.0, le=10.0)]


class Device(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the device is, and what it does by itself."""

    name: str
    frames: Literal["lines", "bytes"]
    line_end: str = "\n"
    start: str = ""  # of a byte frame, hexadecimal
    length_at: int | None = None  # where a byte frame says how many bytes follow that one
    check: Check = "none"
    check_separator: str = ""  # between a line and its check
    baud: int = 9600
    feed_lead_s: Seconds  # from the feed command to the ball's leaving
    ball_within_s: Seconds = 3.0  # after that the outcome is unknown
    answer_within_s: Seconds = 0.5
    watchdog_s: Annotated[float, Meta(gt=0.0, le=2.0)] | None = None
    accepts_no_watchdog: str = ""
    least_interval_s: Seconds = 1.0


class Quantity(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a value of a setting becomes a number: ``round(value * scale + offset)``."""

    scale: float = 1.0
    offset: float = 0.0
    least: int
    most: int
    digits: int = 0  # of a line: zeros in front up to this
    bytes: Annotated[int, Meta(ge=1, le=4)] = 2  # of a byte frame
    order: Literal["little", "big"] = "little"


class Commands(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Templates; ``{drive_1}`` and so on stand for quantities. Bytes are hexadecimal."""

    set: tuple[str, ...]
    feed: str
    stop: str
    emergency: str
    alive: str = ""  # sent often, where the device stops by itself without it


class ByCommand(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pattern for each command, where answers tell which one they are for; empty: no answer."""

    set: str
    stop: str
    emergency: str
    feed: str = ""
    alive: str = ""


class Replies(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Patterns (regular expressions) over a line, or over a frame's hexadecimal digits.

    One pattern for ``done`` or ``refused`` says that every command is answered alike: then answers
    belong to commands by their order alone.
    """

    done: str | ByCommand  # a command was taken
    ball: str  # a ball left
    refused: str | ByCommand = NEVER
    empty: str = NEVER  # there is no ball to feed
    fault: str = NEVER


class Mapping(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One file."""

    device: Device
    quantities: dict[str, Quantity]
    commands: Commands
    replies: Replies


def read_mapping(path: Path) -> Mapping:
    """The mapping in a file. Raises LauncherError that says what is wrong with it."""
    try:
        text = read_plain(path).decode("utf-8")
        mapping = msgspec.convert(tomllib.loads(text), Mapping)
    except (OSError, UnicodeDecodeError) as error:
        raise _unusable(path, str(error), "name a mapping file that exists") from error
    except (tomllib.TOMLDecodeError, msgspec.ValidationError) as error:
        raise _unusable(path, str(error), "fix that key; see the shipped examples") from error
    trouble = _trouble(mapping)
    if trouble is not None:
        raise _unusable(path, *trouble)
    return mapping


def _trouble(mapping: Mapping) -> tuple[str, str] | None:
    device, commands = mapping.device, mapping.commands
    templates = [*commands.set, commands.feed, commands.stop, commands.emergency, commands.alive]
    for name in re.findall(r"\{(\w+)\}", " ".join(templates)):
        if name not in mapping.quantities:
            return f"{{{name}}} is in a command and not among the quantities", "describe it"
    for name, quantity in mapping.quantities.items():
        if name not in QUANTITIES:
            return f"quantities.{name} is none of a setting", f"use {', '.join(QUANTITIES)}"
        if quantity.scale == 0 or quantity.least > quantity.most:
            return f"quantities.{name} has no range", "give a scale, and least below most"
    done = mapping.replies.done
    if isinstance(done, ByCommand) and not (done.set and done.stop and done.emergency):
        return "replies.done has no pattern for set, stop or emergency", "these must be answered"
    for pattern in _patterns(mapping.replies):
        try:
            re.compile(pattern)
        except re.error as error:
            return f"{pattern!r} is no pattern: {error}", "fix the regular expression"
    if device.frames == "bytes":
        for template in filter(None, [*templates, device.start]):
            if not re.fullmatch(r"(?:\s*(?:[0-9A-Fa-f]{2}|\{\w+\}))+\s*", template):
                return f"{template!r} is not bytes in hexadecimal", "write pairs of digits"
        if not device.start or device.length_at is None:
            return "byte frames need device.start and device.length_at", "give both"
    if device.watchdog_s is None and not device.accepts_no_watchdog.strip():
        return (
            "the device does not stop by itself when the host falls silent",
            "give device.watchdog_s, or say in device.accepts_no_watchdog why it may be used",
        )
    if device.watchdog_s is not None and not commands.alive:
        return "device.watchdog_s needs commands.alive", "name the command that keeps it alive"
    return None


def _patterns(replies: Replies) -> list[str]:
    each = msgspec.structs.astuple(replies)
    return [
        pattern
        for one in each
        for pattern in ([one] if isinstance(one, str) else msgspec.structs.astuple(one))
    ]


def _unusable(path: Path, why: str, fix: str) -> LauncherError:
    return LauncherError(MAPPING.report(why, help=fix, device=f"mapped:{path}"))
