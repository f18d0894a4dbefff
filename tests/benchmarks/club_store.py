"""What lessons weigh in a club's store, and how many events a second one process writes there.

Run by hand: ``python -m tests.benchmarks.club_store [--lessons N]``. A shipped program is
rehearsed, and its journal's events are sent, as a court sends them, into a real PostgreSQL that
waits for the disk. Prints events of a lesson, the busiest second, the bytes of an event as it is
sent and as the store keeps it with its indexes, and events a second for batches of a few sizes.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
import psycopg

from feedscript.club.batch import Event, Header, Part
from feedscript.club.link.outbox import Outbox
from feedscript.club.store import hosts
from feedscript.club.store.log import take_in
from feedscript.club.store.store import Store, open_store
from feedscript.journal.store import read_journal
from tests.club.conftest import Postgres

PROGRAM = "wednesday-six"
BATCHES = (1, 3, 30, 300)


def rehearsed(folder: Path) -> tuple[Header, list[Event]]:
    """A whole lesson's head and events, as its court would send them."""
    path = folder / "journal.sqlite"
    command = [sys.executable, "-c", "from feedscript.cli import main; main()", "rehearse"]
    asked = [f"programs/{PROGRAM}.feed", "--results", "drawn", "--journal", str(path)]
    subprocess.run([*command, *asked], check=True, stdout=subprocess.DEVNULL)
    journal = read_journal(path)
    outbox, head, events = Outbox(journal, {}), None, []
    while (batch := outbox.next_batch()) is not None:
        (part,) = batch.parts
        head = head or part.header
        events += part.events
        outbox.acknowledge({part.lesson: events[-1].number})
    journal.close()
    assert head is not None
    return head, events


@contextmanager
def server() -> Iterator[Postgres]:
    folder = Path(tempfile.mkdtemp(prefix="feedscript-pg-"))
    try:
        postgres = Postgres(folder)
        postgres.start()
        yield postgres
        postgres.stop("immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def sent(store: Store, host: str, name: str, head: Header, events: list[Event], batch: int) -> None:
    for at in range(0, len(events), batch):
        some = tuple(events[at : at + batch])
        part = Part(lesson=name, header=head if at == 0 else None, events=some)
        take_in(store, host, [part], time.time())


def kept_bytes(address: str, table: str) -> int:
    with psycopg.connect(address) as connection:
        row = connection.execute("SELECT pg_total_relation_size(%s)", (table,)).fetchone()
    assert row is not None
    return int(row[0])


def told_lesson(head: Header, events: list[Event]) -> None:
    seconds = Counter(int(one.utc_s) for one in events)
    span_s = events[-1].utc_s - events[0].utc_s
    wire = sum(len(msgspec.json.encode(one)) for one in events) / len(events)
    rate = len(events) / span_s
    print(f"{PROGRAM}: {len(events)} events in {span_s / 60:.0f} min, {rate:.2f} a second,")
    print(
        f"  {max(seconds.values())} in the busiest second; {wire:.0f} bytes each as they are sent,"
    )
    print(f"  {len(msgspec.json.encode(head))} bytes for the lesson's head")


def measure(lessons: int) -> None:
    folder = Path(tempfile.mkdtemp())
    head, events = rehearsed(folder)
    shutil.rmtree(folder)
    told_lesson(head, events)
    with server() as postgres:
        address = postgres.new_database()
        store = open_store(address)
        joined = hosts.join(store, hosts.new_code(store, time.time() + 600.0), "court", time.time())
        number = 0
        for batch in BATCHES:
            began_s = time.perf_counter()
            for _ in range(lessons):
                number += 1
                sent(store, joined.host, f"{number}-0000beef", head, events, batch)
            took_s = time.perf_counter() - began_s
            print(f"  batches of {batch}: {lessons * len(events) / took_s:.0f} events a second")
        store.close()
        rows = number * len(events)
        kept = kept_bytes(address, "event") / rows
        print(f"  {kept:.0f} bytes an event in the store with its indexes,")
        print(f"  {kept_bytes(address, 'lesson') / number:.0f} bytes a lesson's head")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lessons", type=int, default=2)
    measure(parser.parse_args().lessons)
