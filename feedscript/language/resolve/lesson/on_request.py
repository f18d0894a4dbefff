"""`send deep when coach taps, at most 12, not before 3 s`: balls on request."""

from __future__ import annotations

import math

import msgspec

from feedscript.language.parse import tree as t
from feedscript.language.resolve.lesson.position import LONGEST_S, Position
from feedscript.language.resolve.lesson.step_pages import ON_REQUEST
from feedscript.language.resolve.properties import once
from feedscript.units import Dimension

#: The most balls of one series on request. Design value: more is a basket, not a series.
MOST_ON_REQUEST = 1000
#: What is offered where a limit is missing; somebody's figures, not a rule's.
_USUAL = {False: "at most 12", True: "not before 5 s"}


class Requested(msgspec.Struct, frozen=True):
    """At most so many balls, none sooner than this after the ball before it."""

    at_most: int
    not_before_s: float


def requested(step: t.SendSyntax, place: Position) -> Requested | None:
    """Both limits of a ball on request; None where one is missing or wrong (reported)."""
    assert step.request is not None
    found: dict[bool, t.RequestLimit] = {}
    for limit in step.request.limits:
        if (first := found.setdefault(limit.gap, limit)) is not limit:
            what = "`not before`" if limit.gap else "`at most`"
            once(place.scope, limit, place.scope.span(first), what)
    if len(found) < len(_USUAL):
        _report_missing(step, place, found)
        return None
    evaluator = place.evaluator
    most = evaluator.whole(found[False].value, 1, MOST_ON_REQUEST, "a number of balls")
    what = "the time after the ball before"
    gap_s = evaluator.within(found[True].value, Dimension.TIME, 0, LONGEST_S, what)
    return None if most is None or math.isnan(gap_s) else Requested(most, gap_s)


def _report_missing(step: t.SendSyntax, place: Position, found: dict[bool, t.RequestLimit]) -> None:
    if place.scope.damaged(step):
        return
    said = [
        place.scope.written(found[gap]).lstrip(", ") if gap in found else _USUAL[gap]
        for gap in _USUAL
    ]
    missing = [
        words
        for gap, words in ((False, "how many there are at most"), (True, "how soon one may leave"))
        if gap not in found
    ]
    what = place.scope.written(step.feed) if step.feed is not None else _levels(step, place)
    message = f"these balls on request do not say {' nor '.join(missing)}"
    help_text = f"write `send {what} when coach taps, {', '.join(said)}`"
    place.scope.report(ON_REQUEST, step, message, help_text)


def _levels(step: t.SendSyntax, place: Position) -> str:
    feeds = "  ".join(place.scope.written(feed) for feed in step.feeds)
    return f"by level {{ {feeds} }}"
