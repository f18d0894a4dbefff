"""A lesson goes on from its journal after a crash among stations, a power cut, a lost link.

The first host conducts until it dies or loses its launchers; the second has the journal alone, and
whatever the launchers remember. A person is asked of balls that nobody knows of, and looks.
"""

from __future__ import annotations

import math
import random
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
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

from feedscript.journal.retention import back_up
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.discovery import Address
from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.plan.model import Collect, Plan, ShowSpeed
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import Answer, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.engine.test_lanes import fork, lane
from tests.session.rehearsing import GARAGE, Cut, OpenFences, lesson_plan

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    fork(lane(0, times=3), lane(1, times=5, gap_s=3.0)),
    Collect(line=8),
    send(0, 4.0),
    launchers=2,
)
BALLS = (1 + 6 + 1, 1 + 10)  # of each launcher
LASTS_S = 50.0
SETTING = Setting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
OPTIONS = ConnectOptions(profile=GARAGE, session=7)

Trouble = Callable[[list[StandIn], list[Cut]], bool]


def crash(stand_ins: list[StandIn], lines: list[Cut]) -> bool:
    """Nothing more crosses any line; the host is not there to see it."""
    for line in lines:
        line.cut = True
    return True


def power_cut(stand_ins: list[StandIn], lines: list[Cut]) -> bool:
    """The second launcher loses its power, and with it what it remembers of the lesson."""
    stand_ins[1].end.power_cycle(anyio.current_time())
    stand_ins[1].changed()
    return False


def unplug(stand_ins: list[StandIn], lines: list[Cut]) -> bool:
    lines[1].cut = True
    return False


async def conduct(
    stand_ins: list[StandIn],
    journal: Journal,
    trouble: tuple[float, Trouble] | None,
    die: Callable[[], None],
    *,
    leaves_after_s: float = math.inf,
) -> Ending | None:
    """One host's part of the lesson, which a person ends after so long; None when it died."""
    profiles = [GARAGE] * len(stand_ins)
    async with AsyncExitStack() as stack:
        lines = [Cut(await stack.enter_async_context(attach(s, Faults()))) for s in stand_ins]
        ports = [
            await stack.enter_async_context(open_launcher(line, OPTIONS, "sim:", trust=Trust.PLAIN))
            for line in lines
        ]
        if trouble is not None:
            lesson = begin_lesson(PLAN, profiles, journal, OpenFences(), SETTING, 7)
        else:
            lesson = resume_lesson(find_broken(journal, 1), journal, OpenFences(), SETTING)
        engine = Engine(lesson, ports, profiles)
        endings: list[Ending] = []
        async with anyio.create_task_group() as tasks:

            async def run() -> None:
                endings.append(await engine.run())
                tasks.cancel_scope.cancel()

            tasks.start_soon(run)
            tasks.start_soon(AutoOperator(engine).operate)
            tasks.start_soon(look, engine, stand_ins)
            tasks.start_soon(leave, engine, leaves_after_s)
            if trouble is not None:
                await anyio.sleep(trouble[0])
                if trouble[1](stand_ins, lines):
                    die()
                    tasks.cancel_scope.cancel()
            with anyio.fail_after(600.0):
                await anyio.sleep_forever()
    return endings[0] if endings else None


async def leave(engine: Engine, after_s: float) -> None:
    await anyio.sleep(after_s)
    await engine.command(SimpleCommand(act=Act.STOP))
    await engine.command(SimpleCommand(act=Act.QUIT))


async def look(engine: Engine, stand_ins: list[StandIn]) -> None:
    """The person beside the launchers sees what became of each ball, and sets up again."""
    async for state in engine.views():
        for ball in state.asked_about:
            left = {gone.feed_id for gone in stand_ins[ball.launcher].departures}
            await engine.command(Answer(feed_id=ball.feed_id, left=ball.feed_id in left))
        if state.phase is Phase.STOPPED:
            await engine.command(SimpleCommand(act=Act.SET_UP_AGAIN))


async def go_through(folder: Path, trouble: Trouble, at_s: float) -> None:
    stand_ins = [build(GARAGE, seed=n, powered_s=anyio.current_time()) for n in range(2)]
    first, second = folder / "first.sqlite", folder / "second.sqlite"
    journal = open_journal(first)
    ended = await conduct(stand_ins, journal, (at_s, trouble), lambda: back_up(first, second))
    assert ended is None or ended.phase is Phase.BROKEN_OFF, ended
    if not second.exists():
        back_up(first, second)
    journal.close()
    await anyio.sleep(5.0)
    journal = open_journal(second)
    ended = await conduct(stand_ins, journal, None, lambda: None)
    assert ended is not None
    assert ended.finished, ended
    compare(journal, stand_ins, PLAN)
    journal.close()


def compare(journal: Journal, stand_ins: list[StandIn], plan: Plan) -> None:
    """Every launcher threw what the plan has, once, and the journal says so."""
    for number in range(len(plan.launchers)):
        rows = journal.rows(
            "SELECT feed_id, ball_no FROM ball WHERE launcher = ? AND outcome = 'left'"
            " ORDER BY feed_id",
            (number,),
        )
        assert [row["ball_no"] for row in rows] == list(range(1, BALLS[number] + 1))
        thrown = [ball.feed_id for ball in stand_ins[number].departures]
        assert thrown == [row["feed_id"] for row in rows]
    open_balls = "SELECT feed_id FROM ball WHERE outcome IS NULL OR outcome = 'unknown'"
    assert journal.rows(open_balls) == []


def check(folder: Path, trouble: Trouble, at_s: float) -> None:
    clock = trio.testing.MockClock(autojump_threshold=0)
    trio.run(go_through, folder, trouble, at_s, clock=clock)


TROUBLES = pytest.mark.parametrize("trouble", [crash, power_cut, unplug])


@TROUBLES
@pytest.mark.parametrize("at_s", [21.7])
def test_the_lesson_goes_on_where_it_was(tmp_path: Path, trouble: Trouble, at_s: float) -> None:
    check(tmp_path, trouble, at_s)


@pytest.mark.long
@TROUBLES
@pytest.mark.parametrize("seed", range(60))
def test_at_random_instants(tmp_path: Path, trouble: Trouble, seed: int) -> None:
    check(tmp_path, trouble, random.Random(seed).uniform(0.5, LASTS_S - 8.0))


async def go_on_crossed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both launchers know the lesson and have its profile; their addresses are given crossed."""
    stand_ins = [build(GARAGE, seed=n, powered_s=anyio.current_time()) for n in range(2)]
    for stand_in, serial in zip(stand_ins, ("west-1", "east-2"), strict=True):
        stand_in.end.make.stored.serial = serial
    first, second = folder / "first.sqlite", folder / "second.sqlite"
    journal = open_journal(first)
    await conduct(stand_ins, journal, (21.7, crash), lambda: back_up(first, second))
    journal.close()
    thrown = [len(one.departures) for one in stand_ins]
    assert all(thrown)
    await anyio.sleep(5.0)

    @asynccontextmanager
    async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
        async with (
            attach(stand_ins[int(address)], Faults()) as line,
            open_launcher(line, options, address, trust=Trust.PLAIN) as port,
        ):
            yield port

    monkeypatch.setattr(
        "feedscript.session.engine.connect.driver_for",
        lambda url: (connect, Address("try", url.partition(":")[2])),
    )
    journal = open_journal(second)
    unsettled = "SELECT feed_id FROM ball WHERE outcome IS NULL"
    open_balls = journal.rows(unsettled)
    assert open_balls
    for _ in range(2):  # a refusal is no proof that they stand so
        with pytest.raises(LauncherError) as refused:
            await _go_on(journal, "try:1", "try:0")
        told = refused.value.diagnostic
        assert (told.slug, "east-2" in told.message) == ("launchers-differ", True)
        assert [len(one.departures) for one in stand_ins] == thrown
        assert journal.rows(unsettled) == open_balls
    ended = await _go_on(journal, "try:0", "try:1")
    assert ended.finished, ended
    compare(journal, stand_ins, PLAN)
    journal.close()


async def _go_on(journal: Journal, *urls: str) -> Ending:
    broken, links = find_broken(journal, 1), Links(urls=urls)
    async with connect_lesson(
        PLAN, [GARAGE] * 2, links, journal, SETTING, broken=broken, fences=OpenFences()
    ) as engine:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine).operate)
            with anyio.fail_after(600.0):
                ending = await engine.run()
            tasks.cancel_scope.cancel()
        return ending


def test_launchers_whose_addresses_are_crossed_do_not_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = trio.testing.MockClock(autojump_threshold=0)
    trio.run(go_on_crossed, tmp_path, monkeypatch, clock=clock)
