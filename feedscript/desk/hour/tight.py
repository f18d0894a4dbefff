"""The tightest moments of a lesson: how near it comes to each limit that is a matter of its hour.

They are the worst cases that the certificate names, each with the words that it comes from.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.desk.hour.clock import Clock
from feedscript.desk.offsets import BrowserOffsets
from feedscript.editor.document import Document
from feedscript.plan.certificate import Clause, Standing
from feedscript.plan.interpreter.actions import PickUp, SendBall, WatchSpeed

#: What is told of, in this order: the rule, its name here, and whether its limit is the most.
_TOLD: Mapping[str, tuple[str, bool]] = {
    "least-interval": ("Least time between two balls", False),
    "short-change-over": ("Shortest change-over", False),
    "short-of-balls": ("Balls until the next collect", True),
    "long-series": ("Longest series without a break", True),
    "many-balls": ("Balls of one player", True),
}

#: A column past the end of every line is its end.
_LINE_END = 1_000_000


class Tight(msgspec.Struct, frozen=True, kw_only=True):
    """One of them. ``near``: 1 at the limit, less where there is room.

    ``start``, ``end``: its words, as a browser counts, where it has some. ``at_s``: when it is,
    where it is at one time.
    """

    rule: str
    title: str
    words: str
    near: float
    over: bool
    start: int | None
    end: int | None
    at_s: tuple[float, float] | None


def tightest(document: Document, verdict: Verdict, clock: Clock) -> tuple[Tight, ...]:
    """The tightest moment of each kind; none of a lesson that has no certificate."""
    certificate = verdict.certificate
    if certificate is None:
        return ()
    clauses = {one.rule: one for one in certificate.clauses}
    return tuple(
        _tight(document, clock, clauses[rule], title, most)
        for rule, (title, most) in _TOLD.items()
        if rule in clauses and clauses[rule].standing is not Standing.SILENT
    )


def _tight(document: Document, clock: Clock, clause: Clause, title: str, most: bool) -> Tight:
    line, at_s = clause.line, _when(clock, clause)
    if clause.rule == "short-of-balls":
        series = _fullest(clock)
        if series:
            line, at_s = series[0].line, (series[0].at_s, series[-1].at_s)
    start, end = _words(document, line)
    return Tight(
        rule=clause.rule,
        title=title,
        words=clause.worst_case,
        near=_near(clause, most),
        over=clause.margin is not None and clause.margin < 0.0,
        start=start,
        end=end,
        at_s=at_s,
    )


def _near(clause: Clause, most: bool) -> float:
    value, limit = clause.worst or 0.0, clause.limit or 0.0
    least, greatest = (value, limit) if most else (limit, value)
    if greatest <= 0.0:
        return 1.0 if least > 0.0 else 0.0
    return least / greatest if math.isfinite(least) else 1.0


def _words(document: Document, line: int | None) -> tuple[int | None, int | None]:
    """The line, as a browser counts."""
    if not line:
        return None, None
    source, units = document.scope.source, BrowserOffsets(document.text)
    return units(source.offset(line, 1)), units(source.offset(line, _LINE_END))


class _Left(msgspec.Struct, frozen=True):
    """A ball that leaves: when, and on which line."""

    at_s: float
    line: int


def _when(clock: Clock, clause: Clause) -> tuple[float, float] | None:
    """The first time that this pair of balls comes on the line."""
    if clause.after_feed is None or clause.line is None:
        return None
    before: dict[int, tuple[float, int]] = {}
    for one in clock.happens:
        if isinstance(one.action, PickUp):
            before.clear()
        if not isinstance(one.action, SendBall):
            continue
        since_s, feed = before.get(one.action.launcher, (0.0, -1))
        pair = feed, one.action.feed, one.action.line
        if pair == (clause.after_feed, clause.feed, clause.line):
            return since_s, one.at_s
        before[one.action.launcher] = one.at_s, one.action.feed
    return None


def _fullest(clock: Clock) -> Sequence[_Left]:
    """The most balls of one launcher between two collects."""
    return max(_between_collects(clock), key=len, default=())


def _between_collects(clock: Clock) -> Iterator[list[_Left]]:
    left: dict[int, list[_Left]] = {}
    for one in clock.happens:
        if isinstance(one.action, SendBall | WatchSpeed):
            balls = left.setdefault(one.action.launcher, [])
            balls.append(_Left(one.at_s, one.action.line))
        elif isinstance(one.action, PickUp):
            yield from left.values()
            left = {}
    yield from left.values()
