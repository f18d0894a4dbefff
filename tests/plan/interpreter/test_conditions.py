"""Rows, totals and windows over a record."""

from __future__ import annotations

from feedscript.plan.interpreter.actions import Ask
from feedscript.plan.interpreter.conditions import BallResult, answer, holds
from feedscript.plan.model import Condition, Result

IN, NET, LONG = Result.IN, Result.NET, Result.LONG


def in_a_row(count: int, *results: Result) -> Condition:
    return Condition(results=results or (IN,), at_least=count, window=count)


def test_a_row_is_broken_by_another_result():
    assert holds(in_a_row(2), [NET, IN, IN])
    assert not holds(in_a_row(2), [IN, IN, NET])
    assert not holds(in_a_row(2), [IN])


def test_a_total_counts_all():
    total = Condition(results=(IN,), at_least=2)
    assert holds(total, [IN, NET, IN])
    assert not holds(total, [IN, NET])


def test_negation():
    assert holds(Condition(results=(NET,), at_least=1, window=1, negated=True), [IN])


def ask(condition: Condition, **given) -> Ask:
    fields = {"launcher": 0, "first_ball": 1, "last_ball": 99, "ever": False}
    return Ask(at_s=0.0, line=1, station="", condition=condition, **{**fields, **given})


def test_only_balls_of_that_launcher_stretch_and_feed_count():
    record = [
        BallResult(0, 1, 0, IN),
        BallResult(1, 2, 0, IN),
        BallResult(0, 2, 1, IN),
        BallResult(0, 3, 0, NET),
    ]
    two = Condition(results=(IN,), at_least=2)
    assert answer(ask(two), record)
    assert not answer(ask(Condition(results=(IN,), at_least=2, feeds=(0,))), record)
    assert not answer(ask(two, first_ball=2), record)
    assert not answer(ask(two, last_ball=1), record)


def test_ever_remembers_a_row_that_was_broken_since():
    record = [BallResult(0, ball, 0, result) for ball, result in enumerate([IN, IN, LONG], 1)]
    assert not answer(ask(in_a_row(2)), record)
    assert answer(ask(in_a_row(2), ever=True), record)
