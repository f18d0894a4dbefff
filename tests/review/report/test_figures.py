"""The figures of a review are counts that a coach could check by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from feedscript.plan.model import Result
from feedscript.review.report.figures import (
    BALLS_TO_JUDGE,
    Change,
    Direction,
    Figures,
    NextStep,
    Past,
    PlayerFigures,
    Share,
    figures,
    next_step,
)
from feedscript.review.report.lesson import Ball, in_series, series_of

IN, NET, LONG, LEFT, RIGHT = Result.IN, Result.NET, Result.LONG, Result.LEFT, Result.RIGHT


def balls(*results: Result | None, gap_s: float = 4.0, start_s: float = 0.0) -> list[Ball]:
    """One player's balls, ``gap_s`` apart."""
    return [
        Ball(number, "deep", "Ash", start_s + number * gap_s, result)
        for number, result in enumerate(results, start=1)
    ]


def counted(*results: Result | None) -> Figures:
    return figures(in_series(balls(*results)))


def test_shares_are_of_the_recorded_balls_alone() -> None:
    found = counted(IN, None, NET, IN, None, LONG)
    assert (found.balls, found.share) == (6, Share(2, 4))
    assert found.share.value == 0.5
    assert found.errors == {NET: 1, LEFT: 0, RIGHT: 0, LONG: 1}


def test_nothing_recorded_is_no_share_rather_than_none_in() -> None:
    found = counted(None, None)
    assert found.share.value is None
    assert found.share.interval is None
    assert found.repeat_share is None
    assert found.next_step is NextStep.TOO_FEW


def test_an_error_is_repeated_by_the_very_next_ball() -> None:
    found = counted(NET, NET, IN, NET, LONG, LONG, LONG)
    # Followed: net by net, net by in, net by long, long by long, long by long; the last by nothing.
    assert (found.repeats, found.repeat_chances) == (3, 5)
    assert found.repeat_share == 0.6


def test_a_player_who_fixes_every_error_repeats_none() -> None:
    found = counted(NET, IN, NET, IN, NET, IN)
    assert (found.repeats, found.repeat_chances) == (0, 3)


def test_a_ball_without_a_record_hides_what_followed() -> None:
    assert counted(NET, None, NET).repeat_chances == 0


def test_an_error_is_not_repeated_by_a_later_series() -> None:
    later = balls(NET, start_s=100.0)
    assert figures(in_series([*balls(IN, NET), *later])).repeat_chances == 0


def test_a_feed_among_others_keeps_its_series() -> None:
    three = in_series(
        replace(ball, feed=("deep", "short", "wide")[n % 3])
        for n, ball in enumerate(balls(*[NET] * 12, gap_s=7.0))
    )
    deep = figures([ball for ball in three if ball.feed == "deep"])
    assert (deep.repeats, deep.repeat_chances) == (3, 3)  # 21 s apart, and still one series


def test_a_long_pause_begins_a_new_series() -> None:
    both = in_series([*balls(IN, IN), *balls(IN, IN, IN, start_s=60.0)])
    assert [len(run) for run in series_of(both)] == [2, 3]


def test_somebody_elses_ball_begins_a_new_series_unless_at_another_station() -> None:
    ash = balls(IN, IN, gap_s=8.0)
    between = Ball(9, "deep", "Birch", 12.0, IN)
    assert len(series_of(in_series([ash[0], between, ash[1]]))) == 3
    elsewhere = replace(between, station="far court")
    assert len(series_of(in_series([ash[0], elsewhere, ash[1]]))) == 2


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
    assert next_step(in_series(series)) is suggested


def test_one_series_is_too_few_to_suggest_anything() -> None:
    assert next_step(in_series(balls(*[IN] * 20))) is NextStep.TOO_FEW


@pytest.mark.parametrize("recorded", range(BALLS_TO_JUDGE + 2))
def test_few_balls_suggest_nothing_however_good(recorded: int) -> None:
    first = balls(*[IN] * (recorded // 2))
    second = balls(*[IN] * (recorded - recorded // 2), None, None, start_s=1000.0)
    enough = recorded >= BALLS_TO_JUDGE
    suggested = next_step(in_series([*first, *second]))
    assert suggested is (NextStep.HARDER if enough else NextStep.TOO_FEW)


def test_only_the_last_two_series_are_judged() -> None:
    bad = balls(*[NET] * 10)
    good = [*balls(*[IN] * 10, start_s=1000.0), *balls(*[IN] * 10, start_s=2000.0)]
    assert next_step(in_series([*bad, *good])) is NextStep.HARDER


@pytest.mark.parametrize(
    ("results", "direction"),
    [
        ([NET] * 10 + [IN] * 10, Direction.RISING),
        ([IN] * 10 + [LONG] * 10, Direction.FALLING),
        ([IN, NET] * 10, Direction.NONE),
        ([IN] * 20, Direction.NONE),
        ([NET] * 7 + [IN] * 8, Direction.TOO_FEW),
    ],
)
def test_a_trend_is_named_only_where_it_is_one(results: list[Result], direction: Direction) -> None:
    assert counted(*results).trend.direction is direction


def test_quarters_hold_every_ball_once() -> None:
    parts = counted(*[IN] * 3, *[NET] * 8).trend.parts
    assert sum(part.recorded for part in parts) == 11
    assert [part.made for part in parts] == [2, 1, 0, 0]


def test_a_change_is_against_the_latest_lesson_and_clear_only_beyond_chance() -> None:
    past = (Past(0.0, Share(20, 20)), Past(1.0, Share(10, 20)))
    changed = PlayerFigures("Ash", counted(*[IN] * 12, *[NET] * 8), {}, past).change
    assert changed is not None
    assert changed.points == pytest.approx(0.1)
    assert not changed.clear
    assert Change(0.4, 0.05, 0.6).clear
    assert Change(-0.4, -0.6, -0.05).clear
    assert PlayerFigures("Ash", counted(None), {}, past).change is None
    assert PlayerFigures("Ash", counted(IN), {}, ()).change is None


@given(st.lists(st.sampled_from([None, *Result])))
def test_the_parts_add_up(results: list[Result | None]) -> None:
    found = counted(*results)
    assert found.share.made + found.missed == found.share.recorded <= found.balls
    assert 0 <= found.repeats <= found.repeat_chances <= found.missed
