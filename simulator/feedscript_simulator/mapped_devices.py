"""Far ends of the three invented devices that the shipped mappings describe.

Each is written from the device's side, without the mapping: what the mapping gets wrong shows.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable

import anyio
from feedscript_drivers.transports.inbox import InboxStream
from msgspec import Struct, field

from feedscript.override import override
from feedscript_simulator.ramp import Ramp

_MODBUS_POLYNOMIAL = 0xA001


Pair = tuple[float, float]

#: What the parts of every invented device do in a second: those of the shipped garage profile.
DRIVE_UP, DRIVE_DOWN, PAN_DEG, TILT_DEG = 1100.0, 750.0, 18.0, 14.0


class Gone(Struct, frozen=True):
    """A ball that left, and what the parts really did at that moment."""

    at_s: float
    drives: Pair
    aim_deg: Pair
    stopped: bool = False  # while it was in the throat


class Hardware(Struct):
    """What every device has: parts that take their time, a ball under way, and the truth."""

    lead_s: float
    balls: int = 1000
    ball_at_s: float | None = None
    left: list[Gone] = field(default_factory=list)
    sticks: bool = False  # the next balls do not come out
    refuses: bool = False  # feeds, whatever is asked
    thrown: int = 0
    _stopped: bool = False
    _drives: tuple[Ramp, Ramp] = field(
        default_factory=lambda: (_ramp(DRIVE_UP, DRIVE_DOWN), _ramp(DRIVE_UP, DRIVE_DOWN))
    )
    _axes: tuple[Ramp, Ramp] = field(
        default_factory=lambda: (_ramp(PAN_DEG, PAN_DEG), _ramp(TILT_DEG, TILT_DEG))
    )

    def turn(self, drives: Pair, now_s: float) -> None:
        _move(self._drives, drives, now_s)

    def look(self, aim_deg: Pair, now_s: float) -> None:
        _move(self._axes, aim_deg, now_s)

    def asked(self) -> tuple[Pair, Pair]:
        """Where the parts were told to go."""
        return _targets(self._drives), _targets(self._axes)

    def drives(self, now_s: float) -> Pair:
        """What the drives really do."""
        return _values(self._drives, now_s)

    def aim_deg(self, now_s: float) -> Pair:
        """Where it really looks."""
        return _values(self._axes, now_s)

    def throw(self, now_s: float) -> bool:
        standing = min(_targets(self._drives)) <= 0
        if self.refuses or standing or self.ball_at_s is not None:
            return False
        self.thrown += 1
        if not self.sticks:
            self.balls -= 1
            self.ball_at_s = now_s + self.lead_s
        return True

    def rest(self, now_s: float) -> None:
        self.turn((0.0, 0.0), now_s)
        self._stopped = self.ball_at_s is not None

    def passed(self, now_s: float) -> bool:
        """Whether the ball under way has left by now; told once."""
        at_s = self.ball_at_s
        if at_s is None or now_s < at_s:
            return False
        self.left.append(Gone(at_s, self.drives(at_s), self.aim_deg(at_s), self._stopped))
        self.ball_at_s, self._stopped = None, False
        return True


def _ramp(up_per_s: float, down_per_s: float) -> Ramp:
    return Ramp(up_per_s / 1000, down_per_s / 1000)


def _move(ramps: tuple[Ramp, Ramp], targets: Pair, now_s: float) -> None:
    for ramp, target in zip(ramps, targets, strict=True):
        if ramp.target != target:
            ramp.move(target, now_s * 1000)


def _targets(ramps: tuple[Ramp, Ramp]) -> Pair:
    return ramps[0].target, ramps[1].target


def _values(ramps: tuple[Ramp, Ramp], now_s: float) -> Pair:
    return ramps[0].value(now_s * 1000), ramps[1].value(now_s * 1000)


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
            hardware.turn((float(match[1]), float(match[2])), now_s)
        elif match := re.fullmatch(r"LOOK (\d{3}) (\d{3})", text):
            hardware.look(((int(match[1]) - 500) / 10, (int(match[2]) - 100) / 10), now_s)
        elif text == "THROW":
            if hardware.balls <= 0:
                return "NO BALLS"
            return "YES" if hardware.throw(now_s) else "NEVER AT REST"
        elif text in ("REST", "CUT"):
            hardware.rest(now_s)
        elif text != "HERE":
            return "NEVER HEARD"
        return "YES"

    @staticmethod
    def _say(text: str) -> bytes:
        body = text.encode("ascii")
        return body + b"|%02X\r\n" % (sum(body) % 256)

    def tick(self, now_s: float) -> bytes:
        if now_s > self._heard_s + self.silence_s:
            self.hardware.rest(now_s)
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
        (upper, lower), (pan, tilt) = hardware.asked()
        word, _, number = text.partition(" ")
        match word:
            case "upper":
                hardware.turn((float(number) * 40, lower), now_s)
            case "lower":
                hardware.turn((upper, float(number) * 40), now_s)
            case "pan":
                hardware.look((float(number), tilt), now_s)
            case "tilt":
                hardware.look((pan, float(number)), now_s)
            case "ball" if hardware.balls <= 0:
                return b"no balls\n"
            case "ball":
                return b"ok\n" if hardware.throw(now_s) else b"no\n"
            case "stop":
                hardware.rest(now_s)
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
                drives = int.from_bytes(first, "little"), int.from_bytes(second, "little")
                hardware.turn((float(drives[0]), float(drives[1])), now_s)
                pan = int.from_bytes(payload[5:7], "big", signed=True) / 100
                tilt = int.from_bytes(payload[7:9], "big", signed=True) / 100
                hardware.look((pan, tilt), now_s)
            case 0x20 if hardware.balls <= 0:
                return framed(b"\x82\x20")
            case 0x20:
                return framed(b"\x80\x20" if hardware.throw(now_s) else b"\x81\x20")
            case 0x30:
                hardware.rest(now_s)
            case _:
                return framed(b"\x81" + payload[:1])
        return framed(bytes([0x80, payload[0]]))

    def tick(self, now_s: float) -> bytes:
        return framed(b"\x90") if self.hardware.passed(now_s) else b""


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


def framed(payload: bytes) -> bytes:
    return b"\x5a\xa7" + bytes([len(payload) + 2]) + payload + _crc(payload)


class DeviceStream(InboxStream):
    """The host's end of a wire to one of the devices, which answers as late as ``delay_s`` says.

    What it says comes in the order in which it was said.
    """

    def __init__(self, device: Device, delay_s: Callable[[], float] = lambda: 0.0) -> None:
        super().__init__()
        self.device = device
        self._delay_s = delay_s
        self._said: deque[tuple[float, bytes]] = deque()

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        if self._closed:
            raise anyio.BrokenResourceError
        self._say(self.device.hear(item, anyio.current_time()))

    def _say(self, data: bytes) -> None:
        if data:
            before_s = self._said[-1][0] if self._said else 0.0
            self._said.append((max(before_s, anyio.current_time() + self._delay_s()), data))

    async def keep_time(self) -> None:
        while True:
            self._say(self.device.tick(anyio.current_time()))
            while self._said and self._said[0][0] <= anyio.current_time():
                self.come(self._said.popleft()[1])
            await anyio.sleep(0.01)
