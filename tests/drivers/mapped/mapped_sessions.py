"""Whole lessons on a mapped device, from its URL on, drawn from a seed; the device keeps the truth.

Only the opening of the port is put in: everything else is what ``run`` opens and conducts.
"""

from __future__ import annotations

import operator
import random
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import anyio
import msgspec
import pytest
from feedscript_drivers.mapped import driver
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.read import read_mapping
from feedscript_drivers.mapped.guarantees import lost
from feedscript_simulator.mapped_devices import DEVICES, Device, DeviceStream, Gone

from feedscript.journal.store import open_journal
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Plan, Repeat, ShowSpeed
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.engine.start import Setting as LessonSetting
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.phases import Act, Phase
from feedscript.shipped import shipped_folder
from tests.plan import small_plans
from tests.session.coach import say, see_balls, see_phase
from tests.session.rehearsing import GARAGE, LONGEST_S, OpenFences
from tests.virtual_time import in_virtual_time

Script = Callable[[Engine, DeviceStream], Awaitable[None]]


def garage_of(mapping: Mapping) -> Profile:
    """The shipped profile as it must be for a device: it says what the device does not promise."""
    guard = msgspec.structs.replace(GARAGE.guard, lacks=lost(mapping))
    return msgspec.structs.replace(GARAGE, guard=guard)


def plan_of(settings: list[Setting], order: list[int], gap_s: float = 2.0) -> Plan:
    """A plan that shows the first feed and then sends the feeds in this order."""
    feeds = tuple(
        msgspec.structs.replace(small_plans.feed(f"f{number}"), setting=setting)
        for number, setting in enumerate(settings)
    )
    steps = [ShowSpeed(feed=0, line=1)]
    steps += [Repeat(times=1, body=(small_plans.send(feed, gap_s),), line=2) for feed in order]
    return small_plans.plan(*steps, feeds=feeds, most_balls=len(order) + 1)


def placed(plan: Plan, profile: Profile) -> Plan:
    """The plan for a launcher with this profile."""
    hashed = profile_hash(profile)
    launchers = tuple(msgspec.structs.replace(each, profile_hash=hashed) for each in plan.launchers)
    return msgspec.structs.replace(plan, launchers=launchers)


@dataclass
class Session:
    """What came of one lesson."""

    device: Device
    ending: Ending
    engine: Engine
    balls: list[dict[str, object]]

    def strays(self) -> list[str]:
        """Balls that left otherwise than at the setting they were meant for, and unwritten ones."""
        asked = [ball for ball in self.balls if ball["outcome"] == "left"]
        gone = self.device.hardware.left
        found = [] if len(asked) == len(gone) else [f"{len(gone)} left, {len(asked)} written down"]
        for ball, truth in zip(asked, gone, strict=False):
            meant = self.engine.lesson.plan.feeds[int(str(ball["feed_index"]))].setting
            if not as_meant(truth, meant):
                found.append(f"ball {ball['feed_id']} at {truth}, meant for {meant}")
        return found


def as_meant(truth: Gone, meant: Setting) -> bool:
    """A ball that a stop overtook in the throat may be slower, and is nothing else."""
    looks = truth.aim_deg == pytest.approx((meant.pan_deg, meant.tilt_deg), abs=0.01)
    if truth.stopped:
        return looks and all(map(operator.le, truth.drives, meant.drives))
    return looks and truth.drives == pytest.approx(meant.drives, abs=0.01)


#: What conducts the lesson: whoever presses for the people.
People = Callable[[Engine], Awaitable[None]]


async def conduct(
    plan: Plan,
    address: str,
    stream: Any,
    script: Callable[[Engine, Any], Awaitable[None]] | None,
    people: People,
    profile: Profile | None = None,
) -> Session:
    """A lesson at this address; the port that is opened is ``stream``."""
    if profile is None:
        profile = garage_of(read_mapping(Path(address.removeprefix("mapped:").rpartition("@")[0])))
    plan = placed(plan, profile)

    @asynccontextmanager
    async def port(*_: object) -> AsyncIterator[Any]:
        yield stream

    journal = open_journal(None)
    setting = LessonSetting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
    links = Links(urls=(address,))
    lesson = connect_lesson(plan, [profile], links, journal, setting, fences=OpenFences())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(driver, "_stream", port)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.keep_time)
            async with lesson as engine, anyio.create_task_group() as beside:
                beside.start_soon(people, engine)
                if script is not None:
                    beside.start_soon(script, engine, stream)
                with anyio.fail_after(LONGEST_S):
                    ending = await engine.run()
                beside.cancel_scope.cancel()
            tasks.cancel_scope.cancel()
    rows = journal.rows("SELECT * FROM ball ORDER BY feed_id")
    return Session(stream.device, ending, engine, [dict(row) for row in rows])


async def _run(
    plan: Plan, name: str, delay_s: Callable[[], float], script: Script | None, fixes: int
) -> Session:
    stream = DeviceStream(DEVICES[name](), delay_s)

    async def people(engine: Engine) -> None:
        await AutoOperator(engine, fixes=fixes).operate()

    address = f"mapped:{shipped_folder()}/launchers/mapped/{name}.toml@serial:none"
    return await conduct(plan, address, stream, script, people)


def run_lesson(
    plan: Plan,
    name: str,
    delay_s: Callable[[], float] = lambda: 0.0,
    script: Script | None = None,
    fixes: int = 0,
) -> Session:
    """One lesson on the virtual clock; whatever the device says comes ``delay_s()`` later."""
    return in_virtual_time(_run, plan, name, delay_s, script, fixes)


def _draw_setting(chance: random.Random) -> Setting:
    """Numbers that each of the devices can spell exactly."""
    return Setting(
        drives=(40.0 * chance.randrange(25, 75), 40.0 * chance.randrange(25, 75)),
        pan_deg=float(chance.randrange(-15, 16)),
        tilt_deg=float(chance.randrange(0, 31)),
    )


def drawn(seed: int) -> tuple[Session, int]:
    """A lesson drawn from a seed, often held or stopped on the way, and how many balls it has."""
    chance = random.Random(f"mapped {seed}")
    settings = [_draw_setting(chance) for _ in range(chance.randrange(2, 5))]
    order = [chance.randrange(len(settings)) for _ in range(chance.randrange(3, 8))]
    plan = plan_of(settings, order, chance.uniform(1.8, 4.0))
    most_s = chance.choice((0.0, 0.01, 0.1, 0.3, 0.5))
    even = chance.random() < 0.5
    act = chance.choice((None, Act.HOLD, Act.STOP))
    after, wait_s = chance.randrange(1, 3), chance.uniform(0.0, 4.0)

    async def coach(engine: Engine, _stream: DeviceStream) -> None:
        await see_balls(engine, after)
        await see_phase(engine, Phase.RUNNING)
        await anyio.sleep(wait_s)
        if act is not None and engine.lesson.phase is Phase.RUNNING:
            await say(engine, act)

    def late_s() -> float:
        return most_s if even else chance.uniform(0.0, most_s)

    name = list(DEVICES)[seed % len(DEVICES)]
    return run_lesson(plan, name, late_s, coach, fixes=50), len(order) + 1
