"""A club in this process, and a court's computer that reaches it or does not."""

from __future__ import annotations

import random
from contextlib import closing
from pathlib import Path

import anyio
from starlette.applications import Starlette

from feedscript.club.intake import Intake
from feedscript.club.link.catch_up import CaughtUp, catch_up
from feedscript.club.link.forgetting import journals_here, obey_club
from feedscript.club.link.membership import Membership
from feedscript.club.people.handing import Handing
from feedscript.club.people.telling import Telling
from feedscript.club.store.store import open_store
from feedscript.journal.store import open_journal
from tests.club.lessons import court
from tests.club.link.bad_network import BadNetwork
from tests.club.link.journals import begin


class Court:
    """Courts one and two; court one's computer, and its journal."""

    def __init__(self, folder: Path) -> None:
        self.store = open_store(f"sqlite:///{folder / 'club.sqlite'}")
        joined, self.two = court(self.store), court(self.store, "court two")
        url = "http://club.example"
        self.member = Membership(url=url, host=joined.host, key=joined.key, name="x")
        routes = [*Intake(self.store, lambda: 9.0).routes(), *Telling(self.store).routes()]
        routes += Handing(self.store).routes()
        self.network = BadNetwork(Starlette(routes=routes), random.Random(0))
        self.usual = folder / "journal.sqlite"

    def played_here(self, name: str) -> None:
        with closing(open_journal(self.usual)) as journal:
            journal.note(begin(journal, 5), 1.8e9, "roster", {"player": name})

    def pushes(self) -> CaughtUp:
        return anyio.run(catch_up, self.member, self.usual, self.network)

    def forgets(self) -> None:
        anyio.run(obey_club, self.member, journals_here(self.usual), self.network)


def bytes_of(folder: Path) -> bytes:
    return b"".join(one.read_bytes() for one in folder.rglob("*") if one.is_file())
