"""One coach's desk on the club's server: ``python -m feedscript.club.desks.process FOLDER``.

It is the desk of a coach's own computer, without what leads to a court, served to the club's
server alone by the one-time link that every desk has. A check that takes long, or too much, is this
process's own trouble: it gives way to the server's, and its memory is bounded. It opens no store
and is given no secret of the club's. It ends when its standard input does, which is when the server
ends or sends it away.
"""

from __future__ import annotations

import asyncio
import os
import sys
import threading
from pathlib import Path

import msgspec
import uvicorn

from feedscript.club.apart import be_bounded
from feedscript.club.desks.asked import routes
from feedscript.club.desks.folder import DeskFolder
from feedscript.console.access import Access, Role
from feedscript.console.listening import LOOPBACK, listen
from feedscript.desk.app import Desk, make_app
from feedscript.desk.serve import answer_promptly, desk_config
from feedscript.session.engine.wall_clock import elapsed_s


class DeskBegun(msgspec.Struct, frozen=True):
    """What a coach's desk tells the server, once."""

    address: str  # where it listens
    code: str  # that lets the server in, once


def main() -> None:
    be_bounded()
    folder = DeskFolder(Path(sys.argv[1]))
    access = Access(elapsed_s)
    listening = listen(on_court_network=False, port=0)
    app = make_app(Desk(folder, access, court=None), (LOOPBACK,), routes(folder))
    server = uvicorn.Server(desk_config(app))
    threading.Thread(target=_until_it_is_sent_away, args=(server,), daemon=True).start()
    answer_promptly()
    told = DeskBegun(listening.reached, access.new_code(Role.COACH))
    sys.stdout.write(f"{msgspec.json.encode(told).decode()}\n")
    sys.stdout.flush()
    asyncio.run(server.serve(sockets=[listening.socket]))


def _until_it_is_sent_away(server: uvicorn.Server) -> None:
    sys.stdin.buffer.read()
    server.should_exit = True
    # A check that has begun is not waited for.
    threading.Timer(2.0, os._exit, (0,)).start()


if __name__ == "__main__":
    main()
