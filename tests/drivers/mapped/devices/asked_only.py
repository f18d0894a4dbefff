"""Ten bytes each way: ``A0``, eight of payload, all of it combined by exclusive or."""

from __future__ import annotations

import functools
import operator

from feedscript_simulator.mapped_devices import Hardware


class AskedOnly:
    def __init__(self) -> None:
        self.hardware = Hardware(0.3)
        self.heard_s = 0.0
        self.fault = 0
        self.buffer = b""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        self.buffer += data
        said = []
        while len(self.buffer) >= 10:
            whole = self.buffer[:10]
            if whole[0] != 0xA0 or functools.reduce(operator.xor, whole) != 0:
                self.buffer = self.buffer[1:]
                continue
            self.buffer = self.buffer[10:]
            self.heard_s = now_s
            said.append(self.frame(self.obey(whole[1:9], now_s)))
        return said

    def obey(self, payload: bytes, now_s: float) -> bytes:
        hardware = self.hardware
        numbers = [int.from_bytes(payload[at : at + 2], "little", signed=True) for at in (1, 3)]
        fine = True
        match payload[0]:
            case 1:
                hardware.turn((10.0 * numbers[0], 10.0 * numbers[1]), now_s)
            case 2:
                hardware.look((numbers[0] / 100, numbers[1] / 100), now_s)
            case 3:
                fine = hardware.balls > 0 and hardware.throw(now_s)
            case 4 | 5:
                hardware.rest(now_s)
            case 6:
                return self.state(now_s)
            case _:
                fine = False
        return bytes([0x80 + payload[0], 0 if fine else 1])

    def state(self, now_s: float) -> bytes:
        drives, aim = self.hardware.asked()
        there = self.hardware.drives(now_s) == drives and self.hardware.aim_deg(now_s) == aim
        balls = min(255, self.hardware.balls)
        return bytes([0x86, len(self.hardware.left) % 16, there, balls, self.fault])

    def tick(self, now_s: float) -> list[bytes]:
        if now_s > self.heard_s + 1.0:
            self.hardware.rest(now_s)
        self.hardware.passed(now_s)
        return []

    @staticmethod
    def frame(payload: bytes) -> bytes:
        whole = b"\xa0" + payload.ljust(8, b"\x00")
        return whole + bytes([functools.reduce(operator.xor, whole)])
