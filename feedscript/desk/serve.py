"""Serving the desk from this machine until it is stopped."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import uvicorn

from feedscript.console.access import Access, Role
from feedscript.console.listening import LOOPBACK, Listening
from feedscript.desk.app import MOST_REQUEST, Desk, make_app
from feedscript.desk.files import Folder
from feedscript.session.engine.wall_clock import elapsed_s


def serve_desk(root: Path, listening: Listening, told: Callable[[str], None]) -> None:
    """Serve the programs of a folder until Ctrl-C; ``told`` is given the one-time link."""
    access = Access(elapsed_s)
    scheme = "http" if listening.tls is None else "https"
    reached = listening.reached
    app = make_app(Desk(Folder(root), access), (reached.split(":")[0], "localhost", LOOPBACK))
    config = uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="websockets-sansio",
        ws_max_size=MOST_REQUEST,
        ws_ping_interval=5.0,
        ws_ping_timeout=10.0,
        lifespan="off",
        timeout_graceful_shutdown=1,
    )
    server = uvicorn.Server(config)
    told(f"{scheme}://{reached}/#{access.new_code(Role.COACH)}")
    asyncio.run(server.serve(sockets=[listening.socket]))
