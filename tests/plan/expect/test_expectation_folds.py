"""Rows, shares, waits and rest from the tree against every run of small plans, enumerated."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, assume, event, given, settings

from feedscript.plan.expect.of_bounds import time_of
from feedscript.plan.expect.resting import rest_share
from feedscript.plan.expect.rows import longest_row
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.expect.waits import longest_wait_s
from feedscript.plan.interpreter.actions import (
    Action,
    Pause,
    PickUp,
    SendBall,
    StartStations,
    WatchSpeed,
)
from feedscript.plan.model import Plan
from tests.plan.folds.test_against_brute_force import evenly_filled
from tests.plan.random_plans import TooManyRuns, every_run, has_rungs, plans

FILTERED = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
FEW = settings(max_examples=60, suppress_health_check=FILTERED)
MANY = settings(max_examples=3000, suppress_health_check=FILTERED)


def runs_of(whole: Plan) -> list[list[Action]]:
    try:
        return list(every_run(whole, 400, any_hand=False))
    except TooManyRuns:
        assume(False)
        raise


def longest_seen(run: list[Action], feed: int, launcher: int) -> int:
    best = row = 0
    for action in run:
        if isinstance(action, SendBall | WatchSpeed) and action.launcher == launcher:
            row = row + 1 if action.feed == feed else 0
            best = max(best, row)
    return best


def waits_seen(run: list[Action], whole: Plan, player: int) -> float:
    balls = [a.at_s for a in run if isinstance(a, SendBall) and a.player == player]
    marks = [0.0, *balls, time_of(whole, run)]
    return max(later - sooner for sooner, later in itertools.pairwise(marks))


def rest_seen(run: list[Action], whole: Plan) -> float:
    took = time_of(whole, run)
    rested = sum(a.until_s - a.at_s for a in run if isinstance(a, Pause))
    rested += sum(a.break_s or 0.0 for a in run if isinstance(a, PickUp))
    return rested / took if took else 0.0


def agrees(whole: Plan) -> None:
    runs = runs_of(whole)
    exact = evenly_filled(whole) and not has_rungs(whole)
    # Hands other than a player's own are not folded away: one hand and kind make every bound exact.
    exact = exact and len({(p.left_handed, p.kind) for p in whole.group.players}) <= 1
    event("exact" if exact else "from outside")
    for feed, aimed in enumerate(whole.feeds):
        seen = max(longest_seen(run, feed, aimed.launcher) for run in runs)
        found = longest_row(whole, frozenset({feed}))
        assert found == seen if exact else found >= seen
    for player in range(len(whole.group.players)):
        shares = [sum(isinstance(a, SendBall) and a.player == player for a in run) for run in runs]
        least, most = balls_of_player(whole, player)
        assert least <= min(shares)
        assert max(shares) <= most
        assert not exact or (least, most) == (min(shares), max(shares))
        longest = max(waits_seen(run, whole, player) for run in runs)
        assert longest <= longest_wait_s(whole, player) + 1e-9
    if not any(isinstance(action, StartStations) for run in runs for action in run):
        shares = [rest_seen(run, whole) for run in runs if time_of(whole, run)] or [0.0]
        least, most = rest_share(whole)
        assert least <= min(shares) + 1e-6
        assert most >= max(shares) - 1e-6
        assert not exact or least == pytest.approx(min(shares), abs=1e-6)
        assert not exact or most == pytest.approx(max(shares), abs=1e-6)


@FEW
@given(plans())
def test_rows_shares_waits_and_rest_are_those_of_every_run(whole):
    agrees(whole)


@pytest.mark.long
@pytest.mark.timeout(3600)
@MANY
@given(plans())
def test_rows_shares_waits_and_rest_are_those_of_every_run_of_3000_plans(whole):
    agrees(whole)
