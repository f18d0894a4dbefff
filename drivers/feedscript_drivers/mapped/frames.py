"""Commands into frames, and frames out of a stream, as a mapping describes them."""

from __future__ import annotations

import math
import re
import struct

from msgspec import Struct, field

from feedscript_drivers.mapped.description.crc import check_of, width_of
from feedscript_drivers.mapped.description.keys import (
    REQUEST_ID,
    Check,
    Escape,
    Frame,
    Ids,
    Mapping,
    Quantity,
)
from feedscript_drivers.mapped.description.templates import addressed, speaking

_MOST_FRAME = 256
_PART = re.compile(r"[0-9A-Fa-f]{2}|\{\w+\}")


def frame(mapping: Mapping, template: str, numbers: dict[str, float]) -> bytes:
    """One command as it goes out. By Bluetooth the characteristic's name and a colon stand before
    what is written to it."""
    name, body = addressed(mapping.gatt, template)
    if mapping.frame.kind == "lines":
        whole = _line(mapping, body, numbers)
    else:
        whole = _framed(mapping.frame, _payload(mapping, body, numbers))
    return f"{name}:".encode() + whole if name else whole


def _line(mapping: Mapping, template: str, numbers: dict[str, float]) -> bytes:
    def spelled(match: re.Match[str]) -> str:
        name = match[1]
        if name == REQUEST_ID:
            assert mapping.ids is not None
            return f"{numbers[name]:0{mapping.ids.digits or 1}.0f}"
        quantity = mapping.quantities[name]
        return f"{numbers[name]:0{quantity.digits or 1}.{_decimals(quantity)}f}"

    text = re.sub(r"\{(\w+)\}", spelled, template).encode("ascii")
    check = mapping.frame.check
    tail = b"" if check is None else check.separator.encode() + _written_check(check, text)
    return text + tail + mapping.frame.line_end.encode("ascii")


def _decimals(quantity: Quantity) -> int:
    return 6 if quantity.spelled == "float32" else quantity.decimals


def _written_check(check: Check, text: bytes) -> bytes:
    """The check over a line as the line has it."""
    value, width = _check_over(check, text), width_of(check)
    if check.spelled == "decimal":
        return f"{value:0{3 if width == 1 else 5}d}".encode()
    if check.order == "little" and width == 2:
        value = (value & 0xFF) << 8 | value >> 8
    digits = f"{value:0{2 * width}X}"
    return (digits if check.spelled == "HEX" else digits.lower()).encode()


def _check_over(check: Check, data: bytes) -> int:
    return check_of(check, data[check.skip_first : len(data) - check.skip_last])


def _payload(mapping: Mapping, template: str, numbers: dict[str, float]) -> bytes:
    payload = bytearray()
    for part in _PART.findall(template):
        if not part.startswith("{"):
            payload.append(int(part, 16))
            continue
        name = part[1:-1]
        described = mapping.ids if name == REQUEST_ID else mapping.quantities[name]
        assert described is not None
        payload += _packed(numbers[name], described)
    return bytes(payload)


def _packed(number: float, described: Quantity | Ids) -> bytes:
    order = described.order
    if isinstance(described, Ids):
        return int(number).to_bytes(described.bytes, order)
    if described.spelled == "float32":
        return struct.pack("<f" if order == "little" else ">f", number)
    return int(number).to_bytes(described.bytes, order, signed=described.least < 0)


def _framed(layout: Frame, payload: bytes) -> bytes:
    start, end = bytes.fromhex(layout.start), bytes.fromhex(layout.end)
    check = layout.check
    width = 0 if check is None else width_of(check)
    if layout.size is not None:
        room = layout.size - len(start) - width - len(payload)
        payload += bytes.fromhex(layout.pad or "00") * room
    body = start + payload
    if layout.length is not None:
        length, at = layout.length, layout.length.at
        after = len(body) - at
        counts = {
            "after": after + width,
            "payload": after,
            "frame": len(body) + length.bytes + width,
        }[length.counts]
        body = body[:at] + counts.to_bytes(length.bytes, length.order) + body[at:]
    if check is not None:
        body += _check_over(check, body).to_bytes(width, check.order)
    inside = body[len(start) :]
    if layout.escape is not None:
        inside = _escaped(layout.escape, inside)
    return start + inside + end


def _escaped(escape: Escape, data: bytes) -> bytes:
    mark, xor = bytes.fromhex(escape.byte)[0], bytes.fromhex(escape.xor)[0]
    special = {mark, *bytes.fromhex(escape.of)}
    out = bytearray()
    for byte in data:
        out += bytes([mark, byte ^ xor]) if byte in special else bytes([byte])
    return bytes(out)


def _unescaped(escape: Escape, data: bytes) -> bytes:
    mark, xor = bytes.fromhex(escape.byte)[0], bytes.fromhex(escape.xor)[0]
    out, changed = bytearray(), False
    for byte in data:
        if changed:
            out.append(byte ^ xor)
            changed = False
        elif byte == mark:
            changed = True
        else:
            out.append(byte)
    return bytes(out)


class FrameReader(Struct):
    """Cuts what the device says into texts: lines, or payloads in hexadecimal digits.

    Where several characteristics speak, the name of the one stands before its text (``state: 01``).
    What does not fit, or whose check is wrong, is dropped and counted.
    """

    mapping: Mapping
    dropped: int = 0
    _buffer: bytearray = field(default_factory=bytearray)
    _heard_s: float = -math.inf

    def feed(self, data: bytes, now_s: float = 0.0) -> list[str]:
        """What was said wholly with these bytes; of a Bluetooth link one packet each time.

        A frame whose rest does not come while an answer could have come is none: a spoilt length
        must not swallow what follows.
        """
        if self._buffer and now_s > self._heard_s + self.mapping.device.answer_within_s:
            self._buffer.clear()
            self.dropped += 1
        self._heard_s = now_s
        layout = self.mapping.frame
        name = ""
        if self.mapping.gatt is not None:
            found, _, data = data.partition(b":")
            name = found.decode("ascii") + ": " if len(speaking(self.mapping.gatt)) > 1 else ""
        if layout.kind == "packets":
            payload = _payload_in(layout, data)
            self.dropped += payload is None
            return [] if payload is None else [name + payload.hex().upper()]
        self._buffer += data
        return self._lines() if layout.kind == "lines" else self._frames()

    def _lines(self) -> list[str]:
        end = self.mapping.frame.line_end.encode("ascii")
        *whole, rest = bytes(self._buffer).split(end)
        self._buffer = bytearray(rest[-_MOST_FRAME:])
        return [text for raw in whole if (text := self._checked_line(raw)) is not None]

    def _checked_line(self, raw: bytes) -> str | None:
        text, check = raw, self.mapping.frame.check
        if check is not None:
            tail = len(check.separator) + len(_written_check(check, b""))
            text = raw[: max(0, len(raw) - tail)]
            if raw[len(text) :] != check.separator.encode() + _written_check(check, text):
                self.dropped += 1
                return None
        if not all(0x20 <= byte <= 0x7E for byte in text):
            self.dropped += 1
            return None
        return text.decode("ascii")

    def _frames(self) -> list[str]:
        layout, found = self.mapping.frame, []
        start = bytes.fromhex(layout.start)
        while self._buffer and (at := self._buffer.find(start)) >= 0:
            del self._buffer[:at]
            size = _size_of(layout, self._buffer)
            if size is None:  # more must come
                break
            payload = _payload_in(layout, bytes(self._buffer[:size])) if size else None
            if payload is not None:
                found.append(payload.hex().upper())
                del self._buffer[:size]
            else:
                self.dropped += 1
                del self._buffer[: self._skipped(size)]
        del self._buffer[: max(0, len(self._buffer) - _MOST_FRAME)]
        return found

    def _skipped(self, size: int) -> int:
        """How much of what is no frame is passed over. An end may be the start of the next one."""
        layout = self.mapping.frame
        if layout.end and size:
            return max(1, size - len(bytes.fromhex(layout.end)) * (layout.start == layout.end))
        return max(1, len(bytes.fromhex(layout.start)))


def _size_of(layout: Frame, buffer: bytearray) -> int | None:
    """How many bytes the frame at the beginning has; 0 if it is none, None if more must come."""
    start = len(bytes.fromhex(layout.start))
    if layout.end:
        end = bytes.fromhex(layout.end)
        at = buffer.find(end, start)
        return None if at < 0 else at + len(end)
    if layout.size is not None:
        size = layout.size
    else:
        assert layout.length is not None
        head = layout.length.at + layout.length.bytes
        if len(buffer) < head:
            return None
        size = _told_size(layout, bytes(buffer[layout.length.at : head]))
        if not head <= size <= _MOST_FRAME:
            return 0
    return None if len(buffer) < size else size


def _told_size(layout: Frame, digits: bytes) -> int:
    """The size of the whole frame by its own word."""
    length = layout.length
    assert length is not None
    told = int.from_bytes(digits, length.order)
    head = length.at + length.bytes
    width = 0 if layout.check is None else width_of(layout.check)
    return {"after": head + told, "payload": head + told + width, "frame": told}[length.counts]


def _payload_in(layout: Frame, whole: bytes) -> bytes | None:
    """What a whole frame holds, without start, length, check and end; None if it is none."""
    start, end = bytes.fromhex(layout.start), bytes.fromhex(layout.end)
    inside = whole[len(start) : len(whole) - len(end)]
    if layout.escape is not None:
        inside = _unescaped(layout.escape, inside)
    body, check = start + inside, layout.check
    if check is not None:
        width = width_of(check)
        body, tail = body[: len(body) - width], body[len(body) - width :]
        if len(tail) < width or len(body) < len(start):
            return None
        if tail != _check_over(check, body).to_bytes(width, check.order):
            return None
    if layout.length is not None:
        at = layout.length.at
        body = body[:at] + body[at + layout.length.bytes :]
    return body[len(start) :] or None
