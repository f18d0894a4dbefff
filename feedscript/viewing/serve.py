"""Serving the page until a person has finished with it."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from types import FrameType

import uvicorn

from feedscript.console.access import Access, Role
from feedscript.console.listening import Listening
from feedscript.console.serve import hosts_of, page_config, url_of
from feedscript.override import override
from feedscript.session.engine.wall_clock import elapsed_s
from feedscript.viewing.app import make_app
from feedscript.viewing.viewing import Viewing

#: The page is given so long to end: a ball's picture may still be read from the film.
ENDS_S = 15


class PageServer(uvicorn.Server):
    """Waits for nobody's picture where Ctrl-C ends it."""

    @override
    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        super().handle_exit(sig, frame)
        self.force_exit = self.force_exit or sig == signal.SIGINT


def serve_viewing(viewing: Viewing, listening: Listening, told: Callable[[str], None]) -> None:
    """Serve the page until its person has finished; ``told`` is given the one-time link.

    KeyboardInterrupt for Ctrl-C.
    """
    access = Access(elapsed_s)

    def done() -> None:
        server.should_exit = True

    app = make_app(viewing, access, hosts_of(listening), done)
    config = page_config(app)
    config.timeout_graceful_shutdown = ENDS_S
    server = PageServer(config)
    told(f"{url_of(listening)}/#{access.new_code(Role.COACH)}")
    try:
        asyncio.run(server.serve(sockets=[listening.socket]))
    finally:
        viewing.end()
