"""What every launcher behind the port must do. One walk through a connection, check by check.

A driver whose device cannot keep a guarantee names it in ``shared/guarantees.json``; the suite then
holds it to the honest opposite: it must not pretend.
"""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path

import anyio
import pytest

from feedscript.launcher.port import (
    CommandRefusedError,
    Event,
    LauncherError,
    LauncherPort,
    LauncherState,
    Left,
    LinkLost,
    NotSent,
    Outcome,
    ScheduledFeed,
    StateChanged,
    StopCategory,
)
from feedscript.launcher.setting import Setting

GUARANTEES = Path(__file__).resolve().parents[3] / "shared" / "guarantees.json"


def lacking(driver: str) -> frozenset[str]:
    """The guarantees that a driver states it cannot keep."""
    stated = json.loads(GUARANTEES.read_text(encoding="utf-8"))
    assert set(stated["drivers"][driver]) <= set(stated["guarantees"])
    return frozenset(stated["drivers"][driver])


@dataclass
class Lab:
    """A launcher on the bench: what the suite may ask of it, and the person beside it."""

    driver: str
    setting: Setting
    person_arms: Callable[[], Awaitable[None]]
    ceiling: tuple[float, ...]
    too_fast: Setting  # above the ceiling, below the limits
    spin_up_s: float = 4.0
    gap_s: float = 2.5
    leave_within_s: float = 0.01  # how near to its time a ball must leave, by its own clock
    cut: Callable[[], Awaitable[None]] | None = None  # make the link die without a word
    lacks: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self.lacks = lacking(self.driver)


class Watcher:
    """Collects the port's events, and waits for one."""

    def __init__(self, events: AsyncIterator[Event]) -> None:
        self.seen: list[Event] = []
        self.ended = anyio.Event()
        self._events = events
        self._news = anyio.Event()

    async def run(self) -> None:
        async for event in self._events:
            self.seen.append(event)
            self._news.set()
            self._news = anyio.Event()
        self.ended.set()

    async def wait(self, what: Callable[[Event], bool], within_s: float = 8.0) -> Event:
        with anyio.fail_after(within_s):
            while True:
                for event in self.seen:
                    if what(event):
                        return event
                await self._news.wait()


def _is_state(state: LauncherState) -> Callable[[Event], bool]:
    return lambda event: isinstance(event, StateChanged) and event.state is state


@dataclass
class Walk:
    """One connection under test; feed ids go on from check to check."""

    launcher: LauncherPort
    lab: Lab
    watcher: Watcher
    feed_id: int = 0

    async def armed(self) -> None:
        self.watcher.seen.clear()
        await self.launcher.arm(self.lab.ceiling)
        await self.lab.person_arms()
        await self.watcher.wait(_is_state(LauncherState.ARMED))
        await self.launcher.prepare(self.lab.setting)
        await anyio.sleep(self.lab.spin_up_s)

    async def feed(self, in_s: float, setting: Setting | None = None) -> ScheduledFeed:
        clock = await self.launcher.measure_clock()
        self.feed_id += 1
        feed = ScheduledFeed(
            feed_id=self.feed_id,
            setting=setting or self.lab.setting,
            leave_at_device_s=anyio.current_time() + clock.offset_s + in_s,
        )
        await self.launcher.schedule(feed)
        return feed

    def ended(self, feed: ScheduledFeed, kind: type[Left] | type[NotSent]):
        return lambda event: isinstance(event, kind) and event.feed_id == feed.feed_id


async def _describes_itself(walk: Walk) -> None:
    it = walk.launcher.description
    assert it.name
    assert it.protocol >= 0
    assert it.queue_depth >= 1
    assert it.hold_limit_s > 0
    assert (it.watchdog_s is None) == ("watchdog" in walk.lab.lacks)


async def _feeds_nothing_unarmed(walk: Walk) -> None:
    assert (await walk.launcher.status()).state is LauncherState.SAFE
    with pytest.raises(CommandRefusedError):
        await walk.feed(2.0)
    with pytest.raises(CommandRefusedError):
        await walk.launcher.prepare(walk.lab.setting)


async def _waits_for_a_person(walk: Walk) -> None:
    await walk.launcher.arm(walk.lab.ceiling)
    if "person-arms" not in walk.lab.lacks:
        await anyio.sleep(0.3)
        assert (await walk.launcher.status()).state is LauncherState.AWAITING_ARM
        with pytest.raises(CommandRefusedError):
            await walk.feed(2.0)
    await walk.launcher.disarm()
    await walk.armed()
    assert (await walk.launcher.status()).state is LauncherState.ARMED


async def _sends_a_ball_at_its_time(walk: Walk) -> None:
    feeds = [await walk.feed(1.5), await walk.feed(1.5 + walk.lab.gap_s)]
    for feed in feeds:
        left = await walk.watcher.wait(walk.ended(feed, Left))
        if "leaving-time" not in walk.lab.lacks:
            assert abs(left.device_s - feed.leave_at_device_s) <= walk.lab.leave_within_s
    assert (await walk.launcher.status()).last_left_feed_id == feeds[-1].feed_id
    found = await walk.launcher.history(feeds[0].feed_id - 1, feeds[-1].feed_id)
    assert [outcome.outcome for outcome in found] == [Outcome.LEFT, Outcome.LEFT]


async def _never_takes_an_id_twice(walk: Walk) -> None:
    feed = await walk.feed(3.0)
    with pytest.raises(CommandRefusedError):
        await walk.launcher.schedule(feed)
    await walk.watcher.wait(walk.ended(feed, Left))
    with pytest.raises(CommandRefusedError):
        await walk.launcher.schedule(feed)
    await anyio.sleep(0.2)
    assert len([e for e in walk.watcher.seen if walk.ended(feed, Left)(e)]) == 1


async def _keeps_below_its_ceiling(walk: Walk) -> None:
    with pytest.raises(CommandRefusedError):
        await walk.feed(3.0, walk.lab.too_fast)
    walk.feed_id -= 1  # refused: the id stays unused
    with pytest.raises(CommandRefusedError):
        await walk.launcher.prepare(walk.lab.too_fast)


async def _holds_and_goes_on(walk: Walk) -> None:
    feed = await walk.feed(2.0)
    await walk.launcher.hold()
    await walk.watcher.wait(walk.ended(feed, NotSent))
    assert (await walk.launcher.status()).state is LauncherState.HELD
    with pytest.raises(CommandRefusedError):
        await walk.feed(2.0)
    walk.feed_id -= 1
    await walk.launcher.go_on()
    again = await walk.feed(walk.lab.spin_up_s)
    await walk.watcher.wait(walk.ended(again, Left), within_s=walk.lab.spin_up_s + 5)


async def _settles_what_is_asked(walk: Walk) -> None:
    walk.feed_id += 1
    (found,) = await walk.launcher.history(walk.feed_id - 1, walk.feed_id)
    assert found.outcome in (Outcome.NOT_SENT, Outcome.UNKNOWN)
    walk.feed_id -= 1
    with pytest.raises(CommandRefusedError):
        await walk.feed(2.0)  # asked about, so it may never leave


async def _stops(walk: Walk) -> None:
    feed = await walk.feed(2.0)
    walk.watcher.seen.clear()
    await walk.launcher.stop(StopCategory.RUN_DOWN)
    stopped = anyio.current_time()
    await walk.watcher.wait(walk.ended(feed, NotSent))
    await walk.watcher.wait(_is_state(LauncherState.SAFE))
    assert anyio.current_time() - stopped < 1.0
    with pytest.raises(CommandRefusedError):
        await walk.feed(2.0)
    walk.feed_id -= 1
    await walk.launcher.stop(StopCategory.RUN_DOWN)  # safe to repeat


async def _latches_an_emergency_stop(walk: Walk) -> None:
    await walk.armed()
    await walk.launcher.stop(StopCategory.POWER_OFF)
    await walk.watcher.wait(_is_state(LauncherState.STOPPED))
    with pytest.raises(CommandRefusedError):
        await walk.launcher.arm(walk.lab.ceiling)


async def _says_when_the_link_is_gone(walk: Walk) -> None:
    if walk.lab.cut is None:
        return
    await walk.lab.cut()
    await walk.watcher.wait(lambda event: isinstance(event, LinkLost), within_s=5)
    with anyio.fail_after(1):
        await walk.watcher.ended.wait()
    with pytest.raises(LauncherError):
        await walk.launcher.status()


#: Each check with the guarantee it stands for; a driver that lacks it is not asked.
CHECKS = (
    ("describes-itself", _describes_itself),
    ("armed-only", _feeds_nothing_unarmed),
    ("armed-only", _waits_for_a_person),
    ("feeds", _sends_a_ball_at_its_time),
    ("feed-id-in-device", _never_takes_an_id_twice),
    ("ceiling", _keeps_below_its_ceiling),
    ("hold-flushes", _holds_and_goes_on),
    ("asking-settles", _settles_what_is_asked),
    ("stops", _stops),
    ("latched-emergency-stop", _latches_an_emergency_stop),
    ("link-loss-seen", _says_when_the_link_is_gone),
)


async def walk_through(launcher: LauncherPort, lab: Lab) -> list[str]:
    """Every check that the driver does not state it cannot keep; the names of those made."""
    made = []
    async with anyio.create_task_group() as tasks:
        watcher = Watcher(launcher.events())
        tasks.start_soon(watcher.run)
        walk = Walk(launcher, lab, watcher)
        for guarantee, check in CHECKS:
            if guarantee not in lab.lacks:
                await check(walk)
                made.append(guarantee)
        tasks.cancel_scope.cancel()
    return made
