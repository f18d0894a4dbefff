"""What closes a line: a CRC, or a counter and a keyed tag.

Tags are the first 8 bytes of keyed BLAKE2s (RFC 7693) over direction, boot, nonce, counter and
body, as ``shared/protocol.md`` section 9 lays down.
"""

from __future__ import annotations

import hashlib
import hmac
from enum import StrEnum

from msgspec import Struct

from feedscript_drivers.wire.codec import Keyed, plain_line
from feedscript_drivers.wire.protocol import COUNTER_AHEAD

KEY_BYTES = 32
_MOST_COUNTER = 2**32 - 1


class Direction(StrEnum):
    """Who wrote a line."""

    HOST = "H"
    LAUNCHER = "L"


def tag_of(
    key: bytes, direction: Direction, boot: int, nonce: int, counter: int, body: str
) -> bytes:
    """The 8-byte tag of one line."""
    digest = hashlib.blake2s(key=key, digest_size=8)
    digest.update(direction.value.encode("ascii"))
    digest.update(boot.to_bytes(4, "little") + nonce.to_bytes(4, "little"))
    digest.update(counter.to_bytes(4, "little") + body.encode("ascii"))
    return digest.digest()


class PlainSeal(Struct):
    """Closes lines with a CRC; keyed lines are not for it."""

    def close(self, body: str) -> bytes:
        return plain_line(body)

    def accepts(self, _line: Keyed) -> bool:
        return False


class KeyedSeal(Struct):
    """Closes lines with a rising counter and a tag, and judges the other side's lines.

    ``sent`` and ``heard`` are the last counters of each direction: a line whose counter is not
    above ``heard`` was replayed or overtaken and is refused.
    """

    key: bytes
    writer: Direction
    boot: int
    nonce: int = 0
    sent: int = 0
    heard: int = 0
    opening: bool = True  # the host's OPEN itself is written under nonce 0

    def close(self, body: str) -> bytes:
        if self.sent >= _MOST_COUNTER:
            raise OverflowError("the counter of this power-up is used up")
        self.sent += 1
        nonce = 0 if self.opening and self.writer is Direction.HOST else self.nonce
        tag = tag_of(self.key, self.writer, self.boot, nonce, self.sent, body)
        return f"{body}#{self.sent:08X}{tag.hex().upper()}\n".encode("ascii")

    def accepts(self, line: Keyed, nonce: int | None = None) -> bool:
        """Whether the line is the other side's and new; if so its counter counts as heard."""
        reader = Direction.LAUNCHER if self.writer is Direction.HOST else Direction.HOST
        nonce = self.nonce if nonce is None else nonce
        tag = tag_of(self.key, reader, self.boot, nonce, line.counter, line.body)
        if not hmac.compare_digest(tag, line.tag) or not self.is_new(line.counter):
            return False
        self.heard = line.counter
        return True

    def is_new(self, counter: int) -> bool:
        """Whether a counter is above every counter heard.

        A launcher takes none far above it: a host learns its counter from a line that anybody may
        have said, and must not be led to use up those between.
        """
        most = COUNTER_AHEAD if self.writer is Direction.LAUNCHER else _MOST_COUNTER
        return 0 < counter - self.heard <= most
