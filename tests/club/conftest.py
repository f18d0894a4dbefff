"""A real PostgreSQL for the whole run of a process, and a fresh store on either database."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import psycopg
import pytest

from feedscript.club.store.store import Store, open_store

#: Debian keeps the server's programs off the path.
PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
_NUMBER = count(1)


class Postgres:
    """A server of our own in a folder of its own, reached by its socket alone."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
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


def new_address(kind: str, request: pytest.FixtureRequest, folder: Path) -> str:
    """Where a store may be made that is not there yet."""
    if kind == "sqlite":
        return f"sqlite:///{folder / 'club.sqlite'}"
    server = request.getfixturevalue("postgres")
    assert isinstance(server, Postgres)
    return server.new_database()


@pytest.fixture(params=["sqlite", "postgres"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """One on each database in turn."""
    return new_address(request.param, request, tmp_path)


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    opened = open_store(address)
    yield opened
    opened.close()
