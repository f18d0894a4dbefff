"""Invented lessons in a court's journal, and whether a club holds the same."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import msgspec

from feedscript.club.store.log import Position, after
from feedscript.club.store.store import Store
from feedscript.journal.store import Journal, SessionStart


def begin(journal: Journal, token: int, title: str = "invented") -> int:
    return journal.begin_session(
        SessionStart(
            token=token,
            begun_utc_s=1.8e9,
            title=title,
            source="invented.feed",
            rehearsal=False,
            plan=b'{"plan": 1}',
            group_json="[]",
            event_format=2,
        )
    )


def write(journal: Journal, session_id: int, count: int, *, seed: int = 0) -> None:
    """So many entries more; a clock that runs backwards by a day now and then is in it."""
    draw = random.Random(f"{seed} {session_id} {count}")
    with journal.together():
        for at in range(count):
            utc_s = 1.8e9 + at + draw.random() + draw.choice((0.0, 0.0, -86_400.0, 86_400.0))
            data = {"text": "x" * draw.randrange(40), "utc_s": utc_s}
            journal.note(session_id, utc_s, "call", data, draw.choice((None, 0)))


def in_journal(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Each lesson's entries by its name; read past the product's own code."""
    found: dict[str, list[tuple[object, ...]]] = {}
    with closing(sqlite3.connect(path)) as file:
        sessions = file.execute("SELECT id, token FROM session").fetchall()
        for number, token in sessions:
            rows = file.execute(
                "SELECT utc_s, kind, launcher, data FROM entry WHERE session_id = ? ORDER BY id",
                (number,),
            ).fetchall()
            if rows:
                found[f"{number}-{token:08x}"] = [(n, *row) for n, row in enumerate(rows, 1)]
    return found


def in_log(store: Store, host: str) -> dict[str, list[tuple[object, ...]]]:
    """The same as the club has it, in the order of its log: one that came twice is there twice."""
    found: dict[str, list[tuple[object, ...]]] = {}
    position = Position()
    while True:
        read = after(store, position, 1000)
        events, position = read.events, read.position
        if not events:
            return found
        for one in events:
            if one.host == host:
                event = msgspec.structs.astuple(one.event)
                found.setdefault(one.lesson, []).append(event)
