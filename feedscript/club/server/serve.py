"""Serving a club until it is stopped."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

from starlette.routing import BaseRoute

from feedscript.club.desks import MOST_DESKS
from feedscript.club.desks.desks import Desks
from feedscript.club.desks.mounted import desks_of
from feedscript.club.launchers.pages import LauncherPages, launcher_pages
from feedscript.club.library.beside import judged_apart, looked_at_apart
from feedscript.club.library.look import Looks
from feedscript.club.library.pages.routes import LibraryPages, library_pages
from feedscript.club.library.routes import LibraryRoutes
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.overview.pages import overview_of
from feedscript.club.people.beginning import INVITED, first_invitation
from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.signing_in import who_of
from feedscript.club.server.address import Reached
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.store import Store
from feedscript.console.acceptor import Acceptor, RequestsTold
from feedscript.console.serve import PageServer, page_config
from feedscript.desk.program_routes import MOST_REQUEST
from feedscript.host.event_loop import run_watching

if TYPE_CHECKING:
    from feedscript.club.people.oidc import Oidc

#: How often it is looked whether one of the server's works has ended, s.
LOOK_S = 1.0


def serve_club(
    store: Store,
    reached: Reached,
    key: ClubKey,
    told: Callable[[str, str], None],
    most_desks: int = MOST_DESKS,
    oidc: Oidc | None = None,
) -> None:
    """Serve a club's store until Ctrl-C; ``key`` signs its library, and so many coaches are at
    desks at once. ``told`` is given the address, and a link for the first head coach of a club that
    has none ("" where there is one). ``oidc``: another service by which people may sign in.

    Raises whatever ended one of the server's works that should never end."""
    club = Club(store, who_of(store, time.time))
    try:
        code = first_invitation(store, time.time())
        told(reached.url, "" if code is None else f"{reached.url}{INVITED}{code}")
        with suppress(KeyboardInterrupt):  # has ended it already, in order
            desk = Desk(store, club.who, oidc=oidc)
            run_watching(serve(club, reached, pages_of(club, key, desk, most_desks)))
    finally:
        store.close()
    if club.fault is not None:
        raise club.fault


def pages_of(
    club: Club, key: ClubKey, desk: Desk | None = None, most_desks: int = MOST_DESKS
) -> list[BaseRoute]:
    """Everything of the club that somebody opens in a browser; ``key`` signs its library."""
    desk = Desk(club.store, club.who) if desk is None else desk
    shelf = Shelf(club.store, key, desk.utc_s, judged_apart)
    looks = Looks(looked_at_apart)
    return [
        *people_routes(desk),
        *_elsewhere(desk),
        *LibraryRoutes(club, shelf, looks).routes(),
        *library_pages(desk, LibraryPages(club, shelf, looks)),
        *launcher_pages(desk, LauncherPages(club.launchers, shelf)),
        *overview_of(club),
        *desks_of(club, shelf, desk, Desks(most_desks)),
    ]


def _elsewhere(desk: Desk) -> list[BaseRoute]:
    if desk.oidc is None:
        return []  # nothing of it is imported
    from feedscript.club.people.pages.elsewhere import elsewhere_routes

    return elsewhere_routes(desk)


async def serve(club: Club, reached: Reached, pages: Sequence[BaseRoute]) -> None:
    """Serve until a signal, or a fault of the club's."""
    acceptor = Acceptor(reached.listening.socket, reached.listening.tls)
    app = make_app(club, reached.names, pages)
    told = RequestsTold(app, acceptor, club.known.of)
    # Of a desk a whole program may come; whoever reads a court's socket has a bound of his own.
    config = page_config(told, lifespan="on", most_bytes=MOST_REQUEST)
    server = PageServer(config, acceptor)

    async def end_with_a_fault() -> None:
        while club.fault is None:
            await asyncio.sleep(LOOK_S)
        server.should_exit = True

    looking = asyncio.create_task(end_with_a_fault())
    await server.serve(sockets=[reached.listening.socket])
    looking.cancel()
