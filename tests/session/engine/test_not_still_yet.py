"""Nobody is sent to a launcher that says that it is armed, also where the tap comes from a screen
that has not heard of it: the engine itself refuses."""

from __future__ import annotations

import anyio
import pytest
from feedscript_drivers.wire.protocol import Times
from feedscript_simulator.machine import Machine

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import LauncherState
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Command, Confirm, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.session.coach import see, see_phase
from tests.session.engine.test_armed_after_stop import BEGINNING, PLAN, ArmsUnheard
from tests.session.rehearsing import Rig, rehearse


@pytest.fixture(autouse=True)
def without_its_watchdog(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody counts on it here."""
    monkeypatch.setattr(Machine, "_silent_ms", lambda _: None)


async def _is_refused(engine: Engine, command: Command, phase: Phase) -> None:
    found = await engine.command(command)
    assert isinstance(found, Diagnostic)
    assert "has not said yet that it stopped" in found.message
    assert engine.lesson.phase is phase


def test_balls_are_not_collected_in_front_of_one_that_is_armed() -> None:
    rig, checked = Rig(), []

    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.COLLECTING)
        await anyio.sleep(5.0)
        rig.stand_ins[0].end.machine.state = LauncherState.ARMED
        with anyio.fail_after(2 * Times.HEARTBEAT_SAFE / 1000):
            await see(engine, lambda state: state.stopping)
        await _is_refused(engine, SimpleCommand(act=Act.COLLECTED), Phase.COLLECTING)
        await see_phase(engine, Phase.COLLECTING)
        checked.append(True)
        assert await engine.command(SimpleCommand(act=Act.COLLECTED)) is None

    run = rehearse(PLAN, coach, rig=rig)
    assert checked
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics


def test_no_step_of_the_set_up_is_confirmed_at_one_that_is_armed() -> None:
    rig, checked = Rig(), []
    rig.relay = lambda inner: ArmsUnheard(
        inner, lambda: rig.stand_ins[0].end.machine, range(BEGINNING, BEGINNING + 2)
    )

    async def coach(engine: Engine) -> None:
        view = await see(engine, lambda state: state.stopping and state.phase is Phase.SETTING_UP)
        first = Confirm(key=view.set_up[0].key)
        await _is_refused(engine, first, Phase.SETTING_UP)
        assert not engine.lesson.confirmed
        await see(engine, lambda state: not state.stopping)
        checked.append(True)

    run = rehearse(PLAN, coach, rig=rig)
    assert checked
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
