"""Lines ``text*hhhh``, the sum of the text modulo 65536; deaf until it was greeted."""

from __future__ import annotations

from feedscript_simulator.mapped_devices import Hardware


class AtticLines:
    def __init__(self) -> None:
        self.hardware = Hardware(0.25)
        self.greeted = 0
        self.heard_s = 0.0
        self.moving = False
        self.buffer = b""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        self.buffer += data
        *lines, self.buffer = self.buffer.split(b"\n")
        said: list[str] = []
        for line in lines:
            text, _, check = line.rpartition(b"*")
            if check == b"%04x" % (sum(text) & 0xFFFF):
                self.heard_s = now_s
                said += self.obey(text.decode("ascii"), now_s)
        return [self.line(text) for text in said]

    def obey(self, text: str, now_s: float) -> list[str]:
        hardware = self.hardware
        word, *more = text.split(" ")
        if word == "hello":
            self.greeted = 1
            return ["i am attic 2"]
        if text == "mode host" and self.greeted:
            self.greeted = 2
            return ["host it is"]
        if self.greeted < 2:
            return []
        match word:
            case "spin":
                hardware.turn((float(more[0]), float(more[1])), now_s)
                self.moving = True
                return ["fine"]
            case "point":
                hardware.look((float(more[0]), float(more[1])), now_s)
                self.moving = True
                return ["fine"]
            case "let" if hardware.balls <= 0:
                return ["basket empty"]
            case "let":
                return ["fine" if hardware.throw(now_s) else "never"]
            case "rest":
                hardware.rest(now_s)
                return ["resting"]
        return []

    def tick(self, now_s: float) -> list[bytes]:
        said = []
        if now_s > self.heard_s + 1.0:
            self.hardware.rest(now_s)
        if self.hardware.passed(now_s):
            said += ["out", f"basket {self.hardware.balls}"]
        drives, aim = self.hardware.asked()
        there = self.hardware.drives(now_s) == drives and self.hardware.aim_deg(now_s) == aim
        if self.moving and there:
            self.moving = False
            said.append("in place")
        return [self.line(text) for text in said]

    @staticmethod
    def line(text: str) -> bytes:
        return text.encode("ascii") + b"*%04x\n" % (sum(text.encode("ascii")) & 0xFFFF)
