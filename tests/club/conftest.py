"""A real PostgreSQL for the whole run of a process, and a fresh store on either database."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import psycopg
import pytest

from feedscript.club import answers
from feedscript.club.desks import coach_desk, gate, reviews
from feedscript.club.link import listener
from feedscript.club.overview import pages as overview
from feedscript.club.people.pages import answers as exported
from feedscript.club.server import host_socket, page_socket
from feedscript.club.store.store import Store, open_store
from tests.documents.held import strays
from tests.documents.overheard import Overheard

#: Debian keeps the server's programs off the path.
PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
_NUMBER = count(1)


class Postgres:
    """A server of our own in a folder of its own, reached by its socket alone."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._done_with: list[str] = []
        # It refuses to run as root; the package brings an account for it.
        self.user = "postgres" if os.getuid() == 0 else getpass.getuser()
        if os.getuid() == 0:
            account = pwd.getpwnam(self.user)
            os.chown(folder, account.pw_uid, account.pw_gid)
        self._run("initdb", "-D", str(folder / "data"), "-A", "trust", "--no-sync", "-E", "UTF8")

    def _run(self, program: str, *arguments: str) -> None:
        as_user = {"user": self.user, "group": self.user} if os.getuid() == 0 else {}
        done = subprocess.run(
            [str(PROGRAMS[-1] / program), *arguments],
            cwd=self.folder,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            **({**as_user, "extra_groups": []} if as_user else {}),
        )
        assert done.returncode == 0, done.stderr.decode()

    def start(self, *settings: str) -> None:
        asked = ("listen_addresses=''", f"unix_socket_directories='{self.folder}'", *settings)
        options = " ".join(f"-c {one}" for one in asked)
        log = str(self.folder / "log")
        self._run(
            "pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", log, "-o", options, "start"
        )

    def stop(self, how: str = "fast") -> None:
        self._control("stop", "-m", how)

    def _control(self, what: str, *arguments: str) -> None:
        self._run("pg_ctl", what, "-w", "-D", str(self.folder / "data"), *arguments)

    def address(self, database: str) -> str:
        return f"postgresql://{self.user}@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """The address of an empty database."""
        name = f"club_{next(_NUMBER)}"
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE template0")
        return self.address(name)

    @contextmanager
    def new_store(self) -> Iterator[str]:
        """The address of a store that holds nothing yet: one that is done with, emptied, for making
        one takes long."""
        if self._done_with:
            address = self._done_with.pop()
            _empty(address)
        else:
            address = self.new_database()
            open_store(address).close()
        yield address
        self._done_with.append(address)


def _empty(address: str) -> None:
    with psycopg.connect(address, autocommit=True) as connection:
        named = connection.execute(
            "SELECT string_agg(quote_ident(tablename), ', ') FROM pg_tables"
            " WHERE schemaname = 'public' AND tablename <> 'alembic_version'"
        ).fetchone()
        assert named is not None
        connection.execute(f"TRUNCATE {named[0]} RESTART IDENTITY CASCADE")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    assert PROGRAMS, "the tests need Debian's package postgresql: make install-debian"
    # A socket's path may have some hundred characters only: not under pytest's own folder.
    folder = Path(tempfile.mkdtemp(prefix="feedscript-pg-"))
    try:
        server = Postgres(folder)
        server.start("fsync=off", "full_page_writes=off")
        yield server
        server.stop("immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store in a file that holds nothing yet, to be copied: making one takes long."""
    path = tmp_path_factory.mktemp("club") / "club.sqlite"
    open_store(path).close()
    return path


@pytest.fixture
def address(request: pytest.FixtureRequest, made: Path, tmp_path: Path) -> Iterator[str]:
    """Of a store that holds nothing yet: in a file, and on PostgreSQL where a test says so.

    What the databases do alike is shown on one of them."""
    if getattr(request, "param", "sqlite") == "sqlite":
        shutil.copy(made, tmp_path / "club.sqlite")
        yield f"sqlite:///{tmp_path / 'club.sqlite'}"
        return
    server = request.getfixturevalue("postgres")
    assert isinstance(server, Postgres)
    with server.new_store() as made_before:
        yield made_before


#: For a test that has something to show on each database, or on PostgreSQL alone.
BOTH = pytest.mark.parametrize("address", ["sqlite", "postgres"], indirect=True)
ON_POSTGRES = pytest.mark.parametrize("address", ["postgres"], indirect=True)


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    with closing(open_store(address)) as opened:
        yield opened


@pytest.fixture(autouse=True)
def said_as_the_schemas_say(not_as_its_schema_says: list[str]) -> Iterator[None]:
    """What servers, courts and pages of a test's own process say to each other, and what the club
    exports of a person: held to the schemas, as all that commands print."""
    with pytest.MonkeyPatch.context() as patch:
        for module in (
            answers,
            host_socket,
            page_socket,
            listener,
            overview,
            coach_desk,
            gate,
            reviews,
        ):
            patch.setattr(module, "msgspec", Overheard(not_as_its_schema_says))
        as_text = exported.as_text

        def written(found: Any) -> str:
            not_as_its_schema_says.extend(strays(found))
            return as_text(found)

        patch.setattr(exported, "as_text", written)
        yield
