"""``7E ... 7E`` with 7D before what is changed by 20; a CRC of 16 bits, lowest bit first."""

from __future__ import annotations

from feedscript_simulator.mapped_devices import Hardware


def crc(data: bytes) -> bytes:
    """Division with the lowest bit first, four bits a step."""
    value = 0
    for byte in data:
        for half in (byte & 0x0F, byte >> 4):
            value = value >> 4 ^ (value & 0x0F ^ half) * 0x1081
    return value.to_bytes(2, "little")


class StepsOnly:
    def __init__(self) -> None:
        self.hardware = Hardware(0.35)
        self.buffer = b""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        self.buffer += data
        *pieces, self.buffer = self.buffer.split(b"\x7e")
        said = []
        for piece in pieces:
            whole = self.plain(piece)
            if len(whole) > 2 and crc(whole[:-2]) == whole[-2:]:
                said.append(self.frame(self.obey(whole[:-2], now_s)))
        return said

    @staticmethod
    def plain(piece: bytes) -> bytes:
        first, *more = piece.split(b"\x7d")
        return first + b"".join(bytes([part[0] ^ 0x20]) + part[1:] for part in more if part)

    def obey(self, payload: bytes, now_s: float) -> bytes:
        hardware, what = self.hardware, payload[:1]
        fine = True
        if what == b"S" and len(payload) == 3:
            middle, apart = 1000.0 + 200.0 * payload[1], 100.0 * (payload[2] - 3)
            hardware.turn((middle + apart, middle - apart), now_s)
        elif what == b"A" and len(payload) == 3:
            signed = [number - 256 if number > 127 else number for number in payload[1:]]
            hardware.look((float(signed[0]), float(signed[1])), now_s)
        elif what == b"F":
            if hardware.balls <= 0:
                return b"E"
            fine = hardware.throw(now_s)
        elif what in (b"R", b"X"):
            hardware.rest(now_s)
        else:
            fine = False
        return (b"y" if fine else b"n") + what

    def tick(self, now_s: float) -> list[bytes]:
        return [self.frame(b"B")] if self.hardware.passed(now_s) else []

    @staticmethod
    def frame(payload: bytes) -> bytes:
        out = b""
        for byte in payload + crc(payload):
            out += bytes([0x7D, byte ^ 0x20]) if byte in (0x7D, 0x7E) else bytes([byte])
        return b"\x7e" + out + b"\x7e"
