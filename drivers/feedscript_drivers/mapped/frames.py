"""Commands into frames, and frames out of a stream, as a mapping describes them."""

from __future__ import annotations

import re

from msgspec import Struct, field

from feedscript.launcher.setting import Setting
from feedscript_drivers.mapped.description import Check, Mapping, Quantity
from feedscript_drivers.wire.codec import crc16

_MOST_FRAME = 256


def check_bytes(kind: Check, data: bytes) -> bytes:
    """The check over some bytes; empty for none."""
    match kind:
        case "none":
            return b""
        case "sum8":
            return bytes([sum(data) % 256])
        case "xor8":
            value = 0
            for byte in data:
                value ^= byte
            return bytes([value])
        case "crc16-ibm-3740":
            return crc16(data).to_bytes(2, "big")
        case "crc16-modbus":
            return _crc16_modbus(data).to_bytes(2, "little")


def _crc16_modbus(data: bytes) -> int:
    """CRC-16/MODBUS: 0x8005 reflected, initial value 0xFFFF (check value 0x4B37)."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
    return value


class OutOfRangeError(ValueError):
    """A setting that the device has no number for; the text names the quantity."""


def numbers_of(mapping: Mapping, setting: Setting) -> dict[str, int]:
    """Each described quantity of a setting as the device's number. Raises OutOfRangeError."""
    values = {f"drive_{n}": drive for n, drive in enumerate(setting.drives, start=1)}
    values |= {
        "pan_deg": setting.pan_deg,
        "tilt_deg": setting.tilt_deg,
        "roll_deg": setting.roll_deg,
    }
    for name, value in values.items():
        if value and name not in mapping.quantities:
            raise OutOfRangeError(f"{name} {value:g}, and the device has no such part")
    numbers: dict[str, int] = {}
    for name, quantity in mapping.quantities.items():
        number = round(values.get(name, 0.0) * quantity.scale + quantity.offset)
        if not quantity.least <= number <= quantity.most:
            raise OutOfRangeError(
                f"{name} {values.get(name, 0.0):g} is {number} in the device's terms, outside "
                f"{quantity.least} to {quantity.most}"
            )
        numbers[name] = number
    return numbers


def frame(mapping: Mapping, template: str, numbers: dict[str, int]) -> bytes:
    """One command as it goes on the line."""
    if mapping.device.frames == "lines":
        return _line(mapping, template, numbers)
    return _bytes(mapping, template, numbers)


def _line(mapping: Mapping, template: str, numbers: dict[str, int]) -> bytes:
    def spelled(match: re.Match[str]) -> str:
        return f"{numbers[match[1]]:0{mapping.quantities[match[1]].digits or 1}d}"

    text = re.sub(r"\{(\w+)\}", spelled, template).encode("ascii")
    check = check_bytes(mapping.device.check, text).hex().upper()
    separator = mapping.device.check_separator if check else ""
    return text + (separator + check + mapping.device.line_end).encode("ascii")


def _bytes(mapping: Mapping, template: str, numbers: dict[str, int]) -> bytes:
    payload = bytearray()
    for part in re.findall(r"[0-9A-Fa-f]{2}|\{\w+\}", template):
        if part.startswith("{"):
            payload += _packed(numbers[part[1:-1]], mapping.quantities[part[1:-1]])
        else:
            payload.append(int(part, 16))
    check = check_bytes(mapping.device.check, bytes(payload))
    start = bytes.fromhex(mapping.device.start)
    assert mapping.device.length_at is not None
    # The length stands right after the start: how many bytes follow it.
    return start + bytes([len(payload) + len(check)]) + bytes(payload) + check


def _packed(number: int, quantity: Quantity) -> bytes:
    signed = quantity.least < 0
    return number.to_bytes(quantity.bytes, quantity.order, signed=signed)


class FrameReader(Struct):
    """Cuts what the device says into texts: lines, or frames in hexadecimal digits.

    What does not fit, or whose check is wrong, is dropped and counted.
    """

    mapping: Mapping
    dropped: int = 0
    _buffer: bytearray = field(default_factory=bytearray)

    def feed(self, data: bytes) -> list[str]:
        self._buffer += data
        if self.mapping.device.frames == "lines":
            return self._lines()
        return self._frames()

    def _lines(self) -> list[str]:
        end = self.mapping.device.line_end.encode("ascii")
        *whole, rest = bytes(self._buffer).split(end)
        self._buffer = bytearray(rest[-_MOST_FRAME:])
        return [text for raw in whole if (text := self._checked_line(raw)) is not None]

    def _checked_line(self, raw: bytes) -> str | None:
        width = 2 * len(check_bytes(self.mapping.device.check, b""))
        body, check = (raw[:-width], raw[-width:]) if width else (raw, b"")
        separator = self.mapping.device.check_separator.encode("ascii") if width else b""
        body_end = len(body) - len(separator)
        good = not width or (
            body[body_end:] == separator
            and check_bytes(self.mapping.device.check, body[:body_end]).hex().upper().encode()
            == check
        )
        if not good or not all(0x20 <= byte <= 0x7E for byte in raw):
            self.dropped += 1
            return None
        return body[:body_end].decode("ascii") if width else raw.decode("ascii")

    def _frames(self) -> list[str]:
        start = bytes.fromhex(self.mapping.device.start)
        found = []
        while (at := self._buffer.find(start)) >= 0:
            del self._buffer[:at]
            head = len(start) + 1
            if len(self._buffer) < head or len(self._buffer) < head + self._buffer[head - 1]:
                break
            length = self._buffer[head - 1]
            inside = bytes(self._buffer[head : head + length])
            width = len(check_bytes(self.mapping.device.check, b""))
            payload, check = inside[: length - width], inside[length - width :]
            if length >= width and check_bytes(self.mapping.device.check, payload) == check:
                found.append(payload.hex().upper())
                del self._buffer[: head + length]
            else:
                self.dropped += 1
                del self._buffer[: len(start)]
        del self._buffer[: max(0, len(self._buffer) - _MOST_FRAME)]
        return found
