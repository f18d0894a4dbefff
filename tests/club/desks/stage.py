"""A club's server with desks, on a socket of this machine, and everybody's browser at it."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket
from typing import Any
from urllib.parse import quote

import httpx
import uvicorn
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from websockets.sync.client import ClientConnection, connect

from feedscript.club.desks.desks import Desks
from feedscript.club.desks.mounted import desks_of
from feedscript.club.library.look import Looks
from feedscript.club.library.routes import LibraryRoutes
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.overview.pages import overview_of
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.signing_in import COOKIE
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.people import accounts
from feedscript.club.store.store import Store
from feedscript.club.who import Person
from tests.club.people.stage import Stage
from tests.conftest import STANDING

PROGRAM = """feedscript 1
title "{title}"
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ stands 1 m behind centre mark }}
group {{ players "Ada", "Ben" }}
feed deep {{ land 3 m inside baseline, on centre line  speed 80 km/h }}
lesson {{ show speed of deep  for each player {{ repeat 6 {{ send deep after 5 s }}  rest 12 s }} }}
"""


def program(title: str = "Mine") -> str:
    return PROGRAM.format(title=title)


class AtDesks(Stage):
    """The stage of the people's pages, with desks, the library and the overview beside them."""

    def __init__(self, store: Store, most_desks: int = 3) -> None:
        super().__init__(store)
        club = Club(store, self.desk.who)
        self.shelf = Shelf(store, ClubKey(Ed25519PrivateKey.generate()), time.time)
        self.desks = Desks(most_desks)
        self.app = make_app(
            club,
            ["127.0.0.1", "testserver"],
            [
                *people_routes(self.desk),
                *LibraryRoutes(club, self.shelf, Looks()).routes(),
                *overview_of(club),
                *desks_of(club, self.shelf, self.desk, self.desks),
            ],
        )
        self.url = ""

    def token(self, person: Person) -> str:
        with self.store.writing() as connection:
            return accounts.begin(connection, person.id, self.now_utc_s, self.now_utc_s + 3600.0)

    def page(self, person: Person | None) -> Asking:
        """A browser of this person's that speaks by the network."""
        return Asking(self.url, None if person is None else self.token(person))


class Asking:
    """What a page of the server asks, as one who has signed in."""

    def __init__(self, url: str, token: str | None) -> None:
        self.url = url
        self.cookie = f"{COOKIE}={token}" if token else ""
        headers = {"Origin": url, "Cookie": self.cookie}
        self.client = httpx.Client(base_url=url, headers=headers, timeout=60.0)

    def get(self, place: str, **more: Any) -> httpx.Response:
        return self.client.get(place, **more)

    def post(self, place: str, **form: str) -> httpx.Response:
        return self.client.post(place, data=form)

    def save(self, name: str, words: str, based_on: str = "") -> httpx.Response:
        return self.client.put(f"/programs/{name}", json={"words": words, "based_on": based_on})

    def words(self, name: str, origin: str | None = None) -> ClientConnection:
        """The socket of a program."""
        place = f"{self.url.replace('http', 'ws', 1)}/words/{quote(name)}"
        headers = {"Cookie": self.cookie}
        return connect(place, origin=origin or self.url, additional_headers=headers)  # type: ignore[arg-type]


@contextmanager
def at_desks(store: Store, most_desks: int = 3) -> Iterator[AtDesks]:
    """Served until the context ends; then no desk's process is left."""
    stage = AtDesks(store, most_desks)
    listening = socket()
    listening.bind(("127.0.0.1", 0))
    stage.url = f"http://127.0.0.1:{listening.getsockname()[1]}"
    config = uvicorn.Config(
        stage.app, log_level="error", ws="websockets-sansio", timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, args=([listening],), name=STANDING)
    thread.start()
    try:
        while not server.started:
            time.sleep(0.01)
        yield stage
    finally:
        server.should_exit = True
        thread.join()
        listening.close()


def folder_of(stage: AtDesks, person: Person) -> Path:
    """Where a coach's desk lies."""
    return stage.desks._of[person.id].root
