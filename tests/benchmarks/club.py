"""What a club's server bears: live news and STOP with many courts, on one process with PostgreSQL.

    python -m tests.benchmarks.club [--courts 200] [--seconds 60] [--stops 30] [--pages 3]
                                    [--servers 1] [--speed 1] [--flat]

PostgreSQL is a real one in a temporary folder, as durable as it comes; each server is
`feedscript club serve`, a process of its own; the courts are in another, shared among the servers,
each with its socket and its sign of life twice a second, sending the events of a rehearsed lesson
through the door that real courts use, in one request what happened at once. `--speed 15` lets the
lessons run fifteen times as fast: four minutes are an hour of traffic then (as many events as the
lessons of an hour bring, as long as the server keeps up; what is in fact heard is printed). With
`--flat` it fails where a server's memory still grows in the second half. One more court is real:
a lesson with a stand-in launcher on a pseudo-terminal, in a process of its own, and the club's link
beside it; whenever it is stopped, its coach goes on. Printed: events a second; from a court's
sending an event to a page's having it (median, 99th percentile; the pages are at the last server);
STOP from a page's request to the launcher's acknowledgement told to the page (the real court is at
the first server); and each server's processor and memory as time goes on.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path

import anyio
import msgspec
import numpy as np
import psutil
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed

from feedscript.check.check_program import check_program
from feedscript.club.batch import MOST_EVENTS, Batch, Part
from feedscript.club.link.beside import OfLesson, beside_lesson
from feedscript.club.link.door import Door, NotHeardError, at_the_door
from feedscript.club.link.membership import Membership
from feedscript.club.link.outbox import Outbox
from feedscript.club.messages import ALIVE_S, LIVE, STOP, StopState
from feedscript.journal.store import open_journal, read_journal
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.start import Setting
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import program_path
from tests.benchmarks.console import PROGRAM, stand_in
from tests.club.conftest import Postgres
from tests.club.server.processes import Served, next_of, serving

REHEARSED = "thursday-juniors"
#: How often it is looked at memory while time goes on.
LOOKS = 16
#: So much more memory at the end than half way through is taken for flat, MB: what an allocator
#: keeps from one moment to the next. A server that kept the events it hears would grow by as many
#: as it heard. Design value.
FLAT_MB = 6.0
LAST_WORDS = (StopState.STOPPED, StopState.NOTHING, StopState.LOST)


def rehearsed(folder: Path) -> Part:
    """A whole lesson's events, as its court would send them."""
    verdict = check_program(program_path(REHEARSED))
    assert verdict.plan is not None
    path = folder / "rehearsed.sqlite"
    journal = open_journal(path)
    rehearse(verdict.plan, verdict.profiles, REHEARSED, journal=journal)
    journal.close()
    parts: list[Part] = []
    with closing(read_journal(path)) as read:
        outbox = Outbox(read, {})
        while outbox.look() and (batch := outbox.next_batch()) is not None:
            parts += batch.parts
            last = batch.parts[-1]
            outbox.acknowledge({last.lesson: last.events[-1].number})
    events = tuple(event for part in parts for event in part.events)
    return msgspec.structs.replace(parts[0], events=events)


class Asked(msgspec.Struct):
    """What the courts' process is given, in a file: the servers, and each court's key."""

    lesson: Part
    urls: list[str]
    keys: list[str]
    speed: float


class SimulatedCourt:
    """Plays a lesson again and again, at first from this share of it on: each court another."""

    def __init__(self, asked: Asked, number: int) -> None:
        self._lesson, self._speed = asked.lesson, asked.speed
        self._url, self._key = asked.urls[number % len(asked.urls)], asked.keys[number]
        self._number, self._share = number, number / len(asked.keys)

    async def run(self) -> None:
        async with at_the_door(self._url, key=self._key) as client, asyncio.TaskGroup() as group:
            group.create_task(self._alive())
            count = len(self._lesson.events)
            for turn in range(1000):
                first = int(self._share * count) if turn == 0 else 0
                await self._play(Door(client), f"{turn + 1}-{self._number:08x}", first)

    async def _alive(self) -> None:
        headers = {"Authorization": f"Bearer {self._key}"}
        address = self._url.replace("http", "ws", 1) + LIVE
        async for line in connect(address, additional_headers=headers):
            with suppress(ConnectionClosed):
                while True:
                    await line.send('{"type": "alive"}')
                    await line.recv()
                    await asyncio.sleep(ALIVE_S)

    async def _play(self, door: Door, name: str, first: int) -> None:
        def lesson_s() -> float:
            return self._speed * time.monotonic()

        begun_s = lesson_s() - self._lesson.events[first].utc_s
        events, sent = self._lesson.events[first:], 0
        while sent < len(events):
            await asyncio.sleep((begun_s + events[sent].utc_s - lesson_s()) / self._speed)
            until_s = max(lesson_s() - begun_s, events[sent].utc_s)
            due = [one for one in events[sent : sent + MOST_EVENTS] if one.utc_s <= until_s]
            now = tuple(
                msgspec.structs.replace(one, number=sent + at, utc_s=time.time())
                for at, one in enumerate(due, 1)
            )
            header = None if sent else self._lesson.header
            await _brought(door, Part(lesson=name, header=header, events=now))
            sent += len(due)


async def _brought(door: Door, part: Part) -> None:
    while True:
        try:
            await door.send(Batch((part,)))
            return
        except NotHeardError as trouble:
            print(f"not heard: {trouble.diagnostic.message}", file=sys.stderr)
            await asyncio.sleep(0.5)


def courts(path: str) -> None:
    """The process of the courts."""
    asked = msgspec.json.decode(Path(path).read_bytes(), type=Asked)

    async def main() -> None:
        async with asyncio.TaskGroup() as group:
            for number in range(len(asked.keys)):
                group.create_task(SimulatedCourt(asked, number).run())
                await asyncio.sleep(0.01)

    asyncio.run(main())


def real_court(url: str, host: str, key: str) -> None:
    """The process of the real court: a lesson that is stopped as often as somebody stops it."""

    async def main() -> None:
        verdict = check_program(Path("benchmark.feed"), text=PROGRAM.format(balls=70))
        assert verdict.plan is not None
        with tempfile.TemporaryDirectory() as folder, stand_in() as launcher:
            path = Path(folder) / "journal.sqlite"
            setting = Setting(source="benchmark", rehearsal=False, wall_utc_s=time.time())
            links = Links(urls=(launcher,))
            async with connect_lesson(
                verdict.plan, verdict.profiles, links, open_journal(path), setting
            ) as engine:
                of = OfLesson(journal=path, session_id=engine.lesson.session_id)
                member = Membership(url=url, host=host, key=key, name="the real one")
                async with beside_lesson(engine, of, member), anyio.create_task_group() as group:
                    group.start_soon(engine.run)
                    group.start_soon(AutoOperator(engine, fixes=10**6).operate)
                    print("ready", flush=True)
                    await anyio.sleep_forever()

    anyio.run(main)


@contextmanager
def process(*words: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", "tests.benchmarks.club", *words]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as started:
        try:
            yield started
        finally:  # and its launcher, which would wait for a host for ever
            os.killpg(started.pid, signal.SIGKILL)


class Watched:
    """What one page hears, in a thread of its own."""

    def __init__(self, served: Served, but: str) -> None:
        self.late_ms: list[float] = []
        self._but = but  # its clock says when something happened, not when it was sent
        self._socket = served.news()
        self._thread = threading.Thread(target=self._hear)
        self._thread.start()

    def _hear(self) -> None:
        with suppress(ConnectionClosed):
            for raw in self._socket:
                now = time.time()
                told = json.loads(raw)
                if told["type"] == "happened" and told["host"] != self._but:
                    self.late_ms += [1000 * (now - one["utc_s"]) for one in told["events"]]

    def close(self) -> None:
        self._socket.close()
        self._thread.join()


def stop_times_ms(served: Served, host: str, count: int) -> list[float]:
    """How long each STOP took that stopped something; what became of the others is printed."""
    found = []
    with served.news() as page:
        for _ in range(count):
            began = time.perf_counter()
            order = served.post(STOP, {"host": host})["order"]
            ended = next_of(page, "stop", order=order)
            while ended["state"] not in LAST_WORDS:
                ended = next_of(page, "stop", order=order)
            if ended["state"] == StopState.STOPPED:
                found.append(1000 * (time.perf_counter() - began))
            else:
                print(f"  a STOP ended as {ended['state']}: {ended['says']}")
            time.sleep(1.0)
    return found


def told(what: str, found_ms: list[float]) -> str:
    if not found_ms:
        return f"{what}: none"
    middle, most = np.percentile(found_ms, [50, 99])
    return f"{what}: median {middle:.1f} ms, 99 % {most:.1f} ms, most {max(found_ms):.1f} ms"


class Load:
    """What the servers' processes take, looked at as time goes on."""

    def __init__(self, servers: list[Served], seconds: float) -> None:
        self._processes = [psutil.Process(one.process.pid) for one in servers]
        self._began_s, self._seconds = time.monotonic(), seconds
        self._cpu_s = self._used_s()
        self._mb: list[list[float]] = []
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def _used_s(self) -> list[float]:
        return [sum(one.cpu_times()[:2]) for one in self._processes]

    def _look(self) -> None:
        for at in range(LOOKS):
            time.sleep(max(0.0, self._began_s + at * self._seconds / LOOKS - time.monotonic()))
            self._mb.append([one.memory_info().rss / 1e6 for one in self._processes])

    def told(self) -> Iterator[str]:
        took_s = time.monotonic() - self._began_s
        for at, (now, before) in enumerate(zip(self._used_s(), self._cpu_s, strict=True)):
            memory = ", ".join(f"{look[at]:.1f}" for look in self._mb)
            yield f"server {at + 1}: processor {100 * (now - before) / took_s:.0f} % of one"
            yield f"server {at + 1}: memory in MB, as time goes on: {memory}"

    def grown_mb(self) -> list[float]:
        """By how much each server's memory grew in the second half: the median of its last quarter
        less that of the quarter before."""
        quarter = LOOKS // 4
        looks = np.array(self._mb)
        last, before = looks[-quarter:], looks[-2 * quarter : -quarter]
        return [float(one) for one in np.median(last, axis=0) - np.median(before, axis=0)]


def measure(chosen: argparse.Namespace, folder: Path, address: str) -> list[float]:
    """Print what was measured; by how much each server's memory grew, in MB."""
    path = folder / "asked.json"
    with ExitStack() as stack:
        servers = [stack.enter_context(serving(address)) for _ in range(chosen.servers)]
        first, last = servers[0], servers[-1]
        keys = [first.join(f"court {number}")[1] for number in range(chosen.courts)]
        urls = [one.url for one in servers]
        path.write_bytes(msgspec.json.encode(Asked(rehearsed(folder), urls, keys, chosen.speed)))
        host, key = first.join("the real one")
        real = stack.enter_context(process("--as-real-court", first.url, host, key))
        stack.enter_context(process("--as-courts", str(path)))
        assert real.stdout is not None
        assert real.stdout.readline() == "ready\n"
        time.sleep(5 + chosen.courts / 50)
        pages = [Watched(last, host) for _ in range(chosen.pages)]
        load, began = Load(servers, chosen.seconds), time.monotonic()
        time.sleep(chosen.seconds / 4)
        stops = stop_times_ms(last, host, chosen.stops)
        time.sleep(max(0.0, chosen.seconds - (time.monotonic() - began)))
        took_s, found, grown_mb = time.monotonic() - began, list(load.told()), load.grown_mb()
        for page in pages:
            page.close()
    heard, late_ms = len(pages[0].late_ms), [late for page in pages for late in page.late_ms]
    print(f"{chosen.courts} courts, {chosen.pages} pages, {took_s:.0f} s, {chosen.speed:g} x")
    print(f"  events a second: {heard / took_s:.1f}; in all {heard}")
    print("  " + told("from a court to a page", late_ms))
    print("  " + told("STOP, page to launcher and back", stops))
    print("\n".join(f"  {one}" for one in found))
    print(f"  grown in the second half, in MB: {', '.join(f'{one:.1f}' for one in grown_mb)}")
    return grown_mb


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--courts", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--stops", type=int, default=30)
    parser.add_argument("--pages", type=int, default=3)
    parser.add_argument("--servers", type=int, default=1)
    parser.add_argument("--speed", type=float, default=1.0)
    parser.add_argument("--flat", action="store_true")
    parser.add_argument("--as-courts", help=argparse.SUPPRESS)
    parser.add_argument("--as-real-court", nargs=3, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.as_courts:
        courts(chosen.as_courts)
    elif chosen.as_real_court:
        real_court(*chosen.as_real_court)
    else:
        with tempfile.TemporaryDirectory(prefix="feedscript-pg-") as folder:
            server = Postgres(Path(folder))
            server.start()
            try:
                with tempfile.TemporaryDirectory() as own:
                    grown_mb = measure(chosen, Path(own), server.new_database())
            finally:
                server.stop("immediate")
        if chosen.flat and max(grown_mb) > FLAT_MB:
            sys.exit(f"the memory of a server grows: {max(grown_mb):.1f} MB in the second half")


if __name__ == "__main__":
    main()
