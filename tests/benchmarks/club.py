"""What a club's server bears: live news and STOP with many courts, on one process with PostgreSQL.

    python -m tests.benchmarks.club [--courts 200] [--seconds 60] [--stops 30] [--pages 3]

PostgreSQL is a real one in a temporary folder, as durable as it comes; the server is
`feedscript club serve`, a process of its own; the courts are in another, each with its socket and
its sign of life twice a second, sending the events of a rehearsed lesson at their own pace, in one
request what happened at once. One more court is real: a lesson with a stand-in launcher on a
pseudo-terminal, in a process of its own, and the club's link beside it. Printed: events a second;
from a court's sending an event to a page's having it (median, 99th percentile); STOP from a page's
request to the launcher's acknowledgement told to the page; and the server's memory at a quarter and
at the end of the time.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import anyio
import httpx
import msgspec
import numpy as np
import psutil
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from feedscript.check.check_program import check_program
from feedscript.club.batch import MOST_EVENTS, Batch, Part
from feedscript.club.link.beside import OfLesson, beside_lesson
from feedscript.club.link.membership import Membership
from feedscript.club.link.outbox import Outbox
from feedscript.club.messages import ALIVE_S, EVENTS, LIVE, STOP
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


async def one_court(url: str, key: str, lesson: Part, number: int, share: float) -> None:
    """Play a lesson again and again, at first from this share of it on: each court another."""
    headers = {"Authorization": f"Bearer {key}"}
    limits = httpx.Limits(max_connections=1)
    async with (
        httpx.AsyncClient(base_url=url, headers=headers, limits=limits, timeout=30) as client,
        connect(url.replace("http", "ws", 1) + LIVE, additional_headers=headers) as line,
        asyncio.TaskGroup() as group,
    ):
        group.create_task(_alive(line))
        count = len(lesson.events)
        for turn in range(1000):
            first = int(share * count) if turn == 0 else 0
            await _play(client, lesson, f"{turn + 1}-{number:08x}", first)


async def _alive(line: ClientConnection) -> None:
    while True:
        await line.send('{"type": "alive"}')
        await line.recv()
        await asyncio.sleep(ALIVE_S)


async def _play(client: httpx.AsyncClient, lesson: Part, name: str, first: int) -> None:
    begun_s = time.monotonic() - lesson.events[first].utc_s
    events, sent = lesson.events[first:], 0
    while sent < len(events):
        await asyncio.sleep(begun_s + events[sent].utc_s - time.monotonic())
        until_s = max(time.monotonic() - begun_s, events[sent].utc_s)
        due = [one for one in events[sent : sent + MOST_EVENTS] if one.utc_s <= until_s]
        now = tuple(
            msgspec.structs.replace(one, number=sent + at, utc_s=time.time())
            for at, one in enumerate(due, 1)
        )
        part = Part(lesson=name, header=None if sent else lesson.header, events=now)
        sent += len(due)
        answer = await client.post(EVENTS, content=msgspec.json.encode(Batch((part,))))
        assert answer.status_code == 200, answer.text


class Asked(msgspec.Struct):
    """What the courts' process is given, in a file."""

    lesson: Part
    keys: list[str]


def courts(url: str, path: str) -> None:
    """The process of the courts."""
    asked = msgspec.json.decode(Path(path).read_bytes(), type=Asked)
    lesson, keys = asked.lesson, asked.keys

    async def main() -> None:
        async with asyncio.TaskGroup() as group:
            for number, key in enumerate(keys):
                group.create_task(one_court(url, key, lesson, number, number / len(keys)))
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
                    group.start_soon(AutoOperator(engine).operate)
                    print("ready", flush=True)
                    await anyio.sleep_forever()

    anyio.run(main)


@contextmanager
def process(*words: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", "tests.benchmarks.club", *words]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as started:
        try:
            yield started
        finally:
            started.terminate()


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
    found = []
    with served.news() as page:
        for _ in range(count):
            began = time.perf_counter()
            order = served.post(STOP, {"host": host})["order"]
            next_of(page, "stop", order=order, state="stopped")
            found.append(1000 * (time.perf_counter() - began))
            time.sleep(0.5)
    return found


def told(what: str, found_ms: list[float]) -> str:
    if not found_ms:
        return f"{what}: none"
    middle, most = np.percentile(found_ms, [50, 99])
    return f"{what}: median {middle:.1f} ms, 99 % {most:.1f} ms, most {max(found_ms):.1f} ms"


def memory_mb(served: Served) -> float:
    return float(psutil.Process(served.process.pid).memory_info().rss / 1e6)


def measure(chosen: argparse.Namespace, folder: Path, address: str) -> None:
    lesson, path = rehearsed(folder), folder / "asked.json"
    with serving(address) as served:
        keys = [served.join(f"court {number}")[1] for number in range(chosen.courts)]
        path.write_bytes(msgspec.json.encode(Asked(lesson, keys)))
        host, key = served.join("the real one")
        with (
            process("--as-courts", served.url, str(path)),
            process("--as-real-court", served.url, host, key) as real,
        ):
            assert real.stdout is not None
            assert real.stdout.readline() == "ready\n"
            time.sleep(5 + chosen.courts / 50)
            pages = [Watched(served, host) for _ in range(chosen.pages)]
            began, cpu = time.monotonic(), psutil.Process(served.process.pid).cpu_times()
            time.sleep(chosen.seconds / 4)
            early_mb = memory_mb(served)
            stops = stop_times_ms(served, host, chosen.stops)
            time.sleep(max(0.0, chosen.seconds - (time.monotonic() - began)))
            took_s, late_mb = time.monotonic() - began, memory_mb(served)
            used = psutil.Process(served.process.pid).cpu_times()
            for page in pages:
                page.close()
            heard = len(pages[0].late_ms)
            print(f"{chosen.courts} courts, {chosen.pages} pages, {took_s:.0f} s")
            print(f"  events a second: {heard / took_s:.1f}")
            busy = (used.user + used.system - cpu.user - cpu.system) / took_s
            print(f"  the server's processor: {100 * busy:.0f} % of one")
            late_ms = [late for page in pages for late in page.late_ms]
            print("  " + told("from a court to a page", late_ms))
            print("  " + told("STOP, page to launcher and back", stops))
            print(f"  the server's memory: {early_mb:.1f} MB, then {late_mb:.1f} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--courts", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--stops", type=int, default=30)
    parser.add_argument("--pages", type=int, default=3)
    parser.add_argument("--as-courts", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--as-real-court", nargs=3, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.as_courts:
        courts(*chosen.as_courts)
    elif chosen.as_real_court:
        real_court(*chosen.as_real_court)
    else:
        with tempfile.TemporaryDirectory(prefix="feedscript-pg-") as folder:
            server = Postgres(Path(folder))
            server.start()
            try:
                with tempfile.TemporaryDirectory() as own:
                    measure(chosen, Path(own), server.new_database())
            finally:
                server.stop("immediate")


if __name__ == "__main__":
    main()
