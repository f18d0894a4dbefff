"""A stand-in that keeps time by itself and hands its bytes to whoever carries them."""

from __future__ import annotations

import math
from collections.abc import Callable

import anyio

from feedscript_simulator.stand_in import StandIn


class Driven:
    """Runs by anyio's clock. ``on_output`` is called with bytes for the host, from the loop."""

    def __init__(self, stand_in: StandIn, on_output: Callable[[bytes], None]) -> None:
        self.stand_in = stand_in
        self.on_output = on_output
        self._asleep: anyio.CancelScope | None = None
        stand_in.changed = self.flush

    def receive(self, data: bytes) -> None:
        """Bytes of the host."""
        self.stand_in.receive(data, anyio.current_time())
        self.flush()

    def flush(self) -> None:
        """Pass on what is to be sent, and sleep until what is due next by now."""
        out = self.stand_in.take_output()
        if out:
            self.on_output(out)
        # Put off without being woken: every heartbeat puts off when the host counts as silent.
        if self._asleep is not None:
            self._asleep.deadline = self._due_s()

    def _due_s(self) -> float:
        wake_s = self.stand_in.next_wake_s()
        return math.inf if wake_s is None else wake_s

    async def keep_time(self) -> None:
        """Let the stand-in do what is due, when it is due, whether or not bytes come."""
        while True:
            with anyio.CancelScope(deadline=self._due_s()) as self._asleep:
                await anyio.sleep_forever()
            self._asleep = None
            self.stand_in.advance(anyio.current_time())
            self.flush()
