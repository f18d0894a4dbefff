"""What was worked out before is not worked out again, and what is kept is bounded."""

from __future__ import annotations

import math

import pytest

from feedscript.diagnostics import Span
from feedscript.memo import GivenUpError, Memo, content


def test_only_what_is_not_known_is_worked_out_and_all_of_it_at_once() -> None:
    memo, asked = Memo(), []

    def squares(keys: list[int]) -> list[int]:
        def work(rows: list[int]) -> list[int]:
            asked.append([keys[row] for row in rows])
            return [keys[row] ** 2 for row in rows]

        return memo.each("square", keys, work)

    assert squares([1, 2, 3]) == [1, 4, 9]
    assert squares([2, 5, 3, 6]) == [4, 25, 9, 36]
    assert asked == [[1, 2, 3], [5, 6]]
    assert memo.one("cube", 2, lambda: 8) == 8
    assert memo.one("cube", 2, lambda: 9) == 8


def test_what_was_asked_for_longest_ago_is_forgotten() -> None:
    memo = Memo(most=3)
    for key in (1, 2, 3, 1, 4):
        memo.each("key", [key], lambda _, key=key: [key])
    assert memo.kept == 3
    assert memo.one("key", 1, lambda: "anew") == 1
    assert memo.one("key", 2, lambda: "anew") == "anew"


def test_what_fails_is_not_kept() -> None:
    memo = Memo()
    with pytest.raises(ZeroDivisionError):
        memo.one("quotient", 0, lambda: 1 / 0)
    assert memo.one("quotient", 0, lambda: 1) == 1


def test_work_that_nobody_waits_for_is_given_up_and_what_it_found_stays() -> None:
    memo, stands = Memo(), True
    work = memo.as_long_as(lambda: stands)
    assert work.one("cube", 2, lambda: 8) == 8
    stands = False
    with pytest.raises(GivenUpError):
        work.one("cube", 2, lambda: 9)
    assert memo.one("cube", 2, lambda: 9) == 8
    assert not issubclass(GivenUpError, Exception)  # no fault of a rule, which would refuse


def test_content_tells_every_bit_apart() -> None:
    assert content(Span("a", 1, 2, 3, 4)) == content(Span("a", 1, 2, 3, 4))
    assert content(Span("a", 1, 2, 3, 4)) != content(Span("a", 1, 2, 3, 5))
    assert content(0.1 + 0.2) != content(0.3)
    assert content(0.0) != content(-0.0)
    assert content(math.nan) == content(math.nan)
    assert content("ab", "c") != content("a", "bc")
