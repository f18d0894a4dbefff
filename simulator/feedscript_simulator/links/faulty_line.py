"""A line that loses, doubles, spoils, delays, reorders, splits and merges what crosses it.

A spoilt piece has up to 16 neighbouring bits turned over, what interference does to a serial line
and what the CRC promises to catch; a byte may also vanish. Chance comes from a seed, so a run that
failed can be had again.
"""

from __future__ import annotations

import contextlib
import heapq
import math
import random
from collections.abc import AsyncIterator, Callable

import anyio
from anyio.abc import ByteStream
from anyio.streams.memory import MemoryObjectReceiveStream, MemoryObjectSendStream
from feedscript_drivers.wire.one_error import one_error
from msgspec import Struct, field

from feedscript.override import override
from feedscript_simulator.faults import LineFaults


class Mangler(Struct):
    """Sans-IO: what becomes of a piece in one direction. Returns (delay, bytes) pairs."""

    faults: LineFaults
    chance: random.Random
    _kept_back: bytes = b""
    _last_arrival_s: float = -math.inf

    def mangle(self, piece: bytes, now_s: float) -> list[tuple[float, bytes]]:
        """When (absolute) and in what shape the piece arrives; empty when it is lost."""
        faults, chance = self.faults, self.chance
        piece, self._kept_back = self._kept_back + piece, b""
        if chance.random() < faults.lost:
            return []
        if chance.random() < faults.corrupted:
            piece = self._spoil(piece)
        if chance.random() < faults.merged:
            self._kept_back = piece
            return []
        copies = 2 if chance.random() < faults.doubled else 1
        arrivals: list[tuple[float, bytes]] = []
        for _ in range(copies):
            parts = self._cut(piece) if chance.random() < faults.split else [piece]
            arrivals += [(self._arrival_s(now_s), part) for part in parts]
        return arrivals

    def _arrival_s(self, now_s: float) -> float:
        faults, chance = self.faults, self.chance
        due = now_s + faults.least_delay_s
        if chance.random() < faults.late:
            due += chance.random() * faults.late_by_s
        if chance.random() < faults.reordered:
            return due + chance.random() * faults.late_by_s  # whatever follows may pass it
        self._last_arrival_s = max(due, self._last_arrival_s)
        return self._last_arrival_s

    def _spoil(self, piece: bytes) -> bytes:
        chance = self.chance
        at = chance.randrange(len(piece))
        if chance.random() < 0.25:
            return piece[:at] + piece[at + 1 :]
        burst = chance.randrange(1, 1 << 16) << chance.randrange(8)
        spoilt = bytearray(piece)
        for offset, turned in enumerate(burst.to_bytes(3, "big")):
            if at + offset < len(spoilt):
                spoilt[at + offset] ^= turned
        return bytes(spoilt)

    def _cut(self, piece: bytes) -> list[bytes]:
        at = self.chance.randrange(len(piece) + 1)
        return [part for part in (piece[:at], piece[at:]) if part]


class _Post(Struct):
    """Pieces on their way in one direction."""

    mangler: Mangler
    waiting: list[tuple[float, int, bytes]] = field(default_factory=list)
    number: int = 0
    news: anyio.Event = field(default_factory=anyio.Event)

    def put(self, piece: bytes) -> None:
        for due_s, part in self.mangler.mangle(piece, anyio.current_time()):
            self.number += 1
            heapq.heappush(self.waiting, (due_s, self.number, part))
        self.news.set()

    async def next(self) -> bytes:
        """The next piece, when it is due."""
        while True:
            if self.waiting and self.waiting[0][0] <= anyio.current_time():
                return heapq.heappop(self.waiting)[2]
            self.news = anyio.Event()
            due_s = self.waiting[0][0] if self.waiting else math.inf
            with anyio.move_on_at(due_s):
                await self.news.wait()


class FaultyStream(ByteStream):
    """The host's end of a faulty line; ``cut_off()`` makes it a dead one, both ways or one."""

    def __init__(self, inner: ByteStream, faults: LineFaults, seed: int) -> None:
        self._inner = inner
        self._out = _Post(Mangler(faults, random.Random(f"out {seed}")))
        self._back = _Post(Mangler(faults, random.Random(f"back {seed}")))
        self._arrived: MemoryObjectSendStream[bytes]
        self._arriving: MemoryObjectReceiveStream[bytes]
        self._arrived, self._arriving = anyio.create_memory_object_stream[bytes](math.inf)
        self.deaf_out = self.deaf_back = False
        self.host_dead = False  # what it had sent is still on its way

    def cut_off(self, *, out: bool = True, back: bool = True) -> None:
        """From now on nothing crosses in the named directions, and nobody is told."""
        self.deaf_out, self.deaf_back = self.deaf_out or out, self.deaf_back or back

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        if not self.deaf_out and not self.host_dead:
            self._out.put(item)

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self._arriving.receive()

    @override
    async def send_eof(self) -> None:
        await self._inner.send_eof()

    @override
    async def aclose(self) -> None:
        self._arrived.close()
        self._arriving.close()
        await self._inner.aclose()

    async def carry_out(self) -> None:
        with contextlib.suppress(anyio.ClosedResourceError, anyio.BrokenResourceError):
            while True:
                piece = await self._out.next()
                if not self.deaf_out:
                    await self._inner.send(piece)

    async def carry_back(self) -> None:
        try:
            while True:
                piece = await self._inner.receive()
                if not self.deaf_back:
                    self._back.put(piece)
        except (anyio.EndOfStream, anyio.ClosedResourceError):
            self._arrived.close()

    async def deliver_back(self) -> None:
        while True:
            piece = await self._back.next()
            if not self.deaf_back:
                with contextlib.suppress(anyio.ClosedResourceError, anyio.BrokenResourceError):
                    self._arrived.send_nowait(piece)


@contextlib.asynccontextmanager
async def faulty_line(
    inner: ByteStream, faults: LineFaults, seed: int
) -> AsyncIterator[ByteStream]:
    """The stream as it is when nothing shall go wrong, else behind a faulty line."""
    if not faults.any():
        yield inner
        return
    async with line_to_cut(inner, faults, seed) as stream:
        yield stream


@contextlib.asynccontextmanager
async def line_to_cut(
    inner: ByteStream, faults: LineFaults, seed: int
) -> AsyncIterator[FaultyStream]:
    """A line with these faults that may be cut off."""
    stream = FaultyStream(inner, faults, seed)
    with one_error():
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.carry_out)
            tasks.start_soon(stream.carry_back)
            tasks.start_soon(stream.deliver_back)
            yield stream
            tasks.cancel_scope.cancel()


@contextlib.asynccontextmanager
async def one_way(
    deliver: Callable[[bytes], None], faults: LineFaults, seed: str
) -> AsyncIterator[Callable[[bytes], None]]:
    """What takes bytes for ``deliver``: itself when nothing shall go wrong, else a faulty line."""
    if not faults.any():
        yield deliver
        return
    post = _Post(Mangler(faults, random.Random(seed)))

    async def carry() -> None:
        while True:
            deliver(await post.next())

    async with anyio.create_task_group() as tasks:
        tasks.start_soon(carry)
        yield post.put
        tasks.cancel_scope.cancel()
