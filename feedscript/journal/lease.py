"""One host a lesson: whoever runs it holds its lease, and nobody else takes it up meanwhile.

A lesson that still runs looks in the journal just like one that was broken off. A second host would
ask a person about balls that are under way, and write "not sent" over one that then flew. The lease
is a lock of the operating system on a file beside the journal: it ends with the process that holds
it, however that ends, and never before.
"""

from __future__ import annotations

import glob
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.host import locking
from feedscript.journal.store import reported

LESSON_RUNS = Page(
    slug="lesson-runs",
    title="The lesson is being run by another process",
    why=(
        "A lesson has one host at a time. Two would each take the other's balls for lost ones, and "
        "the journal would hold what is not so. The lesson is free again as soon as the process "
        "that runs it has ended, also when it was killed."
    ),
)


class Holder(msgspec.Struct, frozen=True, kw_only=True):
    """Who runs a lesson."""

    process: int
    machine: str
    since_utc_s: float


@contextmanager
def lease(journal_path: str, session_id: int, utc_s: float) -> Iterator[None]:
    """Hold the lease of a lesson; a journal in memory is nobody else's and needs none.

    Raises FeedscriptError (``lesson-runs``) that names who holds it.
    """
    if journal_path == ":memory:":
        yield
        return
    path = lease_path(journal_path, session_id)
    with reported(journal_path):
        descriptor = locking.hold(path)
    if descriptor is None:
        raise _refused(path, session_id)
    try:
        holder = Holder(process=os.getpid(), machine=socket.gethostname(), since_utc_s=utc_s)
        locking.write_holder(descriptor, msgspec.json.encode(holder))
        yield
    finally:
        locking.release(path, descriptor)


def lease_path(journal_path: str, session_id: int) -> Path:
    """The file that is locked while this lesson runs."""
    return Path(f"{journal_path}-lesson-{session_id}.lock")


def is_running(journal_path: Path) -> bool:
    """Whether somebody holds the lease of any lesson of this journal. Raises FeedscriptError."""
    with reported(str(journal_path)):
        found = journal_path.parent.glob(f"{glob.escape(journal_path.name)}-lesson-*.lock")
        return any(map(locking.is_held, found))


def _refused(path: Path, session_id: int) -> FeedscriptError:
    who, stop = "another process", "end it there"
    with suppress(OSError, msgspec.MsgspecError):
        holder = msgspec.json.decode(path.read_bytes(), type=Holder)
        since = datetime.fromtimestamp(holder.since_utc_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
        who = f"process {holder.process} on {holder.machine} since {since}"
        stop = f"end it there (process {holder.process})"
    return FeedscriptError(
        LESSON_RUNS.report(
            f"lesson {session_id} is being run by {who}",
            device=str(path),
            help=f"go on at its own terminal or page, or {stop}; another lesson is resumed with "
            "--lesson NUMBER",
        )
    )
