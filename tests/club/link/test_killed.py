"""Court, server and database die at any instant, again and again, or their disk is full: each event
is in the club once and in order, and the club's log is the court's journal."""

from __future__ import annotations

import os
import random
import resource
import signal
import socket
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import psycopg
import pytest

from feedscript.club.link.acknowledged import acknowledged_path
from feedscript.club.store.store import Store, open_store
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import open_journal
from tests.club.conftest import Postgres
from tests.club.lessons import court
from tests.club.link.forge import Command, Forge, forge
from tests.club.link.journals import begin, in_journal, in_log, write
from tests.club.own_postgres import fill_disk, kill_postgres, own_postgres

pytestmark = [pytest.mark.long, pytest.mark.timeout(0)]

#: A server on a store and a port, as its own process.
SERVER = """
import sys, time, uvicorn
from feedscript.diagnostics import FeedscriptError
from starlette.applications import Starlette
from feedscript.club.intake import Intake
from feedscript.club.store.store import open_store
while True:  # as whoever looks after it starts it again while its database comes up
    try:
        store = open_store(sys.argv[1])
        break
    except FeedscriptError:
        time.sleep(0.1)
app = Starlette(routes=Intake(store).routes())
uvicorn.run(app, port=int(sys.argv[2]), log_level="error")
"""
#: A court that sends until nothing waits; it is tried again until it has.
COURT = """
import sys, anyio
from pathlib import Path
from feedscript.club.link import sender
from feedscript.club.link.acknowledged import keeper, read_acknowledged
from feedscript.club.link.door import Door, NotHeardError, at_the_door
from feedscript.club.link.outbox import Outbox
from feedscript.journal.store import read_journal
url, host, key, path = sys.argv[1:]
async def main():
    journal, known = read_journal(Path(path)), read_acknowledged(Path(path), host)
    outbox = Outbox(journal, known.held, known.elsewhere)
    async with at_the_door(url, "", key) as client:
        sends = sender.Sender(Door(client), outbox, keeper(Path(path), known))
        while True:
            try:
                await sends.ask()
                await sends.send_what_waits()
                print("sent", flush=True)
            except NotHeardError:
                pass
            await anyio.sleep(0.02)
anyio.run(main)
"""

#: How often each of them is struck.
TIMES = int(os.environ.get("STRUCK", "100"))


class World:
    """A court, a server and a store, each a process that may be killed."""

    def __init__(
        self, folder: Path, address: str, forge: Forge, postgres: Postgres | None = None
    ) -> None:
        self.forge = forge
        self.draw = random.Random(str(address.partition(":")[0]))
        self.folder, self.address, self.postgres = folder, address, postgres
        self.store: Store = open_store(address)
        self.joined = court(self.store)
        self.path = folder / "journal.sqlite"
        self.journal = open_journal(self.path)
        self.lessons = [begin(self.journal, token) for token in (5, 6)]
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.running: dict[str, int] = {}

    def start(self, what: str) -> None:
        program, words = SERVER, [self.address, str(self.port)]
        if what == "court":
            url = f"http://127.0.0.1:{self.port}"
            program = COURT
            words = [url, self.joined.host, self.joined.key, str(self.path)]
        self.running[what] = self.forge.begin(Command(program=program, words=words))

    def kill(self, what: str) -> None:
        """kill -9, at whatever it is doing."""
        if what == "database":
            assert self.postgres is not None
            kill_postgres(self.postgres)
            return
        process = self.running.pop(what)
        os.kill(process, signal.SIGKILL)
        assert self.forge.wait(process) == -signal.SIGKILL

    def has_no_room(self, what: str, most_bytes: int | None) -> None:
        """No file that it writes may become longer; None: again as long as it likes."""
        most = resource.RLIM_INFINITY if most_bytes is None else most_bytes
        limits = (most, resource.RLIM_INFINITY)
        resource.prlimit(self.running[what], resource.RLIMIT_FSIZE, limits)

    def size_of_store(self) -> int:
        path = Path(self.address.removeprefix("sqlite:///"))
        log = path.with_name(f"{path.name}-wal")
        return log.stat().st_size if log.exists() else 0

    def is_the_same(self) -> bool:
        with suppress(FeedscriptError):
            return in_log(self.store, self.joined.host) == in_journal(self.path)
        return False

    def comes_to_the_same(self) -> None:
        deadline = time.monotonic() + 60
        while not self.is_the_same() and time.monotonic() < deadline:
            time.sleep(0.1)
        assert in_log(self.store, self.joined.host) == in_journal(self.path)

    def end(self) -> None:
        for what in list(self.running):
            self.kill(what)
        self.journal.close()
        self.store.close()


def a_bad_hour(world: World, strikes: list[tuple[str, str]]) -> None:
    """Somebody writes all the time, and one of them is struck at a random instant, each as often
    as it is to be."""
    for what in ("server", "court"):
        world.start(what)
    drawn = strikes * TIMES
    world.draw.shuffle(drawn)
    for what, strike in drawn:
        for lesson in world.lessons:
            count, seed = world.draw.randrange(1, 40), world.draw.randrange(10**6)
            write(world.journal, lesson, count, seed=seed)
        time.sleep(world.draw.uniform(0.0, 0.8))
        if strike == "killed":
            world.kill(what)
            if what != "database":
                world.start(what)
        else:
            full(world, what)
    world.comes_to_the_same()


def full(world: World, what: str) -> None:
    """Its disk is full for a while."""
    for_s = world.draw.uniform(0.1, 0.8)
    if what == "database":
        assert world.postgres is not None
        fill_disk(world.postgres, for_s)
        return
    world.has_no_room(what, world.size_of_store() if what == "server" else 1)
    for lesson in world.lessons:
        write(world.journal, lesson, 40, seed=world.draw.randrange(10**6))
    time.sleep(for_s)
    world.has_no_room(what, None)


@pytest.fixture(scope="module")
def forged() -> Iterator[Forge]:
    with forge() as made:
        yield made


def test_what_is_killed_or_has_a_full_disk_loses_and_doubles_nothing(
    tmp_path: Path, forged: Forge
) -> None:
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", forged)
    try:
        a_bad_hour(
            world,
            [("server", "killed"), ("court", "killed"), ("server", "full"), ("court", "full")],
        )
    finally:
        world.end()


def test_what_is_killed_or_has_a_full_disk_loses_and_doubles_nothing_on_postgresql(
    tmp_path: Path, forged: Forge
) -> None:
    with own_postgres(room_mb=200) as server:
        world = World(tmp_path, server.new_database(), forged, server)
        try:
            victims = ("server", "court", "database")
            a_bad_hour(world, [*((one, "killed") for one in victims), ("database", "full")])
        finally:
            world.end()


def test_a_store_that_stays_full_takes_nothing_and_nothing_is_given_up(
    tmp_path: Path, forged: Forge
) -> None:
    """As long as it is full the club has less; the fault that the others strike is a real one."""
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", forged)
    try:
        world.start("server")
        world.has_no_room("server", 300_000)
        for lesson in world.lessons:
            write(world.journal, lesson, 2000)
        world.start("court")
        time.sleep(6.0)
        assert not world.is_the_same()
        world.has_no_room("server", None)
        world.comes_to_the_same()
    finally:
        world.end()


def test_a_court_that_can_write_nothing_down_asks_the_club_what_it_has(
    tmp_path: Path, forged: Forge
) -> None:
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", forged)
    try:
        world.start("server")
        world.start("court")
        world.has_no_room("court", 1)
        for _ in range(5):
            for lesson in world.lessons:
                write(world.journal, lesson, 20)
            time.sleep(0.5)
        world.comes_to_the_same()
        assert not acknowledged_path(world.path).exists()
    finally:
        world.end()


def test_postgres_is_reached_again_after_it_was_killed() -> None:
    """The tests' own way of killing it does kill it, and brings the same data back."""
    with own_postgres() as server:
        address = server.new_database()
        with closing(psycopg.connect(address, autocommit=True)) as connection:
            connection.execute("CREATE TABLE kept (n integer)")
            connection.execute("INSERT INTO kept VALUES (7)")
            kill_postgres(server)
            with pytest.raises(psycopg.Error):
                connection.execute("SELECT n FROM kept")
        with closing(psycopg.connect(address)) as again:
            assert again.execute("SELECT n FROM kept").fetchall() == [(7,)]
