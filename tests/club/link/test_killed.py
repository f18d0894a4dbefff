"""Court, server and database die at any instant, again and again: each event is in the club once
and in order, and the club's log is the court's journal."""

from __future__ import annotations

import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import psycopg
import pytest

from feedscript.club.link.acknowledged import acknowledged_path
from feedscript.club.store.store import Store, open_store
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import open_journal
from tests.club.conftest import Postgres
from tests.club.lessons import court
from tests.club.link.journals import begin, in_journal, in_log, write

#: A server on a store and a port, as its own process.
SERVER = """
import sys, uvicorn
from starlette.applications import Starlette
from feedscript.club.intake import Intake
from feedscript.club.store.store import open_store
store = open_store(sys.argv[1])
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

#: No file may become longer.
FULL = """
import resource, signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
"""


class World:
    """A court, a server and a store, each a process that may be killed."""

    def __init__(self, folder: Path, address: str, seed: int, postgres: Postgres | None) -> None:
        self.draw = random.Random(seed)
        self.folder, self.address, self.postgres = folder, address, postgres
        self.store: Store = open_store(address)
        self.joined = court(self.store)
        self.path = folder / "journal.sqlite"
        self.journal = open_journal(self.path)
        self.lessons = [begin(self.journal, token) for token in (5, 6)]
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def start(self, what: str, before: str = "") -> None:
        if what == "server":
            words = [before + SERVER, self.address, str(self.port)]
        else:
            url = f"http://127.0.0.1:{self.port}"
            words = [before + COURT, url, self.joined.host, self.joined.key, str(self.path)]
        self.running[what] = subprocess.Popen(
            [sys.executable, "-c", *words],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def kill(self, what: str) -> None:
        """kill -9, at whatever it is doing."""
        if what == "database":
            assert self.postgres is not None
            kill_postgres(self.postgres)
            return
        process = self.running.pop(what)
        process.send_signal(signal.SIGKILL)
        process.wait()

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


def kill_postgres(server: Postgres) -> None:
    """The whole of it, at once, as when a machine loses its power; then it is started again."""
    first = (server.folder / "data" / "postmaster.pid").read_text().splitlines()[0]
    os.kill(int(first), signal.SIGKILL)
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline:
        try:
            (server.folder / "data" / "postmaster.pid").unlink(missing_ok=True)
            server.start("fsync=on")
            return
        except AssertionError:  # those it had begun are still ending
            time.sleep(0.2)
    raise AssertionError("PostgreSQL does not start again")


@contextmanager
def own_postgres() -> Iterator[Postgres]:
    folder = Path(tempfile.mkdtemp(prefix="feedscript-pg-"))
    try:
        server = Postgres(folder)
        server.start("fsync=on")
        yield server
        with suppress(AssertionError):
            server.stop("immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def a_bad_hour(world: World, kills: int) -> None:
    """Somebody writes all the time, and one of them dies at a random instant, so many times."""
    for what in ("server", "court"):
        world.start(what)
    victims = ["server", "court"] + (["database"] if world.postgres is not None else [])
    for _ in range(kills):
        for lesson in world.lessons:
            write(
                world.journal, lesson, world.draw.randrange(1, 40), seed=world.draw.randrange(10**6)
            )
        time.sleep(world.draw.uniform(0.0, 0.8))
        victim = world.draw.choice(victims)
        world.kill(victim)
        if victim != "database":
            world.start(victim)
    world.comes_to_the_same()


@pytest.mark.long
def test_a_server_and_a_court_that_are_killed_lose_and_double_nothing(tmp_path: Path) -> None:
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", 1, None)
    try:
        a_bad_hour(world, 2)
    finally:
        world.end()


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_a_hundred_kills_on_sqlite(tmp_path: Path) -> None:
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", 2, None)
    try:
        a_bad_hour(world, 100)
    finally:
        world.end()


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_a_hundred_kills_of_court_server_and_postgresql(tmp_path: Path) -> None:
    with own_postgres() as server:
        world = World(tmp_path, server.new_database(), 3, server)
        try:
            a_bad_hour(world, 100)
        finally:
            world.end()


@pytest.mark.long
def test_a_full_disk_at_the_club_loses_nothing(tmp_path: Path) -> None:
    """Its store cannot grow any more (RLIMIT_FSIZE), and then it can."""
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", 4, None)
    try:
        for lesson in world.lessons:
            write(world.journal, lesson, 2000)
        world.start("server", FULL)
        world.start("court")
        time.sleep(6.0)
        assert not world.is_the_same()
        world.kill("server")
        world.start("server")
        world.comes_to_the_same()
    finally:
        world.end()


@pytest.mark.long
def test_a_full_disk_at_the_court_loses_nothing(tmp_path: Path) -> None:
    """Its small file cannot be written: what the club has it is told by the club."""
    world = World(tmp_path, f"sqlite:///{tmp_path / 'club.sqlite'}", 5, None)
    try:
        world.start("server")
        world.start("court", FULL.replace("300_000", "1"))
        for _ in range(5):
            for lesson in world.lessons:
                write(world.journal, lesson, 20)
            time.sleep(0.5)
        world.comes_to_the_same()
        assert not acknowledged_path(world.path).exists()
    finally:
        world.end()


@pytest.mark.long
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
