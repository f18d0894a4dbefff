"""A break's clock goes on, whatever is between: a stop, or a host that died."""

from __future__ import annotations

from pathlib import Path

import anyio
import pytest
import trio
import trio.testing
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import Faults
from feedscript_simulator.links.in_process import attach
from feedscript_simulator.stand_in import build

from feedscript.journal.store import open_journal
from feedscript.plan.model import Collect, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView
from tests.plan.small_plans import send
from tests.session.coach import say, see
from tests.session.engine.test_resume import OPTIONS, first_host
from tests.session.rehearsing import GARAGE, OpenFences, lesson_plan, rehearse

BREAK_S = 180.0
PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    send(0, 4.0),
    Collect(words="water", break_s=BREAK_S, line=2),
    send(0, 4.0),
    Collect(words="water", break_s=BREAK_S, line=4),
    send(0, 4.0),
)


def test_after_a_stop_in_a_break_what_is_left_of_it_is_left_and_the_next_is_whole() -> None:
    left_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await see(engine, lambda view: view.phase is Phase.COLLECTING)
        await anyio.sleep(50.0)
        await say(engine, Act.STOP)
        await anyio.sleep(30.0)
        await say(engine, Act.SET_UP_AGAIN)
        view = await see(engine, lambda view: view.phase is Phase.COLLECTING)
        left_s.append(view.break_s or 0.0)
        await see(engine, lambda view: view.balls_left == 3)
        view = await see(engine, lambda view: view.phase is Phase.COLLECTING)
        left_s.append(view.break_s or 0.0)

    run = rehearse(PLAN, coach)
    assert run.ending.finished
    assert BREAK_S - 90.0 < left_s[0] <= BREAK_S - 80.0
    assert left_s[1] == pytest.approx(BREAK_S, abs=0.1)


async def _died_and_taken_up(folder: Path, later_s: float) -> float:
    """How much of the break the second host leaves, so long after the first one died in it."""
    begun_s = anyio.current_time()
    stand_in = build(GARAGE, powered_s=begun_s)
    await first_host(stand_in, folder, 60.0, PLAN)
    await anyio.sleep(later_s)
    journal = open_journal(folder / "second.sqlite")
    wall_utc_s = 1e9 + anyio.current_time() - begun_s
    setting = Setting(source="invented.feed", rehearsal=True, wall_utc_s=wall_utc_s)
    async with (
        attach(stand_in, Faults()) as wire,
        open_launcher(wire, OPTIONS, "sim:", trust=Trust.PLAIN) as port,
    ):
        lesson = resume_lesson(find_broken(journal, 1), journal, OpenFences(), setting)
        engine = Engine(lesson, [port], [GARAGE])
        async with anyio.create_task_group() as tasks:
            left_s: list[float] = []

            def note(view: LessonView) -> None:
                """What the person at the screen sees, before saying anything to it."""
                if view.break_s is not None:
                    left_s.append(view.break_s)
                    tasks.cancel_scope.cancel()

            tasks.start_soon(AutoOperator(engine, watch=note, fixes=3).operate)
            tasks.start_soon(engine.run)
    journal.close()
    return left_s[0]


@pytest.mark.parametrize(("later_s", "least_s", "most_s"), [(30.0, 70.0, 105.0), (600.0, 0.0, 0.0)])
def test_a_second_host_leaves_what_the_first_one_left_of_it(
    tmp_path: Path, later_s: float, least_s: float, most_s: float
) -> None:
    """The minute that the first host ran, and what lay between, are gone from it."""
    clock = trio.testing.MockClock(autojump_threshold=0)
    left_s = trio.run(_died_and_taken_up, tmp_path, later_s, clock=clock)
    assert least_s <= left_s <= most_s
