"""No false trends: of players who do not change, followed through a season, few are ever told of a
trend; one who does change is found."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from feedscript.review.record.trends import (
    LEVEL,
    LOOKS,
    SEASON,
    Counts,
    Way,
    chance_of,
    judged,
    student_tail,
    trends,
)

KINDS = 4


def season(
    chance: np.random.Generator, rising: float, form: float
) -> tuple[list[tuple[int, int]], dict[str, list[tuple[int, int]]]]:
    """A season of lessons: everything, and by kind of ball. Every day has a form of its own."""
    at = np.arange(SEASON) / (SEASON - 1) - 0.5
    share = np.clip(0.5 + rising * at + form * chance.standard_normal(SEASON), 0.03, 0.97)
    of = chance.integers(2, 9, (KINDS, SEASON))
    made = chance.binomial(of, share)
    kinds = {
        str(kind): list(zip(made[kind].tolist(), of[kind].tolist(), strict=True))
        for kind in range(KINDS)
    }
    whole = list(zip(made.sum(0).tolist(), of.sum(0).tolist(), strict=True))
    return whole, kinds


def ever_named(chance: np.random.Generator, rising: float, form: float) -> bool:
    """Whether a coach who looks after every lesson is ever told of any trend."""
    whole, kinds = season(chance, rising, form)
    for lessons in LOOKS:  # between these nothing is judged anew: see the test below
        main, others = trends(whole[:lessons], {k: c[:lessons] for k, c in kinds.items()})
        if any(one.way in (Way.UP, Way.DOWN) for one in (main, *others.values())):
            return True
    return False


@pytest.mark.parametrize("form", [0.0, 0.1])
def test_players_who_do_not_change_are_hardly_ever_told_of_a_trend(form: float) -> None:
    chance = np.random.default_rng(11)
    players = 600
    told = sum(ever_named(chance, 0.0, form) for _ in range(players)) / players
    # At most the stated level; three standard deviations of 600 trials are 0.027.
    assert told <= LEVEL + 3 * math.sqrt(LEVEL * (1 - LEVEL) / players)


def test_a_level_that_is_not_shared_out_among_the_looks_would_break_the_promise() -> None:
    chance = np.random.default_rng(11)
    told = 0
    for _ in range(300):
        whole, _kinds = season(chance, 0.0, 0.1)
        found = [chance_of(whole[:lessons]) for lessons in LOOKS]
        told += any(one is not None and one[1] < LEVEL for one in found)
    assert told / 300 > 2 * LEVEL


def test_a_player_who_truly_changes_is_found() -> None:
    chance = np.random.default_rng(5)
    for rising, way in ((0.35, Way.UP), (-0.35, Way.DOWN)):
        found = [trends(season(chance, rising, 0.05)[0], {})[0].way for _ in range(100)]
        assert found.count(way) >= 95
        assert set(found) <= {way, Way.NONE}


@given(st.integers(0, 130))
def test_between_two_looks_the_judgement_stays(lessons: int) -> None:
    counts = [(n % 5, 5 + n % 3) for n in range(lessons)]
    over = judged(counts)
    assert len(over) <= SEASON
    if lessons < LOOKS[0]:
        assert list(over) == []
    elif lessons not in LOOKS and not (lessons > SEASON and lessons % 8 == 0):
        assert over == judged(counts[:-1])
    else:
        assert over == counts[-len(over) :]


def test_a_lesson_without_a_record_counts_for_nothing() -> None:
    counts = [(n, 12) for n in range(10)]
    gaps = [one for each in counts for one in (each, (0, 0))]
    assert judged(gaps) == judged(counts)


@given(st.floats(0.0, 60.0))
def test_the_tail_of_one_and_two_degrees_is_what_can_be_written_down(t: float) -> None:
    """Student 1908, Biometrika 6:1 (from memory): one degree is Cauchy's, two an algebraic form."""
    assert student_tail(t, 1) == pytest.approx(1 - 2 / math.pi * math.atan(t), abs=1e-12)
    assert student_tail(t, 2) == pytest.approx(1 - t / math.sqrt(2 + t * t), abs=1e-12)


@given(st.floats(0.001, 60.0), st.integers(1, 60))
def test_the_tail_is_scipys(t: float, degrees: int) -> None:
    """Not below 0.001: there SciPy 1.17 itself is off by up to 3e-9 at one degree."""
    assert student_tail(t, degrees) == pytest.approx(2 * stats.t.sf(t, degrees), abs=1e-12)


@given(st.lists(st.tuples(st.integers(0, 12), st.just(12)), min_size=3, max_size=40))
def test_the_chance_is_that_of_scipys_correlation(counts: Counts) -> None:
    found = chance_of(counts)
    made = [made for made, _ in counts]
    if len(set(made)) == 1:
        assert found is None
        return
    # With as many balls in every lesson the surplus is the share, but for a constant.
    theirs = stats.pearsonr(range(len(made)), made)
    assert found is not None
    assert found[0] == pytest.approx(theirs.statistic, abs=1e-9)
    assert found[1] == pytest.approx(theirs.pvalue, abs=1e-6)


def test_the_chance_is_near_that_of_lessons_in_any_other_order() -> None:
    counts = [(3, 9), (5, 12), (4, 8), (7, 11), (6, 12), (9, 12), (8, 10), (7, 9), (11, 13)]
    share = sum(m for m, _ in counts) / sum(o for _, o in counts)
    surplus = np.array([m - o * share for m, o in counts])
    at = np.arange(len(counts)) - 4.0
    shuffled = np.random.default_rng(1).permuted(np.tile(surplus, (40_000, 1)), axis=1)
    beyond = np.mean(np.abs(shuffled @ at) >= abs(surplus @ at) - 1e-9)
    found = chance_of(counts)
    assert found is not None
    assert found[1] == pytest.approx(float(beyond), abs=0.01)
