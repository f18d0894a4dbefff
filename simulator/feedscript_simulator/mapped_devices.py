"""Far ends of the three invented devices that the shipped mappings describe.

Each is written from the device's side, without the mapping: what the mapping gets wrong shows.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import anyio
from feedscript_drivers.inbox import InboxStream

_MODBUS_POLYNOMIAL = 0xA001


@dataclass(slots=True)
class Hardware:
    """What every device has: drives, aim, a ball under way, and the truth about what left."""

    lead_s: float
    drives: tuple[float, float] = (0.0, 0.0)
    aim_deg: tuple[float, float] = (0.0, 0.0)
    ball_at_s: float | None = None
    left: list[tuple[float, tuple[float, float]]] = field(default_factory=list)
    cut: bool = False

    def throw(self, now_s: float) -> bool:
        if self.cut or min(self.drives) <= 0 or self.ball_at_s is not None:
            return False
        self.ball_at_s = now_s + self.lead_s
        return True

    def rest(self) -> None:
        self.drives = (0.0, 0.0)

    def passed(self, now_s: float) -> bool:
        """Whether the ball under way has left by now; told once."""
        if self.ball_at_s is None or now_s < self.ball_at_s:
            return False
        self.left.append((self.ball_at_s, self.drives))
        self.ball_at_s = None
        return True


class ChattyLines:
    """Lines ``BODY|SS``, SS the sum of the body modulo 256; stops after a second of silence."""

    lead_s = 0.2
    silence_s = 1.0

    def __init__(self) -> None:
        self.hardware = Hardware(self.lead_s)
        self._buffer = b""
        self._heard_s = 0.0

    def hear(self, data: bytes, now_s: float) -> bytes:
        self._buffer += data
        *lines, self._buffer = self._buffer.split(b"\r\n")
        return b"".join(self._line(line, now_s) for line in lines)

    def _line(self, line: bytes, now_s: float) -> bytes:
        body, bar, check = line.rpartition(b"|")
        if not bar or check != b"%02X" % (sum(body) % 256):
            return b""
        self._heard_s = now_s
        return self._say(self._obey(body.decode("ascii"), now_s))

    def _obey(self, text: str, now_s: float) -> str:
        hardware = self.hardware
        if match := re.fullmatch(r"WHEELS (\d{4}) (\d{4})", text):
            hardware.drives = (float(match[1]), float(match[2]))
        elif match := re.fullmatch(r"LOOK (\d{3}) (\d{3})", text):
            hardware.aim_deg = ((int(match[1]) - 500) / 10, (int(match[2]) - 100) / 10)
        elif text == "THROW":
            return "YES" if hardware.throw(now_s) else "NEVER AT REST"
        elif text in ("REST", "CUT"):
            hardware.rest()
        elif text != "HERE":
            return "NEVER HEARD"
        return "YES"

    @staticmethod
    def _say(text: str) -> bytes:
        body = text.encode("ascii")
        return body + b"|%02X\r\n" % (sum(body) % 256)

    def tick(self, now_s: float) -> bytes:
        if now_s > self._heard_s + self.silence_s:
            self.hardware.rest()
        if self.hardware.passed(now_s):
            return self._say(f"GONE {len(self.hardware.left)}")
        return b""


class PlainWords:
    """Bare words, one a line; believes whatever it reads."""

    lead_s = 0.3

    def __init__(self) -> None:
        self.hardware = Hardware(self.lead_s)
        self._buffer = b""

    def hear(self, data: bytes, now_s: float) -> bytes:
        self._buffer += data
        *lines, self._buffer = self._buffer.split(b"\n")
        return b"".join(self._obey(line.decode("ascii", "replace"), now_s) for line in lines)

    def _obey(self, text: str, now_s: float) -> bytes:
        hardware = self.hardware
        word, _, number = text.partition(" ")
        match word:
            case "upper":
                hardware.drives = (float(number) * 40, hardware.drives[1])
            case "lower":
                hardware.drives = (hardware.drives[0], float(number) * 40)
            case "pan":
                hardware.aim_deg = (float(number), hardware.aim_deg[1])
            case "tilt":
                hardware.aim_deg = (hardware.aim_deg[0], float(number))
            case "ball":
                return b"ok\n" if hardware.throw(now_s) else b"no\n"
            case "stop":
                hardware.rest()
            case _:
                return b"no\n"
        return b"ok\n"

    def tick(self, now_s: float) -> bytes:
        return b"ball out\n" if self.hardware.passed(now_s) else b""


class ByteFrames:
    """``5A A7 LENGTH payload CRC-16/MODBUS``; drives little end first, angles big end first."""

    lead_s = 0.15

    def __init__(self) -> None:
        self.hardware = Hardware(self.lead_s)
        self._buffer = bytearray()

    def hear(self, data: bytes, now_s: float) -> bytes:
        self._buffer += data
        out = b""
        while (at := self._buffer.find(b"\x5a\xa7")) >= 0:
            del self._buffer[:at]
            if len(self._buffer) < 3 or len(self._buffer) < 3 + self._buffer[2]:
                break
            length = self._buffer[2]
            inside = bytes(self._buffer[3 : 3 + length])
            if length < 3 or _crc(inside[:-2]) != inside[-2:]:
                del self._buffer[:2]
                continue
            del self._buffer[: 3 + length]
            out += self._obey(inside[:-2], now_s)
        return out

    def _obey(self, payload: bytes, now_s: float) -> bytes:
        hardware = self.hardware
        match payload[0]:
            case 0x10 if len(payload) == 9:
                first, second = payload[1:3], payload[3:5]
                hardware.drives = (
                    float(int.from_bytes(first, "little")),
                    float(int.from_bytes(second, "little")),
                )
                hardware.aim_deg = (
                    int.from_bytes(payload[5:7], "big", signed=True) / 100,
                    int.from_bytes(payload[7:9], "big", signed=True) / 100,
                )
            case 0x20:
                return _framed(b"\x80\x20" if hardware.throw(now_s) else b"\x81\x20")
            case 0x30:
                hardware.rest()
            case _:
                return _framed(b"\x81" + payload[:1])
        return _framed(bytes([0x80, payload[0]]))

    def tick(self, now_s: float) -> bytes:
        return _framed(b"\x90") if self.hardware.passed(now_s) else b""


Device = ChattyLines | PlainWords | ByteFrames

DEVICES: dict[str, Callable[[], Device]] = {
    "chatty-lines": ChattyLines,
    "plain-words": PlainWords,
    "byte-frames": ByteFrames,
}


def _crc(data: bytes) -> bytes:
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ (_MODBUS_POLYNOMIAL if value & 1 else 0)
    return value.to_bytes(2, "little")


def _framed(payload: bytes) -> bytes:
    return b"\x5a\xa7" + bytes([len(payload) + 2]) + payload + _crc(payload)


class DeviceStream(InboxStream):
    """The host's end of a wire of no length to one of the devices."""

    def __init__(self, device: Device) -> None:
        super().__init__()
        self.device = device

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        if self._closed:
            raise anyio.BrokenResourceError
        self.come(self.device.hear(item, anyio.current_time()))

    async def keep_time(self) -> None:
        while True:
            await anyio.sleep(0.01)
            self.come(self.device.tick(anyio.current_time()))
