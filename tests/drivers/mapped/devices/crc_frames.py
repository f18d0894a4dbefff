"""``C5 n payload crc``: CRC-8 with polynomial 0x2F from 0xFF, turned over at the end."""

from __future__ import annotations

import struct

from feedscript_simulator.mapped_devices import Hardware


def crc(data: bytes) -> int:
    """By a table made here."""
    table = []
    for number in range(256):
        for _ in range(8):
            number = number << 1 ^ (0x12F if number & 0x80 else 0)
        table.append(number)
    value = 0xFF
    for byte in data:
        value = table[value ^ byte]
    return value ^ 0xFF


class CrcFrames:
    def __init__(self) -> None:
        self.hardware = Hardware(0.2)
        self.heard_s = self.byte_s = 0.0
        self.buffer = b""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        if now_s > self.byte_s + 0.1:  # a frame comes in one go, or it is none
            self.buffer = b""
        self.byte_s = now_s
        self.buffer += data
        said = []
        while b"\xc5" in self.buffer:
            self.buffer = self.buffer[self.buffer.index(b"\xc5") :]
            if len(self.buffer) < 2 or len(self.buffer) < self.buffer[1] + 3:
                break
            size = self.buffer[1] + 3
            whole, self.buffer = self.buffer[:size], self.buffer[size:]
            if crc(whole[:-1]) != whole[-1]:
                self.buffer = whole[1:] + self.buffer
                continue
            self.heard_s = now_s
            answer = self.obey(whole[2:-1], now_s)
            said += [self.frame(answer)] if answer else []
        return said

    def obey(self, payload: bytes, now_s: float) -> bytes:
        hardware, what = self.hardware, payload[:1]
        if what == b"\x01" and len(payload) == 5:
            first, second = struct.unpack(">HH", payload[1:])
            hardware.turn((float(first), float(second)), now_s)
        elif what == b"\x02" and len(payload) == 9:
            (pan,), (tilt,) = struct.unpack(">f", payload[1:5]), struct.unpack("<f", payload[5:])
            hardware.look((pan, tilt), now_s)
        elif what == b"\x03":
            if hardware.balls <= 0:
                return b"\x0e"
            if not hardware.throw(now_s):
                return b"\x15\x03"
        elif what == b"\x04":
            hardware.rest(now_s)
        else:
            return b"" if what == b"\x05" else b"\x15" + what
        return b"\x06" + what

    def tick(self, now_s: float) -> list[bytes]:
        if now_s > self.heard_s + 1.0:
            self.hardware.rest(now_s)
        return [self.frame(b"\x0b")] if self.hardware.passed(now_s) else []

    @staticmethod
    def frame(payload: bytes) -> bytes:
        whole = bytes([0xC5, len(payload)]) + payload
        return whole + bytes([crc(whole)])
