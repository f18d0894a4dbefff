"""A host written for these tests alone: nothing of the project's driver is in it.

It moves a stepped image on in simulated time, keeps the heartbeat up unless told not to, and
collects replies and events. Lines are made from ``shared/protocol.md`` with the standard library.
"""

from __future__ import annotations

import binascii
import hashlib
import os
import select
from collections.abc import Mapping
from types import TracebackType

from tests.firmware.far_end import FarEnd, open_raw

NUMBERS = {
    1: 4000, 2: 4000, 3: 0, 4: -3000, 5: 3000, 6: -500, 7: 4500, 8: 0, 9: 0,
    10: 1000, 11: 120, 12: 40, 13: 180, 14: 90, 15: 6000, 16: 6000, 17: 30000,
    64: 6, 65: 4800, 66: 120, 67: 1500, 68: 900, 69: 1400, 70: 900, 71: 800, 72: 2200,
}  # fmt: skip
PROFILE_HASH = "5eed" * 16
CEILING = "3000 3000 0"


def plain(body: str) -> bytes:
    """A plain line: the body, its CRC-16/IBM-3740, LF."""
    crc = binascii.crc_hqx(body.encode(), 0xFFFF)
    return f"{body}*{crc:04X}\n".encode()


def tag(key: bytes, direction: str, boot: int, nonce: int, counter: int, body: str) -> str:
    """The tag of a keyed line (section 9 of the protocol)."""
    message = direction.encode() + b"".join(
        part.to_bytes(4, "little") for part in (boot, nonce, counter)
    )
    made = hashlib.blake2s(message + body.encode(), digest_size=8, key=key)
    return made.hexdigest().upper()


def body_of(line: str) -> str | None:
    """The body of a plain line whose check is right, else None."""
    body, star, check = line.rpartition("*")
    if star and f"{binascii.crc_hqx(body.encode(), 0xFFFF):04X}" == check:
        return body
    return None


class PlainHost:
    """The host's side of one stepped image, at its cable (link 0) or its radio (link 1)."""

    def __init__(self, far: FarEnd, link: int = 0) -> None:
        self.far = far
        self.link = link
        self.descriptor = open_raw(far.radio if link else far.pty)
        self.sequence = 0
        self.clock = 0  # the launcher's, as last heard
        self.beats = True
        self.beat_number = 0
        self.replies: dict[int, list[str]] = {}
        self.events: list[list[str]] = []
        self.lines: list[str] = []
        self.rest = b""
        self.written = 0
        self.got = 0
        self.advance(50)  # a line that comes before the controller listens is lost, as in life

    # bytes

    def write(self, data: bytes) -> None:
        """Put bytes on the cable."""
        while data:
            count = os.write(self.descriptor, data)
            self.written += count
            data = data[count:]

    def advance(self, milliseconds: float) -> None:
        """Run on for so long with what has been written, and take in all that was sent."""
        pins = self.far.run(milliseconds, self.written, self.link)
        while self.got < pins["radio_sent" if self.link else "sent"]:
            select.select([self.descriptor], [], [], 1.0)
            data = os.read(self.descriptor, 65536)
            self.got += len(data)
            self.rest += data
        *whole, self.rest = self.rest.split(b"\n")
        for raw in whole:
            self.take(raw.decode("latin-1"))

    def take(self, line: str) -> None:
        """Sort one line."""
        self.lines.append(line)
        body = body_of(line)
        assert body is not None, f"the image sent a bad line: {line!r}"
        words = body.split(" ")
        if words[0] == "t":
            self.clock = int(words[2])
        elif words[0] == "!":
            self.events.append(words[1:])
        else:
            self.replies.setdefault(int(words[0]), []).append(" ".join(words[1:]))

    # time

    def beat(self) -> None:
        """One heartbeat, echoing the clock as last heard."""
        self.beat_number = (self.beat_number + 1) % 65536
        self.write(plain(f"T {self.beat_number} {self.clock}"))

    def run(self, milliseconds: float, step: float = 100.0) -> None:
        """Let the launcher run, with a heartbeat at every step unless they are off."""
        left = milliseconds
        while left > 0:
            if self.beats:
                self.beat()
            self.advance(min(step, left))
            left -= step

    # commands

    def command(self, text: str, sequence: int | None = None, wait: float = 300) -> str:
        """Send a command and return its reply without the sequence number."""
        if sequence is None:
            self.sequence = (self.sequence + 1) % 65536
            sequence = self.sequence
        before = len(self.replies.get(sequence, []))
        self.write(plain(f"{sequence} {text}"))
        for _ in range(round(wait / 5)):
            self.advance(5)
            if len(self.replies.get(sequence, [])) > before:
                return self.replies[sequence][-1]
        return "nothing"

    def must(self, text: str, wait: float = 300) -> list[str]:
        """Send a command that is answered OK; the fields after it."""
        reply = self.command(text, wait=wait)
        assert reply.startswith("OK"), f"{text}: {reply}"
        return reply.split(" ")[1:]

    def state(self) -> int:
        """The launcher's state, as STAT says it."""
        return int(self.must("STAT")[0])

    def words(self, word: str) -> list[list[str]]:
        """The arguments of every event of one kind so far."""
        return [event[3:] for event in self.events if event[2] == word]

    # steps of a session

    def configure(
        self, numbers: Mapping[int, int] = NUMBERS, profile_hash: str = PROFILE_HASH
    ) -> None:
        """Store every number and a profile's hash, as a person at the cable would."""
        self.must("OPEN 1 1")
        for number, value in numbers.items():
            self.must(f"SET {number} {value}", wait=600)
        self.must(f"HASH {profile_hash}", wait=600)

    def open(self, session: int = 77, nonce: int = 1234) -> list[str]:
        """Begin or continue a session."""
        return self.must(f"OPEN {session} {nonce}", wait=1000)

    def arm(self, ceiling: str = CEILING) -> None:
        """Ask to be armed and turn the switch, as a person at the launcher would."""
        self.far.set("arm_switch", 0)
        self.run(50)
        self.must(f"ARM {ceiling}")
        self.run(100)
        self.far.set("arm_switch", 1)
        self.run(100)
        assert self.state() == 2

    def feed(self, ident: int, after_ms: int, setting: str = "2000 1500 0 0 1000 0") -> str:
        """Schedule one ball; the reply."""
        self.run(20)
        return self.command(f"FEED {ident} {(self.clock + after_ms) % 2**32} {setting}")

    def close(self) -> None:
        """Let go of the cable."""
        os.close(self.descriptor)

    def __enter__(self) -> PlainHost:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
