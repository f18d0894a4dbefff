"""Bytes to lines and back, without any input or output of its own.

Nothing in here raises for what comes off a wire: a line that is not exactly right becomes
:class:`Refused`, which the reader counts and otherwise ignores.
"""

from __future__ import annotations

import binascii
from typing import Final, TypeAlias

from msgspec import Struct

from feedscript_drivers.wire.protocol import MOST_BODY, MOST_LINE, StopCharacter

_HEX: Final = frozenset(b"0123456789ABCDEF")
_STOPS: Final = {int(stop): stop for stop in StopCharacter}
_STOP_BYTES: Final = bytes(_STOPS)


def crc16(data: bytes) -> int:
    """CRC-16/IBM-3740: 0x1021, initial value 0xFFFF, not reflected (check value 0x29B1)."""
    return binascii.crc_hqx(data, 0xFFFF)


class Plain(Struct, frozen=True):
    """A line whose CRC is right."""

    body: str


class Keyed(Struct, frozen=True):
    """A line with a counter and a tag, which only the holder of the key can judge."""

    body: str
    counter: int
    tag: bytes


class Refused(Struct, frozen=True):
    """A line that must have no effect."""

    why: str
    too_long: bool = False


Line: TypeAlias = Plain | Keyed | Refused


def plain_line(body: str) -> bytes:
    """The line that carries ``body``, LF included. ``body`` must be fit for a line."""
    data = body.encode("ascii")
    return b"%s*%04X\n" % (data, crc16(data))


#: What a line may hold: printable ASCII.
_FIT = bytes(range(0x20, 0x7F))


def read_line(raw: bytes) -> Line:
    """Judge one line without its LF."""
    if raw.endswith(b"\r"):
        raw = raw[:-1]
    if len(raw) > MOST_LINE:
        return Refused("longer than a line may be", too_long=True)
    if raw.translate(None, _FIT):
        return Refused("a byte that no line holds")
    if raw[-5:-4] == b"*":
        return _read_plain(raw)
    if raw[-25:-24] == b"#":
        return _read_keyed(raw)
    return Refused("neither a check nor a tag at its end")


def _body_trouble(body: bytes) -> str | None:
    if not body:
        return "no body"
    if len(body) > MOST_BODY:
        return "a body longer than may be"
    if b"*" in body or b"#" in body:
        return "a mark inside the body"
    return None


def _read_plain(raw: bytes) -> Line:
    body, check = raw[:-5], raw[-4:]
    trouble = _body_trouble(body)
    if trouble is not None:
        return Refused(trouble)
    if not _HEX.issuperset(check) or int(check, 16) != crc16(body):
        return Refused("wrong check")
    return Plain(body.decode("ascii"))


def _read_keyed(raw: bytes) -> Line:
    body, counter, tag = raw[:-25], raw[-24:-16], raw[-16:]
    trouble = _body_trouble(body)
    if trouble is not None:
        return Refused(trouble)
    if not _HEX.issuperset(counter) or not _HEX.issuperset(tag):
        return Refused("a tag that is not hexadecimal")
    return Keyed(body.decode("ascii"), int(counter, 16), bytes.fromhex(tag.decode("ascii")))


class LineReader(Struct):
    """Cuts a stream into lines; a far end also lifts the stop characters out of it.

    ``stop_characters`` is false at the host, where a control byte merely spoils its line.
    """

    stop_characters: bool = False
    _begun: bytes = b""  # of the line that is coming in
    _discarding: bool = False

    def feed(self, data: bytes) -> list[Line | StopCharacter]:
        """What these bytes complete, in order."""
        items: list[Line | StopCharacter] = []
        if self.stop_characters:
            lines = data.translate(None, _STOP_BYTES)
            if len(lines) < len(data):
                items += [_STOPS[byte] for byte in data if byte in _STOPS]
            data = lines
        *whole, rest = data.split(b"\n")
        for piece in whole:
            items += self._end_line(piece)
        self._grow(rest)
        return items

    def _grow(self, piece: bytes) -> None:
        if self._discarding:
            return
        self._begun += piece
        if len(self._begun) > MOST_LINE + 1:  # one more for a CR
            self._begun, self._discarding = b"", True

    def _end_line(self, piece: bytes) -> list[Line | StopCharacter]:
        self._grow(piece)
        discarded, raw = self._discarding, self._begun
        self._begun, self._discarding = b"", False
        if discarded:
            return [Refused("longer than a line may be", too_long=True)]
        if raw in (b"", b"\r"):
            return []
        return [read_line(raw)]
