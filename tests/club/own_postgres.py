"""A PostgreSQL of a test's own, which may be killed, and whose disk may be full."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import psycopg

from tests.club.conftest import Postgres


def kill_postgres(server: Postgres) -> None:
    """The whole of it, at once, as when a machine loses its power; then it is started again."""
    first = (server.folder / "data" / "postmaster.pid").read_text().splitlines()[0]
    os.kill(int(first), signal.SIGKILL)
    start_again(server)


def start_again(server: Postgres) -> None:
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        try:
            (server.folder / "data" / "postmaster.pid").unlink(missing_ok=True)
            server.start("fsync=on")
            return
        except AssertionError:  # those it had begun are still ending
            time.sleep(0.2)
    raise AssertionError("PostgreSQL does not start again")


def start_recovering(server: Postgres) -> None:
    """As after a crash, for as long as one likes: it is there, replays its log and lets nobody in,
    until :func:`end_recovery`."""
    data = server.folder / "data"
    signal_file = data / "standby.signal"
    signal_file.touch()
    shutil.chown(signal_file, data.owner(), data.group())
    options = f"-c listen_addresses='' -c unix_socket_directories='{server.folder}'"
    log = str(server.folder / "log")
    as_standby = f"{options} -c hot_standby=off"
    server._run("pg_ctl", "-D", str(data), "-W", "-l", log, "-o", as_standby, "start")


def end_recovery(server: Postgres) -> None:
    server._run("pg_ctl", "-D", str(server.folder / "data"), "-W", "promote")


def fill_disk(server: Postgres, for_s: float) -> None:
    """Nothing more goes onto its disk for a while. It may give up then: somebody frees the disk
    and starts it again."""
    filler = server.folder / "filler"
    with filler.open("wb", buffering=0) as file, suppress(OSError):
        for size in (2**20, 2**12, 1):
            with suppress(OSError):
                while True:
                    file.write(bytes(size))
    time.sleep(for_s)
    filler.unlink()
    try:
        psycopg.connect(server.address("postgres"), connect_timeout=5).close()
    except psycopg.Error:
        with suppress(AssertionError):
            server.stop("immediate")
        start_again(server)


@contextmanager
def own_postgres(*settings: str, room_mb: int | None = None) -> Iterator[Postgres]:
    """One of our own; on a disk of its own, with so much room, where that is asked for."""
    folder = Path(tempfile.mkdtemp(prefix="feedscript-pg-"))
    with ExitStack() as at_the_end:
        at_the_end.callback(shutil.rmtree, folder, ignore_errors=True)
        if room_mb is not None:
            assert os.getuid() == 0, "a disk that can be filled is made by root alone"
            size = f"size={room_mb}m"
            subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", folder], check=True)
            at_the_end.callback(subprocess.run, ["umount", "-l", folder], check=True)
        server = Postgres(folder)
        server.start("fsync=on", *settings)
        try:
            yield server
        finally:
            with suppress(AssertionError):  # a test may have killed it
                server.stop("immediate")
