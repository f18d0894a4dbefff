"""A lesson goes on from its journal after a crash among stations, a power cut, a lost link.

The first host conducts until it dies or loses its launchers; the second has the journal alone, and
whatever the launchers remember. A person is asked of balls that nobody knows of, and looks.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from contextlib import AsyncExitStack
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
from feedscript.launcher.port import ConnectOptions
from feedscript.plan.model import Collect, Plan, ShowSpeed
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
