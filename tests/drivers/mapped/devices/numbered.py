"""Lines of JSON with a CRC of 16 bits behind ``#``; says how many balls have left all the time."""

from __future__ import annotations

import json
import random

from feedscript_simulator.mapped_devices import Hardware


def crc(data: bytes) -> int:
    """By long division of the whole message, as one number, by x^16 + x^12 + x^5 + 1."""
    rest = int.from_bytes(data + b"\x00\x00", "big")
    for bit in range(8 * len(data) + 15, 15, -1):
        if rest >> bit & 1:
            rest ^= 0x11021 << (bit - 16)
    return rest


class Numbered:
    def __init__(self) -> None:
        self.hardware = Hardware(0.2)
        self.chance = random.Random("numbered")
        self.done: dict[int, str] = {}
        self.later: list[tuple[float, bytes]] = []
        self.told_s = 0.0
        self.buffer = b""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        self.buffer += data
        *lines, self.buffer = self.buffer.split(b"\r\n")
        for line in lines:
            text, _, check = line.rpartition(b"#")
            if check == b"%04X" % crc(text):
                request = json.loads(text)
                number = request["n"]
                if number not in self.done:
                    self.done[number] = "done" if self.obey(request, now_s) else "refused"
                    self.done = dict(list(self.done.items())[-20:])
                answer = self.line({"n": number, "is": self.done[number]})
                self.later.append((now_s + self.chance.uniform(0.0, 0.3), answer))
        return []

    def obey(self, request: dict[str, float | str], now_s: float) -> bool:
        hardware = self.hardware
        match request["do"]:
            case "turn":
                hardware.turn((float(request["upper"]), float(request["lower"])), now_s)
            case "look":
                hardware.look((float(request["right"]) / 100, float(request["up"]) / 100), now_s)
            case "throw":
                return hardware.balls > 0 and hardware.throw(now_s)
            case "rest" | "cut":
                hardware.rest(now_s)
            case _:
                return False
        return True

    def tick(self, now_s: float) -> list[bytes]:
        said = [answer for due_s, answer in self.later if due_s <= now_s]
        self.later = [one for one in self.later if one[0] > now_s]
        if self.hardware.passed(now_s) or now_s >= self.told_s + 0.5:
            self.told_s = now_s
            said.append(self.line({"balls": len(self.hardware.left)}))
        return said

    @staticmethod
    def line(what: dict[str, object]) -> bytes:
        text = json.dumps(what, separators=(",", ":")).encode("ascii")
        return text + b"#%04X\r\n" % crc(text)
