"""The tightest moments of a lesson: how near it comes to each limit that is a matter of its hour.

They are the worst cases that the certificate names, each with the words that it comes from.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.desk.hour.clock import Clock
from feedscript.desk.offsets import BrowserOffsets
from feedscript.editor.document import Document
from feedscript.plan.certificate import Clause, Standing
from feedscript.plan.interpreter.actions import PickUp, SendBall, WatchSpeed
from feedscript.tongues import terms
from feedscript.tongues.text import _

#: What is told of, in this order: the rule, its name here, and whether its limit is the most.
_TOLD: Mapping[str, tuple[str, bool]] = {
    "least-interval": (_("Least time between two balls"), False),
    "short-change-over": (_("Shortest change-over"), False),
    "short-of-balls": (_("Balls until the next collect"), True),
    "long-series": (_("Longest series without a break"), True),
    "many-balls": (_("Balls of one player"), True),
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
        words=_in_words(document, clause),
        near=_near(clause, most),
        over=clause.margin is not None and clause.margin < 0.0,
        start=start,
        end=end,
        at_s=at_s,
    )


class _Worst(msgspec.Struct, frozen=True):
    """A worst case by its figures and feeds; whoever it may be of."""

    value: float
    limit: float
    feed: str
    before: str
    players: tuple[str, ...]


def _of_one_player(one: _Worst) -> Iterator[str]:
    for who in (_("one player"), *one.players):
        yield _("{who} gets up to {balls:.0f} balls", who=who, balls=one.value)
        yield _("{who} gets up to {balls:.0f} balls, every repeat used", who=who, balls=one.value)


#: What a certificate may say of each, in words that can be told in the page's language.
_SAID: Mapping[str, Callable[[_Worst], Iterable[str]]] = {
    "least-interval": lambda one: [
        _("{feed} comes {n:.2f} s after {before}", feed=one.feed, n=one.value, before=one.before)
    ],
    "short-change-over": lambda one: [
        _(
            "whoever is on next has {n:.1f} s from the call to {feed}",
            n=math.floor(10.0 * one.value) / 10.0,
            feed=one.feed,
        )
    ],
    "short-of-balls": lambda one: [
        _(
            "up to {balls:.0f} balls between two collects, {loaded:.0f} loaded",
            balls=one.value,
            loaded=one.limit,
        )
    ],
    "long-series": lambda one: [_("the longest series without a break is {n:.0f} s", n=one.value)],
    "many-balls": _of_one_player,
}


def _in_words(document: Document, clause: Clause) -> str:
    """The certificate's own words; to be told in other languages where ours say the very same."""
    plan = document.verdict.plan
    if plan is None or clause.worst is None:
        return clause.worst_case
    feed, before = (
        "" if one is None else terms.feed(plan.feeds[one].name)
        for one in (clause.feed, clause.after_feed)
    )
    players = tuple(one.name for one in plan.group.players)
    worst = _Worst(clause.worst, clause.limit or 0.0, feed, before, players)
    same = (said for said in _SAID[clause.rule](worst) if said == clause.worst_case)
    return next(same, clause.worst_case)


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
