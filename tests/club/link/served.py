"""A club's real server on a socket of this machine, in a thread, for courts that are processes."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket

import uvicorn

from feedscript.club.library.look import Looks
from feedscript.club.library.routes import LibraryRoutes
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.link.membership import Membership
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.store import Store, open_store
from tests.club.lessons import court
from tests.club.library.signed import KEY
from tests.club.server.stage import who


class Served:
    """The server's address, its store, and a court that has joined it."""

    def __init__(self, store: Store, port: int) -> None:
        self.store = store
        self.url = f"http://127.0.0.1:{port}"
        joined = court(store, "court one")
        self.court = Membership(url=self.url, host=joined.host, key=joined.key, name="court one")


@contextmanager
def served_club(folder: Path, port: int = 0) -> Iterator[Served]:
    store = open_store(f"sqlite:///{folder / 'club.sqlite'}")
    listening = socket()
    listening.bind(("127.0.0.1", port))
    club = Club(store, who)
    library = LibraryRoutes(club, Shelf(store, ClubKey(KEY), time.time), Looks())
    app = make_app(club, ["127.0.0.1"], library.routes())
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", ws="websockets-sansio"))
    thread = threading.Thread(target=server.run, args=([listening],), name="standing server")
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield Served(store, listening.getsockname()[1])
    finally:
        server.should_exit = True
        thread.join()
        listening.close()
        store.close()
