"""A club's server with invented people, and browsers in which they are signed in."""

from __future__ import annotations

import re
from typing import Any

from starlette.testclient import TestClient

from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.passwords import Cost, hashed
from feedscript.club.people.signing_in import COOKIE, who_of
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.log import take_in
from feedscript.club.store.people import accounts
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from tests.club.lessons import court
from tests.club.people.conftest import group
from tests.club.people.played import BEGUN_UTC_S, lesson

ORIGIN = "http://testserver"
CHEAP = Cost(passes=1, memory_kib=64, lanes=1)
PASSWORD = "clay under blue umbrellas"
HASHED = hashed(PASSWORD, CHEAP)
LINK = re.compile(r'value="(http://testserver/(?:family|invitations)/[\w-]+)"')


class Stage:
    """The server and its clock; and everybody's browser."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.now_utc_s = BEGUN_UTC_S + 86_400.0
        self.club = club = Club(store, who_of(store, lambda: self.now_utc_s))
        self.desk = Desk(store, club.who, lambda: self.now_utc_s, CHEAP)
        self.app = make_app(club, ["testserver"], people_routes(self.desk))
        self.head = self.person("head", Role.HEAD_COACH)
        self.kim = self.person("kim", Role.COACH)
        self.lee = self.person("lee", Role.COACH)
        self.wall = self.person("wall", Role.VIEWER)
        self.court = court(store)
        take_in(
            store, self.court.host, [lesson("Ada", "Ben"), lesson("Cleo", name="2-0000beef")], 9.0
        )
        group(store, "red", ["Ada", "Ben"], self.kim)
        group(store, "blue", ["Cleo"], self.lee)

    def person(self, name: str, role: Role) -> Person:
        with self.store.writing() as connection:
            made = accounts.make(connection, f"{name}@club.example", name, role, 1.0)
            accounts.set_password(connection, made.id, HASHED)
        return made

    def browser(self, person: Person | None = None) -> TestClient:
        """One in which this person is signed in."""
        client = TestClient(self.app, headers={"Origin": ORIGIN}, follow_redirects=False)
        if person is not None:
            with self.store.writing() as connection:
                token = accounts.begin(
                    connection, person.id, self.now_utc_s, self.now_utc_s + 3600.0
                )
            client.cookies.set(COOKIE, token)
        return client

    def at(self, player: str) -> str:
        """A player's place."""
        return f"/players/{self.desk.id_of(player)}"


def told_link(answer: Any) -> str:
    """The one link that a page shows."""
    found = LINK.findall(answer.text)
    assert len(found) == 1, answer.text
    return found[0].removeprefix(ORIGIN)
