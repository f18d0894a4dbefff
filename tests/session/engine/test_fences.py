"""What the engine asks of a launcher before anything else."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.launcher.port import Description
from feedscript.plan.model import Plan
from feedscript.session.engine.guards import ceiling, slow_watchdogs
from tests.session.rehearsing import GARAGE, lesson_plan

SAID = Description(
    name="garage",
    serial="1",
    protocol=1,
    profile_hash="",
    capabilities=frozenset(),
    watchdog_s=GARAGE.guard.watchdog_s,
    queue_depth=2,
    hold_limit_s=30.0,
)


@pytest.mark.parametrize(
    ("off_s", "slugs"), [(-0.1, []), (0.0, []), (0.05, ["slow-watchdog"]), (None, [])]
)
def test_a_launcher_may_stop_sooner_than_its_profile_says_and_never_later(
    off_s: float | None, slugs: list[str]
) -> None:
    own_s = None if off_s is None else GARAGE.guard.watchdog_s + off_s
    said = msgspec.structs.replace(SAID, watchdog_s=own_s)
    assert [found.slug for found in slow_watchdogs([said], [GARAGE])] == slugs


def with_drives(plan: Plan, *drives: tuple[float, float]) -> Plan:
    """The plan with these drives for its feeds, in their order."""
    feeds = tuple(
        msgspec.structs.replace(feed, setting=msgspec.structs.replace(feed.setting, drives=own))
        for feed, own in zip(plan.feeds, drives, strict=True)
    )
    return msgspec.structs.replace(plan, feeds=feeds)


def test_a_launcher_is_armed_for_its_own_fastest_drives_and_not_for_anothers() -> None:
    """Feeds 0 and 1 are the first launcher's, 2 and 3 the second's, whose wheels turn faster."""
    plan = with_drives(
        lesson_plan(launchers=2),
        (1000.0, 900.0),
        (800.0, 1200.0),
        (2500.0, 2400.0),
        (2600.0, 100.0),
    )
    assert ceiling(plan, 0, 2) == (1000.0, 1200.0)
    assert ceiling(plan, 1, 2) == (2600.0, 2400.0)


def test_a_wheel_that_turns_backwards_counts_as_fast_as_it_turns() -> None:
    plan = with_drives(lesson_plan(launchers=1), (-1500.0, 400.0), (300.0, -450.0))
    assert ceiling(plan, 0, 2) == (1500.0, 450.0)


def test_a_launcher_without_a_feed_is_armed_for_nothing() -> None:
    plan = lesson_plan(launchers=2)
    assert ceiling(msgspec.structs.replace(plan, feeds=plan.feeds[:2]), 1, 2) == (0.0, 0.0)
