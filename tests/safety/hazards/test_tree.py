"""What the rules work out over the tree, against every run that a small plan can have."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, assume, given, settings

from feedscript.plan.interpreter.actions import Action, PickUp, SendBall, WatchSpeed
from feedscript.plan.model import Plan, Repeat, ShowSpeed
from feedscript.safety.hazards.order import sends
from feedscript.safety.hazards.work import balls_of_each
from feedscript.safety.rules.long_series import longest_alone_s
from feedscript.safety.rules.short_of_balls import needed
from tests.plan.random_plans import TooManyRuns, every_run, plans
from tests.plan.small_plans import plan, send

MOST_RUNS = 400
FILTERED = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


def runs(whole: Plan) -> list[list[Action]]:
    try:
        return list(every_run(whole, MOST_RUNS))
    except TooManyRuns:
        assume(False)
        raise


def most_between_collects(run: list[Action], launcher: int) -> int:
    counts = [0]
    for action in run:
        if isinstance(action, PickUp):
            counts.append(0)
        elif isinstance(action, SendBall | WatchSpeed) and action.launcher == launcher:
            counts[-1] += 1
    return max(counts)


def least_shown(run: list[Action], whole: Plan, found: dict[tuple[int, int], float]) -> None:
    shown = dict.fromkeys(range(len(whole.launchers)), 0.0)
    for action in run:
        if isinstance(action, WatchSpeed):
            speed = whole.feeds[action.feed].speed_mps
            shown[action.launcher] = max(shown[action.launcher], speed)
        elif isinstance(action, SendBall):
            key = (action.feed, action.line)
            found[key] = min(found.get(key, math.inf), shown[action.launcher])


def agrees(whole: Plan) -> None:
    every = runs(whole)
    for launcher in range(len(whole.launchers)):
        assert needed(whole, launcher) == max(most_between_collects(one, launcher) for one in every)
    seen: dict[tuple[int, int], float] = {}
    for run in every:
        least_shown(run, whole, seen)
    found = {(sent.feed, sent.line): sent.shown_mps for sent in sends_of(whole)}
    assert found.keys() >= seen.keys()
    for key, shown in seen.items():
        assert found[key] <= shown


def sends_of(whole: Plan):
    return sends(whole.steps, whole.feeds, len(whole.launchers))


@settings(max_examples=100, suppress_health_check=FILTERED)
@given(plans())
def test_balls_between_collects_and_shown_speeds_hold_for_every_run(whole):
    agrees(whole)


@pytest.mark.long
@pytest.mark.timeout(3600)
@settings(max_examples=5000, suppress_health_check=FILTERED)
@given(plans())
def test_balls_between_collects_and_shown_speeds_of_5000_plans(whole):
    agrees(whole)


def test_work_grows_with_the_digits_of_a_repeat_and_not_with_its_passes():
    body = (send(0, 3.0),)
    for _ in range(6):
        body = (Repeat(times=1000, body=body, line=1),)
    whole = plan(ShowSpeed(feed=0, line=1), *body)
    assert needed(whole, 0) == 10**18 + 1
    assert longest_alone_s(whole) == 3.0 * 10**18
    assert balls_of_each(whole) == (10**18,)
