"""The figures of a review are counts that a coach could check by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.plan.model import Result
from feedscript.review.figures import NextStep, figures, next_step, series_of
from feedscript.review.lesson import Ball

IN, NET, LONG, LEFT, RIGHT = Result.IN, Result.NET, Result.LONG, Result.LEFT, Result.RIGHT


def balls(*results: Result | None, gap_s: float = 4.0, start_s: float = 0.0) -> list[Ball]:
    """One player's balls, ``gap_s`` apart."""
    return [
        Ball(number, number, "deep", "Ash", start_s + number * gap_s, result)
        for number, result in enumerate(results, start=1)
    ]


def test_shares_are_of_the_recorded_balls_alone() -> None:
    counted = figures(balls(IN, None, NET, IN, None, LONG))
    assert (counted.balls, counted.recorded, counted.made) == (6, 4, 2)
    assert counted.share_in == 0.5
    assert counted.errors == {NET: 1, LEFT: 0, RIGHT: 0, LONG: 1}


def test_nothing_recorded_is_no_share_rather_than_none_in() -> None:
    counted = figures(balls(None, None))
    assert counted.share_in is None
    assert counted.repeat_share is None
    assert counted.next_step is NextStep.TOO_FEW


def test_an_error_repeats_only_the_error_just_before_it() -> None:
    counted = figures(balls(NET, NET, IN, NET, LONG, LONG, LONG))
    # net-net, then in breaks the row; net-long differs; long-long twice.
    assert (counted.repeats, counted.repeat_chances) == (3, 4)
    assert counted.repeat_share == 0.75


def test_an_error_does_not_repeat_one_of_an_earlier_series() -> None:
    first = balls(IN, NET)
    second = balls(NET, IN, start_s=100.0)
    assert figures([*first, *second]).repeat_chances == 0


def test_a_long_pause_begins_a_new_series() -> None:
    both = [*balls(IN, IN), *balls(IN, IN, IN, start_s=60.0)]
    assert [len(run) for run in series_of(both)] == [2, 3]


@pytest.mark.parametrize(
    ("made", "of", "suggested"),
    [
        (14, 20, NextStep.HARDER),  # 70 % is enough
        (13, 20, NextStep.SAME),
        (8, 20, NextStep.SAME),  # 40 % is not under 40 %
        (7, 20, NextStep.EASIER),
    ],
)
def test_the_next_step_follows_the_stated_rule(made: int, of: int, suggested: NextStep) -> None:
    results = [IN] * made + [NET] * (of - made)
    series = [*balls(*results[::2]), *balls(*results[1::2], start_s=1000.0)]
    assert next_step(series) is suggested


def test_one_series_is_too_few_to_suggest_anything() -> None:
    assert next_step(balls(*[IN] * 20)) is NextStep.TOO_FEW


def test_only_the_last_two_series_are_judged() -> None:
    bad = balls(*[NET] * 10)
    good = [*balls(*[IN] * 10, start_s=1000.0), *balls(*[IN] * 10, start_s=2000.0)]
    assert next_step([*bad, *good]) is NextStep.HARDER


@given(st.lists(st.sampled_from([None, *Result])))
def test_the_parts_add_up(results: list[Result | None]) -> None:
    counted = figures(balls(*results))
    assert counted.made + sum(counted.errors.values()) == counted.recorded <= counted.balls
    assert 0 <= counted.repeats <= counted.repeat_chances
