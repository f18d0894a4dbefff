"""A host that dies at any instant: no ball lost from the journal, none twice, the plan's counts.

The launcher lives on and remembers; only the journal, as it was at that instant, and the launcher
are there for the second host.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import anyio
import pytest
import trio
import trio.testing
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import Faults
from feedscript_simulator.links.in_process import attach
from feedscript_simulator.stand_in import StandIn, build

from feedscript.diagnostics import Diagnostic
from feedscript.journal.retention import back_up
from feedscript.journal.store import open_journal
from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import Collect, Plan, Repeat, Say, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.resume import NOTHING_TO_RESUME, find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from tests.plan.small_plans import rest, send
from tests.session.rehearsing import GARAGE, Cut, OpenFences, lesson_plan

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    Say(text="x", line=2),
    Repeat(times=4, body=(send(0, 4.0), send(1, 4.0)), line=3),
    rest(3.0),
    Collect(line=4),
    Repeat(times=3, body=(send(1, 3.0),), line=5),
)
BALLS = 12  # the whole lesson takes 52.7 s
SETTING = Setting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
OPTIONS = ConnectOptions(profile=GARAGE, session=7)


async def first_host(stand_in: StandIn, folder: Path, dies_s: float, plan: Plan = PLAN) -> None:
    journal = open_journal(folder / "first.sqlite")
    async with attach(stand_in, Faults()) as wire:
        line = Cut(wire)
        async with open_launcher(line, OPTIONS, "sim:", trust=Trust.PLAIN) as port:
            lesson = begin_lesson(plan, [GARAGE], journal, OpenFences(), SETTING, 7)
            engine = Engine(lesson, [port], [GARAGE])
            async with anyio.create_task_group() as tasks:
                tasks.start_soon(AutoOperator(engine).operate)
                tasks.start_soon(engine.run)
                await anyio.sleep(dies_s)
                line.cut = True
                back_up(folder / "first.sqlite", folder / "second.sqlite")
                tasks.cancel_scope.cancel()
    journal.close()


async def second_host(stand_in: StandIn, folder: Path) -> list[tuple[int, int, str | None]]:
    journal = open_journal(folder / "second.sqlite")
    async with (
        attach(stand_in, Faults()) as wire,
        open_launcher(wire, OPTIONS, "sim:", trust=Trust.PLAIN) as port,
    ):
        lesson = resume_lesson(find_broken(journal, 1), journal, OpenFences(), SETTING)
        engine = Engine(lesson, [port], [GARAGE])
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine, fixes=3).operate)
            with anyio.fail_after(1800):
                ending = await engine.run()
            tasks.cancel_scope.cancel()
        assert ending.finished, ending
    rows = journal.rows("SELECT feed_id, ball_no, outcome FROM ball ORDER BY feed_id")
    journal.close()
    return [(row["feed_id"], row["ball_no"], row["outcome"]) for row in rows]


async def die_and_go_on(folder: Path, dies_s: float, plan: Plan = PLAN, count: int = BALLS) -> None:
    stand_in = build(GARAGE, powered_s=anyio.current_time())
    await first_host(stand_in, folder, dies_s, plan)
    await anyio.sleep(5.0)
    balls = await second_host(stand_in, folder)
    left = [(feed_id, number) for feed_id, number, outcome in balls if outcome == "left"]
    assert [number for _, number in left] == list(range(1, count + 1))
    assert [ball.feed_id for ball in stand_in.departures] == [feed_id for feed_id, _ in left]


def check(folder: Path, dies_s: float, plan: Plan = PLAN, count: int = BALLS) -> None:
    clock = trio.testing.MockClock(autojump_threshold=0)
    trio.run(die_and_go_on, folder, dies_s, plan, count, clock=clock)


@pytest.mark.parametrize("dies_s", [1.0, 4.9, 5.3, 9.5, 17.6, 30.02, 44.0, 52.0])
def test_a_host_that_dies_is_followed_without_loss_or_repeat(tmp_path: Path, dies_s: float) -> None:
    check(tmp_path, dies_s)


class Shut(OpenFences):
    """Refuses every start, as a profile would that was changed meanwhile."""

    def refusals(self, plan: Plan, profiles: Sequence[Profile]) -> list[Diagnostic]:
        return [NOTHING_TO_RESUME.report("the profile was changed")]


async def die_and_come_back_late(folder: Path, dies_s: float) -> list[tuple[float, float]]:
    """Ten minutes later a second host asks what became of the last balls, and is refused.

    For each ball that left: when it did by the journal, and by the launcher's own account.
    """
    powered_s = anyio.current_time()
    stand_in = build(GARAGE, powered_s=powered_s)
    await first_host(stand_in, folder, dies_s)
    await anyio.sleep(600.0)
    journal = open_journal(folder / "second.sqlite")
    later = Setting(
        source="invented.feed", rehearsal=True, wall_utc_s=1e9 + anyio.current_time() - powered_s
    )
    async with (
        attach(stand_in, Faults()) as wire,
        open_launcher(wire, OPTIONS, "sim:", trust=Trust.PLAIN) as port,
    ):
        lesson = resume_lesson(find_broken(journal, 1), journal, Shut(), later)
        engine = Engine(lesson, [port], [GARAGE])
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(engine.run)
            await anyio.sleep(60.0)
            tasks.cancel_scope.cancel()
    rows = journal.rows("SELECT left_utc_s FROM ball WHERE outcome = 'left' ORDER BY feed_id")
    journal.close()
    truth = [1e9 + ball.device_ms / 1000 for ball in stand_in.departures]
    return list(zip([row["left_utc_s"] for row in rows], truth, strict=True))


@pytest.mark.parametrize("dies_s", [9.5, 13.4, 17.6, 21.5])
def test_a_ball_found_in_memory_stands_at_the_moment_it_left(tmp_path: Path, dies_s: float) -> None:
    clock = trio.testing.MockClock(autojump_threshold=0)
    balls = trio.run(die_and_come_back_late, tmp_path, dies_s, clock=clock)
    assert balls
    for kept_utc_s, true_utc_s in balls:
        assert kept_utc_s == pytest.approx(true_utc_s, abs=0.5)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(200))
def test_two_hundred_random_instants(tmp_path: Path, seed: int) -> None:
    check(tmp_path, random.Random(seed).uniform(0.5, 52.0))
