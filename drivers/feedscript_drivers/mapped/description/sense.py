"""Whether the keys of a mapping belong together; what the schema cannot say."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator

from feedscript.nearest import nearest
from feedscript.tables import Mistake
from feedscript_drivers.mapped.description.crc import crc, width_of
from feedscript_drivers.mapped.description.keys import (
    NEVER,
    QUANTITIES,
    REQUEST_ID,
    ByCommand,
    Mapping,
    Quantity,
)
from feedscript_drivers.mapped.description.templates import (
    addressed,
    is_hex,
    patterns,
    places,
    speaking,
    templates,
    written,
)

_GROUPS = ("id", "count", "balls")


def nonsense(mapping: Mapping) -> list[Mistake]:
    """Every mistake that shows only when keys are looked at together."""
    return [mistake for look in _LOOKS for mistake in look(mapping)]


def _numbers_known(mapping: Mapping) -> Iterator[Mistake]:
    known = [*mapping.quantities, *([REQUEST_ID] if mapping.ids else [])]
    for path, template in templates(mapping):
        for name in places(template):
            if name not in known:
                near = nearest(name, [*QUANTITIES, REQUEST_ID])
                hint = f"did you mean {{{near}}}? " if near and near != name else ""
                table = "[ids]" if REQUEST_ID in (name, near) else f"[quantities.{near or name}]"
                yield Mistake(
                    path,
                    f"{{{name}}} is in {'.'.join(path)} and not described",
                    f"{hint}describe it in `{table}`; there are {', '.join(known)}",
                )
            elif path[:2] != ("commands", "set") and name != REQUEST_ID:
                yield Mistake(
                    path, f"{{{name}}} stands in {'.'.join(path)}", "a setting is `commands.set`"
                )
    used = {name for _, template in templates(mapping) for name in places(template)}
    for name in sorted({*mapping.quantities} - used):
        yield Mistake(
            ("quantities", name),
            f"{name} is described and stands in no command",
            f"write {{{name}}} in `commands.set`, or leave it out",
        )


def _quantities(mapping: Mapping) -> Iterator[Mistake]:
    for name, quantity in mapping.quantities.items():
        path = ("quantities", name)
        if quantity.least > quantity.most or quantity.scale == 0:
            yield Mistake(path, f"{name} has no range", "give a scale, and least below most")
        if quantity.table:
            yield from _table(path, quantity)
        if mapping.frame.kind != "lines" and quantity.spelled == "whole":
            signed = quantity.least < 0
            bits = 8 * quantity.bytes - signed
            if not -(2**bits) * signed <= quantity.least <= quantity.most < 2**bits:
                fix = "give it more bytes, or a narrower range"
                yield Mistake(path, f"{name} does not fit {quantity.bytes} byte(s) everywhere", fix)


def _table(path: tuple[str, ...], quantity: Quantity) -> Iterator[Mistake]:
    numbers = [number for number, _ in quantity.table]
    values = [value for _, value in quantity.table]
    if any(one >= other for one, other in itertools.pairwise(values)):
        yield Mistake(
            (*path, "table"), "the table's values do not rise", "sort it, each value once"
        )
    if len(set(numbers)) < len(numbers):
        yield Mistake((*path, "table"), "a number is in the table twice", "keep one of them")
    if any(not quantity.least <= number <= quantity.most for number in numbers):
        fix = "widen the range, or leave it out"
        yield Mistake((*path, "table"), "a number of the table is outside least to most", fix)


def _frames(mapping: Mapping) -> Iterator[Mistake]:
    frame = mapping.frame
    of_bytes: dict[str, object] = {"start": frame.start, "end": frame.end, "size": frame.size}
    of_bytes |= {"length": frame.length, "pad": frame.pad, "escape": frame.escape}
    if frame.kind != "bytes":
        for name, value in of_bytes.items():
            if value:
                yield Mistake(
                    ("frame", name), f"frame.{name} is of byte frames alone", "leave it out"
                )
    elif sum(map(bool, (frame.length, frame.size, frame.end))) != 1:
        yield Mistake(
            ("frame",),
            "byte frames need one of length, size and end",
            "say how a frame ends: `[frame.length]`, `size = ...` or `end = ...`",
        )
    else:
        yield from _byte_frames(mapping)
    if frame.kind != "lines":
        for path, template in templates(mapping):
            body = addressed(mapping.gatt, template)[1]
            if not is_hex(body):
                fix = "write pairs of digits 0 to F, and {...} for numbers"
                yield Mistake(path, f"{template!r} is not bytes in hexadecimal", fix)
    else:
        yield from _plain_lines(mapping)


def _byte_frames(mapping: Mapping) -> Iterator[Mistake]:
    frame = mapping.frame
    if frame.escape is not None and not frame.end:
        fix = "leave it out, or say `frame.end`"
        yield Mistake(("frame", "escape"), "only a frame with an end needs escapes", fix)
    if frame.escape is not None and len(bytes.fromhex(frame.escape.byte)) != 1:
        yield Mistake(("frame", "escape", "byte"), "an escape is one byte", "write two digits")
    if frame.escape is not None and len(bytes.fromhex(frame.escape.xor)) != 1:
        yield Mistake(("frame", "escape", "xor"), "one byte is combined", "write two digits")
    if frame.end and frame.escape is None and frame.check is not None:
        fix = "describe `[frame.escape]`, or use a length"
        yield Mistake(("frame", "end"), "the end may stand in a check or a number", fix)
    if frame.pad and frame.size is None:
        fix = "leave it out, or say `frame.size`"
        yield Mistake(("frame", "pad"), "only frames of one size are filled up", fix)
    if len(bytes.fromhex(frame.pad)) > 1:
        yield Mistake(("frame", "pad"), "one byte fills up", "write two digits")
    if frame.length is not None and frame.length.at < len(bytes.fromhex(frame.start)):
        fix = f"{len(bytes.fromhex(frame.start))} is the first place after it"
        yield Mistake(("frame", "length", "at"), "the length stands inside frame.start", fix)


def _plain_lines(mapping: Mapping) -> Iterator[Mistake]:
    for path, template in templates(mapping):
        body = addressed(mapping.gatt, template)[1]
        if not body.isascii() or not body.isprintable():
            yield Mistake(path, f"{template!r} has letters beyond ASCII", "use plain characters")
    if not mapping.frame.line_end.isascii():
        yield Mistake(("frame", "line_end"), "a line ends in ASCII", "use \\n or \\r\\n")
    if mapping.frame.check and not mapping.frame.check.separator.isascii():
        yield Mistake(("frame", "check", "separator"), "it is not ASCII", "use plain characters")


def _check(mapping: Mapping) -> Iterator[Mistake]:
    check = mapping.frame.check
    if check is None:
        return
    if (check.kind == "own-crc") != (check.crc is not None):
        fix = 'give both `kind = "own-crc"` and `[frame.check.crc]`, or neither'
        yield Mistake(("frame", "check"), "own-crc and its parameters belong together", fix)
    elif check.crc is not None:
        given = crc(check.crc, b"123456789")
        if given != check.crc.check:
            yield Mistake(
                ("frame", "check", "crc"),
                f"with these parameters 123456789 gives 0x{given:02X}, not 0x{check.crc.check:02X}",
                "one of them is wrong; look it up again",
            )


def _patterns(mapping: Mapping) -> Iterator[Mistake]:
    for path, pattern in patterns(mapping):
        try:
            groups = re.compile(pattern).groupindex
        except re.error as error:
            fix = "fix the regular expression"
            yield Mistake(path, f"{pattern!r} is no pattern: {error}", fix)
            continue
        for name in groups:
            if name not in _GROUPS:
                fix = f"the groups are {', '.join(_GROUPS)}"
                yield Mistake(path, f"{'.'.join(path)} has a group {name!r}", fix)
        if path[:2] == ("replies", "hopper") and "balls" not in groups:
            fix = "put `(?P<balls>[0-9]+)` around the number"
            yield Mistake(path, "replies.hopper does not say where the balls are", fix)
        is_answer = path[1] in ("done", "refused") and pattern != NEVER
        if mapping.ids and is_answer and "id" not in groups:
            fix = "put `(?P<id>...)` around it"
            yield Mistake(path, f"{'.'.join(path)} does not say where the id is", fix)


def _ids(mapping: Mapping) -> Iterator[Mistake]:
    ids = mapping.ids
    if ids is None:
        return
    for path, template in templates(mapping):
        if path[0] == "commands" and places(template).count(REQUEST_ID) != 1:
            yield Mistake(
                path, f"{'.'.join(path)} has no {{id}}", "each request carries its number once"
            )
    if not ids.least < ids.most or (mapping.frame.kind != "lines" and ids.most >= 256**ids.bytes):
        yield Mistake(("ids",), "the ids have no range that fits", "look at least, most and bytes")


def _answers(mapping: Mapping) -> Iterator[Mistake]:
    commands, replies = mapping.commands, mapping.replies
    done = replies.done
    if isinstance(done, ByCommand):
        needed = ["set", *(name for name in ("stop", "emergency") if getattr(commands, name))]
        for name in needed:
            if not getattr(done, name):
                fix = "a setting and a stop must be answered; a device that never answers is unfit"
                yield Mistake(("replies", "done"), f"replies.done has no pattern for {name}", fix)
    elif done in ("", NEVER):
        fix = "a setting and a stop must be answered; a device that never answers is unfit"
        yield Mistake(("replies", "done"), "nothing says that a command was taken", fix)
    if commands.poll and (not isinstance(done, ByCommand) or not done.poll):
        fix = "write `[replies.done]` with a pattern for set, stop, emergency and poll"
        yield Mistake(("replies", "done"), "the answer to a poll must tell itself apart", fix)
    if bool(commands.poll) != (commands.poll_every_s is not None):
        yield Mistake(
            ("commands",), "poll and poll_every_s belong together", "give both, or neither"
        )
    if replies.count_wraps_at is not None and "(?P<count>" not in replies.ball:
        fix = "leave it out, or put `(?P<count>...)` into replies.ball"
        yield Mistake(("replies", "count_wraps_at"), "nothing is counted", fix)


def _guarantees(mapping: Mapping) -> Iterator[Mistake]:
    device, commands = mapping.device, mapping.commands
    yield from _without(
        "accepts_no_watchdog",
        device.accepts_no_watchdog,
        device.watchdog_s is not None,
        "the device does not stop by itself when the host falls silent",
        "give device.watchdog_s",
    )
    yield from _without(
        "accepts_no_ball_told",
        device.accepts_no_ball_told,
        bool(mapping.replies.ball),
        "the device does not say that a ball left",
        "give replies.ball",
    )
    yield from _without(
        "accepts_no_stop",
        device.accepts_no_stop,
        bool(commands.stop),
        "the device cannot be told to stop",
        "give commands.stop",
    )
    yield from _without(
        "accepts_open_radio",
        device.accepts_open_radio,
        mapping.gatt is None,
        "anybody in range can command the device too",
        "use its cable",
    )
    if bool(commands.stop) != bool(commands.emergency):
        fix = "give both; where it has one stop only, say it twice"
        yield Mistake(("commands",), "stop and emergency belong together", fix)
    if device.watchdog_s is not None and not (commands.alive or commands.poll):
        fix = "name the command that keeps it alive: `commands.alive`"
        yield Mistake(("device", "watchdog_s"), "device.watchdog_s needs commands.alive", fix)
    if device.watchdog_s is not None and not commands.alive:
        every_s = commands.poll_every_s or 0.0
        if every_s > device.watchdog_s / 4:
            fix = f"poll every {device.watchdog_s / 4:g} s, or give `commands.alive`"
            yield Mistake(("commands", "poll_every_s"), "the polls do not keep it alive", fix)


def _without(key: str, reason: str, has: bool, lacking: str, remedy: str) -> Iterator[Mistake]:
    path = ("device", key)
    if has and reason:
        yield Mistake(path, f"device.{key} is said, and it is not so", "leave it out")
    if not has and not reason.strip():
        yield Mistake(path, lacking, f"{remedy}, or say in device.{key} why it may be used")


def _radio(mapping: Mapping) -> Iterator[Mistake]:
    gatt = mapping.gatt
    if gatt is None:
        if mapping.frame.kind == "packets":
            fix = "describe `[gatt]`, or use lines or bytes"
            yield Mistake(("frame", "kind"), "packets are of Bluetooth", fix)
        return
    if not written(gatt) or not speaking(gatt):
        fix = "one needs `write`, one `notify = true`"
        yield Mistake(("gatt", "characteristics"), "nothing is written, or nothing speaks", fix)
    if mapping.frame.kind != "packets" and (len(written(gatt)) > 1 or len(speaking(gatt)) > 1):
        fix = "one that is written and one that speaks; or packets"
        yield Mistake(("gatt", "characteristics"), "lines and bytes flow in one stream", fix)
    for path, template in templates(mapping):
        if written(gatt) and not addressed(gatt, template)[0]:
            fix = f"begin it with one of {', '.join(written(gatt))}, and a colon"
            yield Mistake(path, f"{template!r} does not say which characteristic", fix)


#: What a write without response can always carry: an ATT_MTU of 23 less three bytes of head
#: (Bluetooth Core Specification, vol 3 part F, 3.2.8 and 3.4.5.3).
_SMALLEST_PACKET = 20


def _packets(mapping: Mapping) -> Iterator[Mistake]:
    """A packet is one write: it is never cut."""
    if mapping.gatt is None or mapping.frame.kind != "packets":
        return
    width = 0 if mapping.frame.check is None else width_of(mapping.frame.check)
    for path, template in templates(mapping):
        name, body = addressed(mapping.gatt, template)
        if not name or mapping.gatt.characteristics[name].write == "with-response":
            continue
        size = width + sum(_bytes_of(mapping, part) for part in re.findall(_PART, body))
        if size > _SMALLEST_PACKET:
            fix = f"{_SMALLEST_PACKET} always do; write it with response, or in two parts"
            yield Mistake(path, f"{size} bytes may not fit one packet without response", fix)


_PART = r"[0-9A-Fa-f]{2}|\{\w+\}"


def _bytes_of(mapping: Mapping, part: str) -> int:
    name = part[1:-1]
    if name == REQUEST_ID and mapping.ids:
        return mapping.ids.bytes
    quantity = mapping.quantities.get(name)
    if quantity is None:
        return 1
    return 4 if quantity.spelled == "float32" else quantity.bytes


_LOOKS: tuple[Callable[[Mapping], Iterator[Mistake]], ...] = (
    _numbers_known,
    _quantities,
    _frames,
    _check,
    _patterns,
    _ids,
    _answers,
    _guarantees,
    _radio,
    _packets,
)
