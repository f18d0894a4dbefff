"""The interval against scipy's own (scipy.stats.binomtest, method "wilson")."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.plan.expect.score_interval import score_interval
from feedscript.plan.interpreter.chance import stream


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_is_scipys(hits_of_draws):
    from scipy.stats import binomtest

    hits, draws = hits_of_draws
    theirs = binomtest(hits, draws).proportion_ci(0.95, method="wilson")
    low, high = score_interval(hits, draws)
    assert low == pytest.approx(theirs.low, abs=1e-12)
    assert high == pytest.approx(theirs.high, abs=1e-12)


@pytest.mark.parametrize(
    ("hits", "draws", "low", "high"),
    # R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in
    # Medicine 17 (1998), 857-872, table I, method 3 (score), as remembered.
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_published_one(hits, draws, low, high):
    assert score_interval(hits, draws) == (
        pytest.approx(low, abs=5e-5),
        pytest.approx(high, abs=5e-5),
    )


def test_nineteen_of_twenty_intervals_hold_the_true_share():
    # 2,000 intervals of 95 %: six standard deviations of the binomial are 0.029.
    chance, share = stream(17, "coverage"), 0.93
    held = 0
    for _ in range(2000):
        hits = int((chance.many(300) < share).sum())
        low, high = score_interval(hits, 300)
        held += low <= share <= high
    assert held / 2000 == pytest.approx(0.95, abs=0.029)


@pytest.mark.parametrize(("hits", "draws"), [(-1, 5), (6, 5), (0, 0)])
def test_what_is_no_share_is_refused(hits, draws):
    with pytest.raises(ValueError):
        score_interval(hits, draws)
