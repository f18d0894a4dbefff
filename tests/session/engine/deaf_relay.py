"""A relay between host and launcher that keeps back what has to do with stopping, and nothing else.

Heartbeats and their answers, feeds and what the launcher reports of them pass.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from enum import StrEnum

from anyio.abc import ByteStream
from feedscript_drivers.wire.protocol import StopCharacter

_CHARACTERS = tuple(bytes([stop]) for stop in StopCharacter)
_WORDS = ("STOP", "HOLD", "DISARM")


class Traffic(StrEnum):
    """What a stop puts on the line."""

    CHARACTER = "character"  # the byte that goes ahead
    LINE = "line"  # the command that follows it
    ANSWER = "answer"  # the launcher's OK
    EVENT = "event"  # the launcher's word that its state changed


@dataclass
class DeafRelay(ByteStream):
    """``drops`` says with what chance each piece of each kind is kept back, once it is ``deaf``."""

    inner: ByteStream
    drops: dict[Traffic, float]
    chance: random.Random
    deaf: bool = False
    dropped: int = 0
    _stops: set[str] = field(default_factory=set)  # the numbers of stop lines

    def _drop(self, kind: Traffic) -> bool:
        gone = self.deaf and self.chance.random() < self.drops.get(kind, 0.0)
        self.dropped += gone
        return gone

    async def send(self, item: bytes) -> None:
        if item in _CHARACTERS:
            if not self._drop(Traffic.CHARACTER):
                await self.inner.send(item)
            return
        words = item.decode("ascii").split("*")[0].split(" ")
        if words[1] in _WORDS:
            self._stops.add(words[0])
            if self._drop(Traffic.LINE):
                return
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        while True:
            came = await self.inner.receive(max_bytes)
            lines = came.split(b"\n")
            passed = b"\n".join(line for line in lines if not self._is_kept(line.decode("ascii")))
            if passed:
                return passed

    def _is_kept(self, line: str) -> bool:
        words = line.split("*")[0].split(" ")
        if words[0] in self._stops and words[1:2] == ["OK"]:
            return self._drop(Traffic.ANSWER)
        return words[0] == "!" and words[3] == "STATE" and self._drop(Traffic.EVENT)

    async def send_eof(self) -> None:
        await self.inner.send_eof()

    async def aclose(self) -> None:
        await self.inner.aclose()
