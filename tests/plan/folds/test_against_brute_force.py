"""Bounds and pairs from the tree against every run of small plans, enumerated."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, assume, event, given, settings

from feedscript.plan.folds.across import across, down_s
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.change_overs import change_overs
from feedscript.plan.folds.fold import Algebra, Context, Fold, Passes
from feedscript.plan.folds.pairs import pairs
from feedscript.plan.interpreter.actions import (
    Action,
    Pause,
    PickUp,
    SendBall,
    StartStations,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.model import Bounds, Plan
from tests.plan.random_plans import (
    TooManyRuns,
    every_run,
    has_rungs,
    plans,
    turned,
    untils,
    with_stations,
    wrapped,
)

MOST_RUNS = 1500


def _apart_of(run: list[Action], whole: Plan, found: dict[tuple[int, int], int]) -> None:
    """Every two balls of different launchers, and the time between them while the first may fly.

    Left out: two stations' balls of one `together`, and what a collect or watched ball is between.
    """
    flying: list[tuple[int, int, int, int]] = []  # feed, launcher, when, which `together`
    together = 0
    for action in run:
        now = _ms(action.at_s)
        if isinstance(action, StartStations):
            together += 1
        elif isinstance(action, PickUp):
            flying = []
        elif isinstance(action, SendBall | WatchSpeed):
            inside = together if action.station else -1
            for feed, launcher, then, where in flying:
                free = inside == where != -1
                soon = now - then < _ms(down_s(whole.feeds[feed]))
                if launcher != action.launcher and soon and not free:
                    key = (feed, action.feed)
                    found[key] = min(found.get(key, now - then), now - then)
            if isinstance(action, WatchSpeed):
                flying = []
            else:
                flying.append((action.feed, action.launcher, now, inside))


@dataclass
class Seen:
    """What all runs together show."""

    bounds: Bounds
    pairs: dict[tuple[int, int | None, int], float]
    across: dict[tuple[int, int], float]


def _ms(seconds: float) -> int:
    return round(seconds * 1000)


def _end_ms(run: list[Action]) -> int:
    ends = [_ms(action.at_s) for action in run]
    ends += [_ms(a.until_s) for a in run if isinstance(a, Pause | StartStations)]
    ends += [_ms(a.until_s) for a in run if isinstance(a, TakeTurn) and a.until_s is not None]
    ends += [_ms(a.at_s + (a.break_s or 0.0)) for a in run if isinstance(a, PickUp)]
    return max(ends, default=0)


def _pairs_of(run: list[Action], whole: Plan, found: dict[tuple[int, int | None, int], int]):
    at_rest: tuple[int | None, int] = (None, 0)
    before = dict.fromkeys(range(len(whole.launchers)), at_rest)
    for action in run:
        now = _ms(action.at_s)
        if isinstance(action, PickUp):
            before = dict.fromkeys(before, (None, now + _ms(action.break_s or 0.0)))
        elif isinstance(action, WatchSpeed):
            before[action.launcher] = (action.feed, now)
        elif isinstance(action, SendBall):
            ball, then = before[action.launcher]
            key = (action.launcher, ball, action.feed)
            found[key] = min(found.get(key, now - then), now - then)
            before[action.launcher] = (action.feed, now)


def enumerated(whole: Plan) -> Seen:
    balls, times, fastest = set(), set(), set()
    met: dict[tuple[int, int | None, int], int] = {}
    apart: dict[tuple[int, int], int] = {}
    for run in every_run(whole, MOST_RUNS):
        sent = [a for a in run if isinstance(a, SendBall | WatchSpeed)]
        balls.add(len(sent))
        times.add(_end_ms(run))
        fastest.add(max((whole.feeds[a.feed].speed_mps for a in sent), default=0.0))
        _pairs_of(run, whole, met)
        _apart_of(run, whole, apart)
    return Seen(
        Bounds(
            balls=(min(balls), max(balls)),
            time_s=(min(times) / 1000, max(times) / 1000),
            fastest_mps=max(fastest),
            fastest_least_mps=min(fastest),
        ),
        {key: gap / 1000 for key, gap in met.items()},
        {key: gap / 1000 for key, gap in apart.items()},
    )


class _Counts(Algebra[set[int]]):
    """Every number of balls a body of one launcher can send: is a pass always as full?"""

    def __init__(self, whole: Plan, launcher: int) -> None:
        self.whole, self.launcher = whole, launcher

    def _ball(self, feed: int) -> set[int]:
        return {1 if self.whole.feeds[feed].launcher == self.launcher else 0}

    def nothing(self):
        return {0}

    def send(self, step, feeds):
        return self._ball(feeds[0])

    def show_speed(self, step):
        return self._ball(step.feed)

    def rest(self, step):
        return {0}

    def collect(self, step):
        return {0}

    def then(self, before, after):
        return {a + b for a in before for b in after}

    def either(self, ways):
        return set().union(*ways)

    def passes(self, body, passes: Passes):
        found, sums = set(), {0}
        for count in range(1, passes.most + 1):
            sums = {a + b for a in sums for b in body}
            if count >= passes.least:
                found |= sums
        return found | ({0} if passes.least == 0 else set())

    def any_order(self, items):
        worth = {0}
        for item in items:
            worth = self.then(worth, item)
        return worth

    def padded(self, body, to_ms):
        return body

    def beside(self, stations, for_ms):
        return self.any_order([counts for _, counts in stations])


def evenly_filled(whole: Plan) -> bool:
    """Whether every until sends as many balls in each of its passes, whoever is on turn."""
    return all(
        len(Fold(whole, _Counts(whole, launcher)).steps(block.body, Context(left, launcher))) == 1
        for block, launcher in untils(whole.steps)
        for left in (False, True)
    )


def agrees(whole: Plan) -> None:
    try:
        seen = enumerated(whole)
    except TooManyRuns:
        assume(False)
    found_bounds = bounds(whole)
    found_pairs = {(p.launcher, p.before, p.after): p.least_gap_s for p in pairs(whole)}
    found_across = {(one.before, one.after): one.least_gap_s for one in across(whole)}
    if evenly_filled(whole) and not has_rungs(whole):
        event("exact")
        assert found_bounds == seen.bounds
        assert found_pairs == seen.pairs
        assert found_across == seen.across
        return
    event("from outside")
    assert found_bounds.balls[0] <= seen.bounds.balls[0]
    assert found_bounds.balls[1] == seen.bounds.balls[1]
    assert found_bounds.time_s[0] <= seen.bounds.time_s[0]
    assert found_bounds.time_s[1] == seen.bounds.time_s[1]
    assert found_bounds.fastest_mps >= seen.bounds.fastest_mps
    assert has_rungs(whole) or found_bounds.fastest_mps == seen.bounds.fastest_mps
    assert found_pairs.keys() >= seen.pairs.keys()
    assert all(found_pairs[key] <= gap for key, gap in seen.pairs.items())
    assert found_across.keys() >= seen.across.keys()
    assert all(found_across[key] <= gap for key, gap in seen.across.items())


FILTERED = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


@settings(max_examples=150, suppress_health_check=FILTERED)
@given(plans())
def test_bounds_and_pairs_are_those_of_every_run(whole):
    agrees(whole)


@settings(max_examples=400, suppress_health_check=FILTERED)
@given(wrapped())
def test_so_are_those_of_one_construct_between_two_sends(whole):
    agrees(whole)


@settings(max_examples=150, suppress_health_check=FILTERED)
@given(with_stations())
def test_so_are_those_from_launcher_to_launcher(whole):
    agrees(whole)


def _first_balls(run: list[Action]) -> list[tuple[int, int]]:
    """The first ball of each turn that comes after another, and how long after its call."""
    found: list[tuple[int, int]] = []
    fed_ms: int | None = None
    called = dict[str, int]()
    for action in run:
        if isinstance(action, PickUp | WatchSpeed):
            fed_ms = None
        elif isinstance(action, TakeTurn):
            # Who is called as another station's first ball leaves comes after nobody.
            if fed_ms is not None and fed_ms < _ms(action.called_s):
                called[action.station] = _ms(action.called_s)
        elif isinstance(action, SendBall):
            if action.station in called:
                found.append((action.feed, _ms(action.at_s) - called.pop(action.station)))
            fed_ms = _ms(action.at_s) if fed_ms is None else fed_ms
    return found


@settings(max_examples=150, suppress_health_check=FILTERED)
@given(turned())
def test_no_run_has_less_time_to_change_over_than_is_worked_out(whole):
    least = {}
    for one in change_overs(whole):
        least[one.after] = min(least.get(one.after, one.least_s), one.least_s)
    try:
        for run in every_run(whole, MOST_RUNS):
            for feed, time_ms in _first_balls(run):
                assert least[feed] <= time_ms / 1000
                event("changed over")
    except TooManyRuns:
        assume(False)


@pytest.mark.long
@pytest.mark.timeout(3600)
@settings(max_examples=5000, suppress_health_check=FILTERED)
@given(plans())
def test_bounds_and_pairs_are_those_of_every_run_of_5000_plans(whole):
    agrees(whole)
