"""What is left of the hour, step by step: together it is what the check reckons for the whole."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import HealthCheck, assume, given, settings

from feedscript.check.hour import ARM_S, WATCH_S, collect_s, hour_of
from feedscript.check.hour_left import times_of
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Collect, Exercise, Plan, ShowSpeed
from tests.plan.random_plans import exercises
from tests.plan.small_plans import plan, rest, send


def bounded(whole: Plan) -> Plan:
    return msgspec.structs.replace(whole, bounds=bounds(whole))


PLAN = bounded(
    plan(
        ShowSpeed(feed=0, line=1),
        Exercise(title="A", repeats=1, body=(send(0, 4.0), send(0, 4.0)), line=2),
        Collect(break_s=120.0, line=3),
        Exercise(
            title="B", repeats=1, planned_s=600.0, body=(send(0, 4.0), Collect(line=5)), line=4
        ),
        rest(9.0),
    )
)


def test_each_step_has_its_own_times() -> None:
    times = times_of(PLAN)
    shown, first, pause, second, last = times.steps
    assert shown.whole_s == WATCH_S
    assert first.whole_s == 8.0
    assert pause.whole_s == 120.0 + ARM_S  # three balls are picked up within the break
    picked_up_s = collect_s(PLAN, 1) + ARM_S
    assert second.play_s + second.left_by_people_s(0.0, and_now=True) == 4.0 + picked_up_s
    assert second.whole_s == 600.0  # its planned minutes
    assert last.whole_s == 9.0
    assert times.tidied_s == 0.0


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(exercises())
def test_the_steps_and_the_last_collect_are_the_whole_hour(whole: Plan) -> None:
    whole = bounded(whole)
    least_s, most_s = whole.bounds.time_s
    assume(least_s == most_s)  # a run that cannot be shorter than the longest
    times = times_of(whole)
    found = sum(one.whole_s for one in times.steps) + times.tidied_s + ARM_S
    assert found == pytest.approx(hour_of(whole).whole_s, abs=0.01)
