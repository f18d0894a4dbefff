"""Serving the desk from this machine until it is stopped."""

from __future__ import annotations

import asyncio
import gc
import sys
from collections.abc import Callable
from pathlib import Path
from socket import socket

import uvicorn
from starlette.types import ASGIApp

from feedscript.console.access import Access, Role
from feedscript.console.listening import LOOPBACK, Listening
from feedscript.desk.app import Desk, make_app
from feedscript.desk.files import Folder
from feedscript.desk.on_court import Court
from feedscript.desk.program_routes import MOST_REQUEST
from feedscript.override import override
from feedscript.session.engine.wall_clock import elapsed_s

#: So soon a check gives way to a key that comes while it works, in place of Python's own 5 ms.
SWITCH_S = 0.001
#: Objects that come to be, and stay, between two searches for garbage. A search takes as long as a
#: check, and a check leaves a hundred objects behind that only a search finds: design value.
GARBAGE_AFTER = 300_000


class _Server(uvicorn.Server):
    """uvicorn, that ends a lesson on court before itself: the terminal is not given back before
    its launchers have stopped. A second Ctrl-C waits for nothing; the lesson then ends alone."""

    def __init__(self, config: uvicorn.Config, court: Court) -> None:
        super().__init__(config)
        self._court = court

    @override
    async def shutdown(self, sockets: list[socket] | None = None) -> None:
        await self._court.end(at_once=lambda: self.force_exit)
        await super().shutdown(sockets)


def answer_promptly() -> None:
    """Keep what Python does by itself out of the way of who is typing."""
    sys.setswitchinterval(SWITCH_S)
    gc.freeze()  # what stands until the end is not searched
    gc.set_threshold(GARBAGE_AFTER)


def desk_config(app: ASGIApp) -> uvicorn.Config:
    """How a desk is served to one machine."""
    return uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="websockets-sansio",
        ws_max_size=MOST_REQUEST,
        ws_ping_interval=5.0,
        ws_ping_timeout=10.0,
        ws_per_message_deflate=False,  # costs more than it saves on the way to this machine itself
        lifespan="off",
        timeout_graceful_shutdown=1,
    )


def serve_desk(root: Path, listening: Listening, told: Callable[[str], None]) -> None:
    """Serve the programs of a folder until Ctrl-C; ``told`` is given the one-time link."""
    access, court = Access(elapsed_s), Court()
    scheme = "http" if listening.tls is None else "https"
    reached = listening.reached
    app = make_app(
        Desk(Folder(root), access, court), (reached.split(":")[0], "localhost", LOOPBACK)
    )
    server = _Server(desk_config(app), court)
    answer_promptly()
    told(f"{scheme}://{reached}/#{access.new_code(Role.COACH)}")
    asyncio.run(server.serve(sockets=[listening.socket]))
