"""Keyed sessions through somebody's bridge, drawn from a seed: it takes little at once and slowly,
delays, splits, joins, doubles and drops, and somebody who has no key says lines of his own on it,
to the launcher and to the host."""

from __future__ import annotations

import random
import re

from anyio.abc import ByteStream
from feedscript_drivers.transports.bridge import Bridge, BridgedStream
from feedscript_drivers.wire.codec import plain_line
from feedscript_simulator.faults import LineFaults

from tests.drivers.faults.faulty_session import ACTS, act, finish
from tests.drivers.faults.faulty_world import World, violations, world
from tests.virtual_time import in_virtual_time

FEEDS = 12
_MOST_ACTS = 16


def draw_bridge(chance: random.Random) -> Bridge:
    return Bridge(
        chunk_bytes=chance.choice((16, 20, 64, 244)), pause_s=chance.choice((0.0, 0.005, 0.01))
    )


def draw_faults(chance: random.Random) -> LineFaults:
    """Of pieces, of which a line may have seven."""
    level = chance.choice((0.0, 0.003, 0.01))
    return LineFaults(
        lost=level * chance.random(),
        doubled=level * chance.random(),
        late=level * chance.random(),
        split=0.2 * chance.random(),
        merged=0.05 * chance.random(),
        least_delay_s=chance.choice((0.0, 0.005, 0.03)),
        late_by_s=chance.choice((0.05, 0.3)),
    )


class Forger(ByteStream):
    """On the bridge's way somebody says lines of his own. He hears everything, so his numbers and
    counters are the next ones; only the key he has not."""

    def __init__(self, inner: ByteStream, chance: random.Random, share: float) -> None:
        self.inner = inner
        self.chance = chance
        self.share = share
        self.forged = 0
        self.heard = {True: b"", False: b""}  # of the host, of the launcher

    def line(self, *, of_host: bool) -> bytes:
        """Plain, with the next counter and a tag by chance, or what was said with one letter
        changed."""
        chance, heard = self.chance, self.heard[of_host]
        self.forged += 1
        found = _KEYED.search(heard)
        if found is None or chance.random() < 0.2:
            return b"\n" + plain_line(f"{chance.randrange(65536)} {chance.choice(_COMMANDS)}")
        if chance.random() < 0.2:
            changed = bytearray(found[0])
            changed[chance.randrange(len(changed))] = chance.choice(b"0123456789")
            return b"\n" + bytes(changed) + b"\n"
        counter = int(found["counter"], 16) + chance.randrange(1, 5)
        body, tag = self.body(found["body"].decode(), of_host=of_host), chance.randrange(2**64)
        return f"\n{body}#{counter:08X}{tag:016X}\n".encode("ascii")

    def body(self, said: str, *, of_host: bool) -> str:
        """What would do most harm just now."""
        number, _, rest = said.partition(" ")
        if of_host and number.isdecimal():
            return f"{(int(number) + 1) % 65536} {self.chance.choice(_COMMANDS)}"
        if not of_host and number == "!":
            event, ms, *_ = rest.split(" ")
            feed = self.chance.randrange(1, 30)
            return f"! {int(event) + 1} {ms} {self.chance.choice(_EVENTS)} {feed}"
        return said

    async def send(self, item: bytes) -> None:
        self.heard[True] = item
        if self.chance.random() < self.share:
            await self.inner.send(self.line(of_host=True))
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        data = await self.inner.receive(max_bytes)
        self.heard[False] = (self.heard[False] + data)[-400:]
        if self.chance.random() < self.share:
            return self.line(of_host=False) + data
        return data

    async def send_eof(self) -> None:
        await self.inner.send_eof()

    async def aclose(self) -> None:
        await self.inner.aclose()


_KEYED = re.compile(rb"(?P<body>[^#*\n]+)#(?P<counter>[0-9A-F]{8})[0-9A-F]{16}(?!.*#)", re.S)
_COMMANDS = ("ARM 9000 9000 0", "GO", "DISARM", "PREP 4000 4000 0 0 0 0", "SET 1 9")
_EVENTS = ("LEFT", "LEFT", "MISS", "LOST")


async def _session(seed: int, forgers: list[Forger]) -> World:
    chance = random.Random(f"bridged {seed}")
    bridge, share = draw_bridge(chance), chance.choice((0.0, 0.02, 0.1))

    def through(line: ByteStream) -> ByteStream:
        forgers.append(Forger(BridgedStream(line, bridge), chance, share))
        return forgers[-1]

    faults = draw_faults(chance)
    async with world(seed, faults, keyed=True, replays=True, through=through) as w:
        await w.recover()
        for _ in range(_MOST_ACTS):
            if len(w.far.truth) >= FEEDS:
                break
            if w.launcher is None and not await w.recover():
                continue
            await w.feed(chance.randrange(1, 6), ahead=chance.choice((1, 2)))
            await act(w, chance.choice(ACTS))
        for forger in forgers:
            forger.share = 0.0
        await finish(w)
    return w


def run_bridged(seed: int) -> tuple[World, list[str], int]:
    """One session on the virtual clock, how it broke the invariants, and how much was forged."""
    forgers: list[Forger] = []
    w = in_virtual_time(_session, seed, forgers)
    return w, violations(w), sum(forger.forged for forger in forgers)
