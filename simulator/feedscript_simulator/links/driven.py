"""A stand-in that keeps time by itself and hands its bytes to whoever carries them."""

from __future__ import annotations

from collections.abc import Callable

import anyio

from feedscript_simulator.stand_in import StandIn


class Driven:
    """Runs by anyio's clock. ``on_output`` is called with bytes for the host, from the loop."""

    def __init__(self, stand_in: StandIn, on_output: Callable[[bytes], None]) -> None:
        self.stand_in = stand_in
        self.on_output = on_output
        self._poked = anyio.Event()
        stand_in.changed = self.flush

    def receive(self, data: bytes) -> None:
        """Bytes of the host."""
        self.stand_in.receive(data, anyio.current_time())
        self.flush()

    def flush(self) -> None:
        """Pass on what is to be sent, and look anew at what is due next."""
        out = self.stand_in.take_output()
        if out:
            self.on_output(out)
        self._poked.set()

    async def keep_time(self) -> None:
        """Let the stand-in do what is due, when it is due, whether or not bytes come."""
        while True:
            self._poked = anyio.Event()
            wake_s = self.stand_in.next_wake_s()
            if wake_s is None:
                await self._poked.wait()
                continue
            with anyio.move_on_at(wake_s):
                await self._poked.wait()
            self.stand_in.advance(anyio.current_time())
            self.flush()
