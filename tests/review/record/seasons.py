"""Invented players over many lessons, kept in journals as the engine keeps them."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType

import msgspec

from feedscript.journal.store import Journal, SessionStart, open_journal
from tests.review.calendar import FIRST_UTC_S, WEEK_S, write_ball

ERRORS = ("net", "long", "left", "right")
BALLS_A_SERIES = 6


def write_week(
    journal: Journal,
    week: int,
    results: Mapping[str, Sequence[str | None]],
    *,
    title: str = "",
    feed: str = "deep",
    rehearsal: bool = False,
    left_handed: Sequence[str] = (),
    speaks: Mapping[str, str] = MappingProxyType({}),
) -> int:
    """One lesson: each player's balls in series of six, one player after the other."""
    begun = FIRST_UTC_S + week * WEEK_S
    players = [
        {"name": p, "left_handed": p in left_handed, "language": speaks.get(p)} for p in results
    ]
    group = {"players": players}
    feeds = [{"name": feed, "wish": feed.partition(" #")[0], "landing_m": [1.0, 9.0]}]
    plan = msgspec.json.encode({"seed": 1, "group": group, "feeds": feeds})
    number = journal.begin_session(
        SessionStart(
            token=1000 + week,
            begun_utc_s=begun,
            title=title or f"Week {week} (invented)",
            source="",
            rehearsal=rehearsal,
            plan=plan,
            group_json=msgspec.json.encode(group).decode(),
        )
    )
    now, feed_id = begun, 0
    for player, made in results.items():
        for at, result in enumerate(made):
            now += 30.0 if at % BALLS_A_SERIES == 0 else 4.0
            feed_id += 1
            write_ball(journal, number, feed_id, now, player, feed, result)
    journal.end_session(number, "finished", now + 10.0)
    return number


def drawn(chance: random.Random, share: float, balls: int) -> list[str | None]:
    """Results of some balls, in court with this chance."""
    return ["in" if chance.random() < share else chance.choice(ERRORS) for _ in range(balls)]


def quick(path: Path) -> Journal:
    """A journal of a test: nobody needs it after a power cut."""
    journal = open_journal(path)
    journal.rows("PRAGMA synchronous = OFF")
    return journal
