"""Counts, streaks and repeated errors of each player, worked out anew from the records.

A lesson has a few hundred records at most, so nothing is kept beside them: what was taken back is
simply no longer counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from enum import StrEnum

import msgspec

from feedscript.plan.model import Result
from feedscript.session.group.records import Record

#: A streak is worth a remark every so many balls in a row. Design value.
STREAK = 5
#: The same error this often running is noticed. The trade watches for the second (common
#: practice, no source).
SAME_ERROR = 2


class NoticeKind(StrEnum):
    """What was noticed."""

    SAME_ERROR = "same-error"
    STREAK = "streak"


class Notice(msgspec.Struct, frozen=True):
    """Something about one player that the coach may act on; never shown to the group."""

    kind: NoticeKind
    player: str | None
    result: Result
    running: int


class Count(msgspec.Struct, frozen=True):
    """One player's (or one feed's) balls so far."""

    balls: int
    by_result: dict[Result, int]
    running: int  # how often the last result has come in a row; all good ones are alike
    last: Result | None

    @property
    def share_in(self) -> float | None:
        """In court, of the recorded balls; None when none is."""
        made = sum(balls for result, balls in self.by_result.items() if result.good)
        return made / self.balls if self.balls else None


def count(results: Sequence[Result]) -> Count:
    """The count of one player's results, oldest first."""
    running = 0
    for result in reversed(results):
        if not alike(result, results[-1]):
            break
        running += 1
    last = results[-1] if results else None
    return Count(len(results), dict(Counter(results)), running, last)


def alike(one: Result, other: Result) -> bool:
    """Whether two results carry a row on: the same error, or both in court."""
    return one is other or (one.good and other.good)


def in_order(records: Iterable[Record]) -> list[Record]:
    """As the balls left, whenever they were tapped."""
    return sorted(records, key=lambda record: record.ball.feed_id)


def by_player(records: Iterable[Record]) -> dict[str | None, Count]:
    """Each player's count."""
    results: dict[str | None, list[Result]] = {}
    for record in in_order(records):
        results.setdefault(record.ball.player, []).append(record.result)
    return {player: count(theirs) for player, theirs in results.items()}


def notice_after(records: Iterable[Record], player: str | None) -> Notice | None:
    """What this player's latest result gives to notice, if anything.

    The same error twice running, and again each further time; a streak at every fifth ball in.
    """
    theirs = [record.result for record in in_order(records) if record.ball.player == player]
    now = count(theirs)
    if now.last is None:
        return None
    if not now.last.good:
        if now.running >= SAME_ERROR:
            return Notice(NoticeKind.SAME_ERROR, player, now.last, now.running)
        return None
    if now.running % STREAK == 0:
        return Notice(NoticeKind.STREAK, player, Result.IN, now.running)
    return None
