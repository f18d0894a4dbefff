"""Running the console beside a lesson, in the lesson's own event loop."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass

import anyio
import uvicorn

from feedscript.console.access import Access, Role
from feedscript.console.app import make_app
from feedscript.console.broadcast import Broadcast
from feedscript.console.listening import LOOPBACK, Listening, listen
from feedscript.console.messages import MOST_BYTES
from feedscript.console.pairing import qr_terminal
from feedscript.console.socket import Console
from feedscript.session.controller import Controller


@dataclass(slots=True)
class Served:
    """A console that answers; the :class:`feedscript.session.terminal.Pairing` of a terminal."""

    url: str
    access: Access
    on_court_network: bool = False
    _invited: Role = Role.COACH

    def pairing_link(self, role: Role) -> str:
        """A fresh one-time link; the code stands behind the #, which no server's log sees."""
        return f"{self.url}/#{self.access.new_code(role)}"

    def invite(self, viewer: bool) -> str:
        """A fresh link in words, with its QR code where another device can reach it."""
        self._invited = Role.VIEWER if viewer else Role.COACH
        link = self.pairing_link(self._invited)
        words = "a screen for the group" if viewer else "court-side page"
        if not self.on_court_network:
            hint = "(on this machine only; --court-network lets a phone in)"
            return f"{words}: {link}\n{hint}\n"
        return f"{qr_terminal(link)}{words}: {link}\n"

    def is_open(self) -> bool:
        """Whether the last invitation still waits for its device."""
        return self.access.waits_for_a(self._invited)


class _Server(uvicorn.Server):
    """uvicorn without its own signal handlers: Ctrl-C belongs to the lesson, which stops first."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


@asynccontextmanager
async def serve(lesson: Controller, listening: Listening | None = None) -> AsyncIterator[Served]:
    """Serve the page for as long as the context lasts (asyncio only, as uvicorn is); without a
    socket that listens, on this machine alone at any free port."""
    listening = listening or listen(False, 0)
    reached = listening.reached
    access = Access(anyio.current_time)
    tls = listening.tls
    url = f"{'http' if tls is None else 'https'}://{reached}"
    console = Console(lesson, access, Broadcast(lesson))
    hosts = (reached.split(":")[0], "localhost", LOOPBACK)
    config = uvicorn.Config(
        make_app(console, hosts, url),
        log_level="error",
        access_log=False,
        server_header=False,
        ws="websockets-sansio",
        ws_max_size=2 * MOST_BYTES,
        # Packing each state anew for each screen would hold up the lesson it tells of.
        ws_per_message_deflate=False,
        ws_ping_interval=5.0,
        ws_ping_timeout=5.0,
        timeout_graceful_shutdown=1,
        limit_concurrency=256,
        lifespan="off",
        ssl_context_factory=None if tls is None else lambda *_: tls,
    )
    server = _Server(config)
    ended = anyio.Event()

    async def run_server() -> None:
        await server.serve([listening.socket])
        ended.set()

    async with anyio.create_task_group() as group:
        group.start_soon(console.broadcast.follow)
        group.start_soon(run_server)
        try:
            while not server.started:
                await anyio.sleep(0.01)
            yield Served(url, access, listening.on_court_network)
        finally:
            with anyio.CancelScope(shield=True):
                server.should_exit = True
                await ended.wait()  # bounded by the graceful-shutdown time above
            group.cancel_scope.cancel()
