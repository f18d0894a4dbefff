"""Packets ``name:payload``: to wheels, look and act; from answers and news."""

from __future__ import annotations

import struct

from feedscript_simulator.mapped_devices import Hardware


class ByRadio:
    def __init__(self) -> None:
        self.hardware = Hardware(0.2)
        self.heard_s = self.told_s = 0.0
        self.told = -1

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        name, _, payload = data.partition(b":")
        self.heard_s = now_s
        answer = self.obey(name, payload, now_s)
        return [b"answers:" + answer] if answer else []

    def obey(self, name: bytes, payload: bytes, now_s: float) -> bytes:
        hardware = self.hardware
        match name, payload:
            case b"wheels", numbers if len(numbers) == 4:
                first, second = struct.unpack("<HH", numbers)
                hardware.turn((float(first), float(second)), now_s)
                return b"\x10"
            case b"look", numbers if len(numbers) == 4:
                pan, tilt = struct.unpack(">hh", numbers)
                hardware.look((pan / 100, tilt / 100), now_s)
                return b"\x11"
            case b"act", b"\x01":
                return b"\x01" if hardware.balls > 0 and hardware.throw(now_s) else b"\x81"
            case b"act", b"\x02" | b"\x03":
                hardware.rest(now_s)
                return payload
            case b"act", b"\x04":
                return b""
        return b"\x90"

    def tick(self, now_s: float) -> list[bytes]:
        if now_s > self.heard_s + 0.9:
            self.hardware.rest(now_s)
        self.hardware.passed(now_s)
        left = len(self.hardware.left)
        if left == self.told and now_s < self.told_s + 0.5:
            return []
        self.told, self.told_s = left, now_s
        hopper = bytes([0x40, min(255, self.hardware.balls)])
        return [b"news:" + struct.pack(">BH", 0xB0, left), b"news:" + hopper]
