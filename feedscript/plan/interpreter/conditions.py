"""Does a condition hold on what was recorded?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.plan.interpreter.actions import Ask
from feedscript.plan.model import Condition, Result


class BallResult(msgspec.Struct, frozen=True):
    """A ball, what became of it, and whose it was."""

    launcher: int
    ball: int
    feed: int
    result: Result
    player: int | None = None


def holds(condition: Condition, results: Sequence[Result]) -> bool:
    """Whether the condition holds after these results, oldest first."""
    return _count(condition, results) is not condition.negated


def _count(condition: Condition, results: Sequence[Result]) -> bool:
    seen = results if condition.window is None else results[-condition.window :]
    return sum(result in condition.results for result in seen) >= condition.at_least


def answer(ask: Ask, record: Iterable[BallResult]) -> bool:
    """The reply to ``ask`` from the record (in ball order) as far as it goes."""
    feeds = ask.condition.feeds
    results = [
        ball.result
        for ball in record
        if ask.is_about(ball.launcher, ball.ball, ball.player)
        and (feeds is None or ball.feed in feeds)
    ]
    if not ask.ever:
        return holds(ask.condition, results)
    return any(holds(ask.condition, results[:end]) for end in range(len(results) + 1))
