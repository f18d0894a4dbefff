"""Small lessons on the stand-in in virtual time: what the engine's tests share.

The plans are invented, made of two real settings of the shipped garage profile; the fences pass
what stands in the plan, since the rules have tests of their own.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass, field

import anyio
import msgspec
import trio
import trio.testing

from feedscript.launcher.discovery import driver_for
from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.profile import Profile, profile_hash
from feedscript.launcher.profile_file import read_profile
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Plan, Step
from feedscript.plan.scene import Player
from feedscript.session.engine import Ending, Engine
from feedscript.session.fences import Fences
from feedscript.session.journal import Journal, open_journal
from feedscript.session.opening import Setting as LessonSetting
from feedscript.session.opening import begin_lesson
from feedscript.session.person import Person
from feedscript.shipped import shipped_folder
from tests.plan import small_plans

A = Setting(drives=(1900.0, 1700.0), pan_deg=2.0, tilt_deg=8.0)
B = Setting(drives=(2100.0, 1500.0), pan_deg=-2.0, tilt_deg=9.0)


def garage() -> Profile:
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    return profile


GARAGE = garage()


def lesson_plan(
    *steps: Step, players: tuple[Player, ...] = (), launchers: int = 1, most_balls: int = 200
) -> Plan:
    """A plan over feeds a and b of each launcher (numbers 0, 1, then 2, 3, ...)."""
    feeds = tuple(
        msgspec.structs.replace(
            small_plans.feed(f"{name}{launcher or ''}", launcher=launcher), setting=setting
        )
        for launcher in range(launchers)
        for name, setting in (("a", A), ("b", B))
    )
    plan = small_plans.plan(*steps, feeds=feeds, players=players, most_balls=most_balls)
    placed = tuple(
        msgspec.structs.replace(each, profile_hash=profile_hash(GARAGE)) for each in plan.launchers
    )
    return msgspec.structs.replace(plan, launchers=placed, title="Invented lesson")


#: A rehearsal that takes longer (in virtual time) waits for something that never comes.
LONGEST_S = 1800.0


class OpenFences:
    """Passes every plan, and every setting that stands in it."""

    def refusals(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[()]:
        return ()

    def covers(self, plan: Plan, launcher: int, setting: Setting) -> bool:
        return any(f.launcher == launcher and f.setting == setting for f in plan.feeds)

    def would_pass(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[()]:
        return ()


Script = Callable[[Engine], Awaitable[None]]


@dataclass
class Run:
    """How a rehearsal went."""

    ending: Ending
    engine: Engine
    journal: Journal
    states: list[object] = field(default_factory=list)

    def balls(self) -> list[dict[str, object]]:
        return [dict(row) for row in self.journal.rows("SELECT * FROM ball ORDER BY feed_id")]

    def left(self) -> list[dict[str, object]]:
        return [ball for ball in self.balls() if ball["outcome"] == "left"]


async def _rehearse(
    plan: Plan, script: Script | None, faults: tuple[str, ...], fences: Fences, late_taps_s: float
) -> Run:
    journal = open_journal(None)
    setting = LessonSetting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
    driver = driver_for("sim:")
    assert isinstance(driver, tuple)
    async with anyio.create_task_group() as links:
        async with AsyncExitStack() as stack:
            ports = [
                await stack.enter_async_context(
                    driver[0]("", ConnectOptions(profile=GARAGE, session=7, seed=i, faults=faults))
                )
                for i in range(len(plan.launchers))
            ]
            lesson = begin_lesson(plan, [GARAGE] * len(ports), journal, fences, setting, 7)
            engine = Engine(lesson, ports, [GARAGE] * len(ports))
            async with anyio.create_task_group() as tasks:
                tasks.start_soon(Person(engine).oblige)
                if script is not None:
                    tasks.start_soon(script, engine)
                with anyio.fail_after(LONGEST_S):
                    ending = await engine.run(late_taps_s)
                tasks.cancel_scope.cancel()
        links.cancel_scope.cancel()
    return Run(ending, engine, journal)


def rehearse(
    plan: Plan,
    script: Script | None = None,
    *,
    faults: tuple[str, ...] = (),
    fences: Fences | None = None,
    late_taps_s: float = 0.0,
) -> Run:
    """Run a plan on the stand-in, on a clock that jumps; ``script`` plays the coach."""
    clock = trio.testing.MockClock(autojump_threshold=0)
    fence = fences or OpenFences()
    return trio.run(_rehearse, plan, script, faults, fence, late_taps_s, clock=clock)
