"""A launcher that says that it is armed after it acknowledged a stop or a hold: its later word
counts. It is shown as stopping, and told to stop again."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import anyio
import pytest
from feedscript_drivers.wire.protocol import Times
from feedscript_simulator.machine import Machine

from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Collect, Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.rehearsing import Rig, Run, lesson_plan, rehearse

#: Told nothing, it stops by itself after so long.
WATCHDOG_S = Times.WATCHDOG / 1000
Reach = Callable[[Engine], Awaitable[None]]
PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    Repeat(times=4, body=(send(0, 4.0),), line=2),
    Collect(break_s=300.0, line=3),
    Repeat(times=4, body=(send(0, 4.0),), line=4),
)


def armed_by_its_own_fault(machine: Machine) -> None:
    """As by an erring firmware, that waits for a person's act though nobody asked it to."""
    machine.state = LauncherState.AWAITING_ARM
    machine.turn_switch(False)
    machine.turn_switch(True)


async def stopped(engine: Engine) -> None:
    await see_balls(engine, 3)
    await say(engine, Act.STOP)
    await see_phase(engine, Phase.STOPPED)


async def held(engine: Engine) -> None:
    await see_balls(engine, 3)
    await say(engine, Act.HOLD)
    await see_phase(engine, Phase.HELD)


async def collecting(engine: Engine) -> None:
    await see_phase(engine, Phase.COLLECTING)


def armed_in(reach: Reach) -> tuple[Run, Phase]:
    """The lesson in which it was armed there, and the phase after that."""
    rig, after = Rig(), []

    async def coach(engine: Engine) -> None:
        await reach(engine)
        await anyio.sleep(5.0)
        machine = rig.stand_ins[0].end.machine
        armed_by_its_own_fault(machine)
        armed_s = anyio.current_time()
        view = await see(engine, lambda state: state.stopping)
        assert view.alarm
        view = await see(engine, lambda state: not state.stopping)
        assert anyio.current_time() - armed_s < WATCHDOG_S, "it was not told, and heard nothing"
        assert machine.state in (LauncherState.STOPPING, LauncherState.SAFE)
        after.append(view.phase)
        await say(engine, Act.QUIT)

    run = rehearse(PLAN, coach, rig=rig)
    return run, after[0]


@pytest.mark.parametrize(
    ("reach", "phase"),
    [
        (stopped, Phase.STOPPED),
        (held, Phase.STOPPED),  # nobody counts on that hold any more
        (collecting, Phase.COLLECTING),
    ],
)
def test_it_is_shown_as_stopping_and_stopped_again(reach: Reach, phase: Phase) -> None:
    run, found = armed_in(reach)
    assert found is phase
    assert [one.slug for one in run.ending.diagnostics] == ["armed-after-stop"]
