"""A club's server with courts whose lessons are real rehearsals, as far along as a test wants."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from socket import socket
from threading import Thread
from typing import Any

import anyio
import uvicorn
from click.testing import CliRunner
from starlette.requests import HTTPConnection

from feedscript.cli import verbs
from feedscript.club.batch import Event, Part
from feedscript.club.link.outbox import Outbox
from feedscript.club.messages import Alive, StopEnded
from feedscript.club.overview.pages import overview_of
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store import hosts
from feedscript.club.store.log import held, take_in
from feedscript.club.store.store import Store, open_store
from feedscript.club.who import Person, Role
from feedscript.journal.store import read_journal
from tests.club.lessons import court


def rehearsed(folder: Path, program: str) -> Part:
    """A shipped program's whole lesson, as a court sends it."""
    path = folder / f"{program}.sqlite"
    done = CliRunner().invoke(verbs, ["rehearse", program, "--journal", str(path)])
    assert done.exit_code == 0, done.output
    with closing(read_journal(path)) as journal:
        outbox, parts = Outbox(journal, {}), []
        while outbox.look() and (batch := outbox.next_batch()) is not None:
            (part,) = batch.parts
            parts.append(part)
            outbox.acknowledge({part.lesson: part.events[-1].number})
    assert parts[0].header is not None
    events = tuple(event for part in parts for event in part.events)
    return Part(lesson=parts[0].lesson, header=parts[0].header, events=events)


def until(part: Part, holds: Callable[[Event], bool], count: int = 1) -> int:
    """The number of the event of which this holds for the so-manieth time."""
    found = [event.number for event in part.events if holds(event)]
    return found[count - 1]


def is_kind(kind: str, words: str = "") -> Callable[[Event], bool]:
    return lambda event: event.kind == kind and words in event.data


def who(asks: HTTPConnection) -> Person | None:
    """Browsers of the tests say in a cookie who they are."""
    role = asks.cookies.get("role", "")
    return Person(id=role, name=f"the {role}", role=Role(role)) if role in list(Role) else None


class Stage:
    """The server, its courts, and what they say."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.club = Club(store, who)
        self.alive: dict[str, Alive] = {}
        self.courts: dict[str, hosts.Joined] = {}
        self._asked: list[Callable[[], Any]] = []
        self.url = ""
        self.app = make_app(self.club, ["127.0.0.1"], overview_of(self.club))
        self.club.works.append(self._say)

    async def _say(self) -> None:
        """In the server's own loop: signs of life, and whatever a test asks for."""
        at = 0
        while True:
            while self._asked:
                self._asked.pop(0)()
            if at % 10 == 0:
                for host, alive in self.alive.items():
                    self.club.presence.heard(host, alive)
            at += 1
            await anyio.sleep(0.02)

    def court(self, name: str) -> hosts.Joined:
        self.courts[name] = court(self.store, name)
        return self.courts[name]

    def plays(self, name: str, part: Part, first: int, last: int) -> None:
        """The court sends these of its lesson's events, and is heard."""
        joined = self.courts.get(name) or self.court(name)
        some = part.events[first - 1 : last]
        sent = Part(lesson=part.lesson, header=part.header, events=some)
        take_in(self.store, joined.host, [sent], time.time())
        self.alive[joined.host] = Alive(lesson=part.lesson)

    def says(self, name: str, kind: str, **data: object) -> int:
        """One event more of the court's lesson; its number."""
        host = self.courts[name].host
        ((lesson, held_so_far),) = held(self.store, host).items()
        event = Event(
            number=held_so_far + 1,
            utc_s=time.time(),
            kind=kind,
            launcher=None,
            data=json.dumps(data),
        )
        take_in(self.store, host, [Part(lesson=lesson, events=(event,))], time.time())
        return event.number

    def falls_silent(self, name: str) -> None:
        self.alive.pop(self.courts[name].host, None)

    def answers(self, name: str, *, stopped: bool | None, says: str = "") -> None:
        """The court has heard the STOP that was asked of it, or says what became of it."""
        host = self.courts[name].host

        def answer() -> None:
            for told in self.club.stopping.told():
                if told.host == host:
                    self.club.stopping.heard(host, told.order)
                    if stopped is not None:
                        ended = StopEnded(order=told.order, stopped=stopped, says=says)
                        self.club.stopping.ended(host, ended)

        self._asked.append(answer)


@contextmanager
def staged(folder: Path) -> Iterator[Stage]:
    """The server answers inside the context."""
    store = open_store(f"sqlite:///{folder / 'club.sqlite'}")
    stage = Stage(store)
    with socket() as listening:
        listening.bind(("127.0.0.1", 0))
        stage.url = f"http://127.0.0.1:{listening.getsockname()[1]}"
        config = uvicorn.Config(stage.app, log_level="error", ws="websockets-sansio")
        server = uvicorn.Server(config)
        thread = Thread(target=server.run, args=([listening],), name="standing server")
        thread.start()
        while not server.started:
            time.sleep(0.01)
        try:
            yield stage
        finally:
            server.should_exit = True
            thread.join()
            store.close()
    assert stage.club.fault is None
