"""Everything of the desks that a server mounts."""

from __future__ import annotations

from starlette.routing import BaseRoute

from feedscript.club.desks.desks import Desks
from feedscript.club.desks.gate import Gate
from feedscript.club.desks.pages import Mine
from feedscript.club.desks.reviews import Reviews
from feedscript.club.library.shelf import Shelf
from feedscript.club.people.pages.answers import Desk
from feedscript.club.server.club import Club


def desks_of(club: Club, shelf: Shelf, people: Desk, desks: Desks) -> list[BaseRoute]:
    """The desks' routes; beside the requests, those that nobody is at go."""
    club.works.append(desks.run)
    gate = Gate(club, shelf, desks)
    return [
        *Mine(gate, shelf).routes(people),
        *Reviews(gate, people).routes(),
        *gate.routes(),
    ]
