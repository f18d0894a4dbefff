"""What a report says: kind, no more than can be known, and the same number everywhere."""

from __future__ import annotations

import pytest

from feedscript.plan.model import Result
from feedscript.review.report import words
from feedscript.review.report.figures import Past, PlayerFigures, Share, figures
from feedscript.review.report.lesson import Ball, in_series

IN, NET, LONG = Result.IN, Result.NET, Result.LONG


def player(results: list[Result | None], *past: Share, feeds: int = 1) -> PlayerFigures:
    """A player's lesson, one ball every four seconds, the feeds in turn."""
    balls = in_series(
        Ball(n, f"feed_{n % feeds}", "Ash", 4.0 * n, result) for n, result in enumerate(results)
    )
    named = {
        f"feed_{n}": [ball for ball in balls if ball.number % feeds == n] for n in range(feeds)
    }
    return PlayerFigures(
        "Ash",
        figures(balls),
        {feed: figures(theirs) for feed, theirs in named.items()},
        tuple(Past(86_400.0 * n, share) for n, share in enumerate(past, start=1)),
    )


def told(one: PlayerFigures, *, sheet: bool) -> str:
    return " ".join(words.told(one, sheet=sheet))


@pytest.mark.parametrize(("share", "said"), [(0.625, "63 %"), (0.0, "0 %"), (1.0, "100 %")])
def test_halves_are_rounded_as_people_round(share: float, said: str) -> None:
    assert words.percent(share) == said


def test_the_change_is_that_of_the_shares_as_they_are_shown() -> None:
    one = player([IN] * 8 + [NET] * 15, Share(10, 22))  # 34.8 % after 45.5 %
    assert words.change_cell(one) == "−10 points"
    assert "45 %: −10 points, within what chance gives" in told(one, sheet=False)


def test_a_clear_change_is_called_one() -> None:
    one = player([IN] * 20 + [NET] * 4, Share(5, 24))
    assert words.change_cell(one) == "+62 points, clear"
    assert "more this time" in told(one, sheet=True)


def test_few_balls_are_said_to_be_few() -> None:
    one = player([IN, NET, IN])
    assert "too few recorded to name a trend" in told(one, sheet=False)
    assert "Too few balls" in words.ADVICE[one.whole.next_step]
    assert words.step_cell(one.whole) == "too few"


def test_a_sheet_uses_none_of_the_trades_terms() -> None:
    one = player([IN, NET, LONG, IN, NET, NET] * 4, Share(5, 24), feeds=2)
    said = " ".join([*words.told(one, sheet=True), *words.SHEET_NOTES, *words.ADVICE.values()])
    assert not [term for term in ("error", "series", "interval", "range") if term in said.lower()]


def test_a_sheet_says_what_went_best() -> None:
    one = player([IN, NET] * 10, feeds=2)
    assert "Went best: feed 0, 10 of 10." in told(one, sheet=True)
    assert "Went best" not in told(player([IN, NET] * 10), sheet=True)
    assert "Went best" not in told(player([NET] * 20, feeds=2), sheet=True)


def test_where_the_misses_went_is_said_only_where_one_way_stands_out() -> None:
    assert "Of the 6 misses, 5 went into the net." in told(player([NET] * 5 + [LONG]), sheet=False)
    even = player([NET, LONG, Result.LEFT, Result.RIGHT] * 3)
    assert "misses" not in told(even, sheet=False)
    assert "misses" not in told(player([NET] * 3), sheet=False)
