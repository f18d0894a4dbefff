"""An invented lesson in a journal: what two players made of a feed, in two series each."""

from __future__ import annotations

import time
from pathlib import Path

from feedscript.journal.store import SessionStart, open_journal
from tests.review.calendar import write_ball

BETWEEN_SERIES_S = 600.0


def hold(
    journal_path: Path,
    title: str,
    feed: str,
    made: dict[str, tuple[int, int]],
    source: str = "elsewhere.feed",
) -> int:
    """A lesson in which each player got so many of so many in court; its number."""
    journal = open_journal(journal_path)
    begun_s = time.time() - 86_400.0
    number = journal.begin_session(
        SessionStart(
            token=7,
            begun_utc_s=begun_s,
            title=title,
            source=source,
            rehearsal=False,
            plan=b"{}",
            profiles=b"[]",
            group_json="{}",
        )
    )
    feed_id, now_s = 0, begun_s
    for player, (good, balls) in made.items():
        for ball in range(balls):
            if ball in (0, balls // 2):
                now_s += BETWEEN_SERIES_S
            feed_id, now_s = feed_id + 1, now_s + 5.0
            result = "in" if _is_good(ball, good, balls) else "net"
            write_ball(journal, number, feed_id, now_s, player, feed, result)
    journal.end_session(number, "finished", now_s)
    journal.close()
    return number


def _is_good(ball: int, good: int, balls: int) -> bool:
    """Spread evenly over the balls."""
    return (ball + 1) * good // balls > ball * good // balls
