"""Intervals and trends against published examples and against scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from feedscript.review.report.shares import difference, trend_line

counts = st.integers(1, 60).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))


@pytest.mark.parametrize(
    ("counts", "low", "high"),
    [
        ((56, 70, 48, 80), 0.0524, 0.3339),
        ((9, 10, 3, 10), 0.1705, 0.8090),
        ((6, 7, 2, 7), 0.0582, 0.8062),
        ((5, 56, 0, 29), -0.0381, 0.1926),
        ((0, 10, 0, 20), -0.1611, 0.2775),
        ((10, 10, 0, 20), 0.6791, 1.0),
        ((10, 10, 0, 10), 0.6075, 1.0),
    ],
)
def test_the_interval_of_a_difference_is_the_published_one(
    counts: tuple[int, int, int, int], low: float, high: float
) -> None:
    # Newcombe's 1998 paper on differences (873-890), table II, method 10, contrasts (a) to (h);
    # cited from memory, and the same as statsmodels 0.15 gives (confint_proportions_2indep,
    # "newcomb").
    assert difference(*counts) == pytest.approx((low, high), abs=7e-5)


@given(counts, counts)
def test_a_difference_lies_in_its_interval_and_turns_over(
    now: tuple[int, int], before: tuple[int, int]
) -> None:
    low, high = difference(*now, *before)
    assert low <= now[0] / now[1] - before[0] / before[1] <= high
    assert difference(*before, *now) == pytest.approx((-high, -low))


times = st.lists(st.floats(0.0, 3600.0, allow_subnormal=False), min_size=4, max_size=60)


@given(times.map(sorted), st.randoms(use_true_random=False))
def test_the_line_and_its_chance_are_scipys(at_s: list[float], chance: object) -> None:
    made = [chance.random() < 0.5 for _ in at_s]  # type: ignore[attr-defined]
    line = trend_line(at_s, made)
    if len(set(made)) == 1 or np.std(at_s) < 1e-3:
        return
    # scipy.stats.linregress gives the least-squares line and the correlation; the Cochran-Armitage
    # statistic is the number of balls times its square, chi-squared with one degree of freedom
    # (A. Agresti, "Categorical Data Analysis", on linear-by-linear association; from memory).
    theirs = stats.linregress(at_s, np.array(made, float))
    assert line is not None
    for end, at in ((line.first, at_s[0]), (line.last, at_s[-1])):
        fitted = theirs.intercept + theirs.slope * at
        assert end == pytest.approx(min(1.0, max(0.0, fitted)), abs=1e-6)
    assert line.p == pytest.approx(stats.chi2.sf(len(at_s) * theirs.rvalue**2, 1), abs=1e-6)


def test_the_chance_of_a_trend_is_the_published_one() -> None:
    # Maternal drinking and malformations (B. I. Graubard & E. L. Korn, Biometrics 43, 1987), as in
    # A. Agresti, "Categorical Data Analysis": scores 0, 0.5, 1.5, 4, 7; the squared statistic is
    # 6.57 and P = 0.010 (from memory).
    scores = (0.0, 0.5, 1.5, 4.0, 7.0)
    absent, present = (17066, 14464, 788, 126, 37), (48, 38, 5, 1, 1)
    at, made = [], []
    for score, without, having in zip(scores, absent, present, strict=True):
        at += [score] * (without + having)
        made += [False] * without + [True] * having
    line = trend_line(at, made)
    assert line is not None
    assert line.p == pytest.approx(0.010, abs=5e-4)
    assert stats.chi2.isf(line.p, 1) == pytest.approx(6.57, abs=0.01)


@pytest.mark.parametrize(
    ("at_s", "made"),
    [
        ([], []),
        ([1.0, 2.0], [True, True]),
        ([1.0, 2.0], [False, False]),
        ([5.0, 5.0], [True, False]),
    ],
)
def test_where_there_is_no_line_there_is_none(at_s: list[float], made: list[bool]) -> None:
    assert trend_line(at_s, made) is None


def test_chance_alone_is_called_a_trend_in_about_one_of_twenty_lessons() -> None:
    chance = np.random.default_rng(7)
    at_s = [4.0 * n for n in range(24)]
    lines = [trend_line(at_s, list(chance.random(24) < 0.5)) for _ in range(2000)]
    called = sum(line is not None and line.p < 0.05 for line in lines) / len(lines)
    # 2,000 trials of 0.05: three standard deviations are 0.015; few balls make it a little off.
    assert called == pytest.approx(0.05, abs=3 * math.sqrt(0.05 * 0.95 / 2000))
