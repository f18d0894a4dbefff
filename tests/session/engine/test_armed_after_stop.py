"""A launcher that says that it is armed after it acknowledged a stop or a hold: its later word
counts. It is shown as stopping, and told to stop again."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

import anyio
import pytest
from anyio.abc import ByteStream
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


# Its fault may also be that it arms without a word: only its answer about its state shows it.


#: So long takes a line to the launcher.
LATE_S = 0.02


@dataclass
class ArmsUnheard(ByteStream):
    """A line whose far end is armed, and has reported nothing, when it is asked for its state the
    first, second, ... time of these."""

    inner: ByteStream
    machine: Callable[[], Machine]
    armed_when_asked: range
    asked: int = 0
    told_to_stop: int = 0  # since it was armed first

    async def send(self, item: bytes) -> None:
        await anyio.sleep(LATE_S)
        self.asked += b" STAT*" in item
        self.told_to_stop += b" STOP " in item and self.asked >= self.armed_when_asked.start
        if b" STAT*" in item and self.asked in self.armed_when_asked:
            self.machine().state = LauncherState.ARMED
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self.inner.receive(max_bytes)

    async def send_eof(self) -> None:
        await self.inner.send_eof()

    async def aclose(self) -> None:
        await self.inner.aclose()


def armed_unheard(armed_when_asked: range, after: Phase) -> tuple[Run, float]:
    """The lesson, and for how long it was shown as stopping."""
    rig, took_s = Rig(), []
    rig.relay = lambda inner: ArmsUnheard(
        inner, lambda: rig.stand_ins[0].end.machine, armed_when_asked
    )

    async def coach(engine: Engine) -> None:
        if armed_when_asked.start == STOPPED:
            await see_balls(engine, 3)
            await say(engine, Act.STOP)
        view = await see(engine, lambda state: state.stopping and bool(state.troubles))
        armed_s = anyio.current_time()
        assert view.alarm
        await see_phase(engine, after)
        line, machine = rig.relays[0], rig.stand_ins[0].end.machine
        assert line.asked > armed_when_asked[-1], "nobody asked whether it had stopped now"
        assert line.told_to_stop >= len(armed_when_asked)
        assert machine.state in (LauncherState.STOPPING, LauncherState.SAFE)
        took_s.append(anyio.current_time() - armed_s)
        await say(engine, Act.QUIT)

    return rehearse(PLAN, coach, rig=rig), took_s[0]


#: Which time it is asked for its state as the lesson begins, before it is armed, and after a stop.
BEGINNING, ARMING, STOPPED = 1, 2, 3


@pytest.mark.parametrize(
    ("armed_when_asked", "after"),
    [
        (range(BEGINNING, BEGINNING + 1), Phase.SETTING_UP),
        (range(ARMING, ARMING + 1), Phase.STOPPED),
        (range(STOPPED, STOPPED + 1), Phase.STOPPED),
        (range(STOPPED, STOPPED + 2), Phase.STOPPED),  # and arms itself once more
    ],
)
def test_one_that_says_so_only_when_it_is_asked_is_stopped_again_too(
    armed_when_asked: range, after: Phase
) -> None:
    run, took_s = armed_unheard(armed_when_asked, after)
    assert took_s < WATCHDOG_S, "it was not told, and heard nothing"
    assert [one.slug for one in run.ending.diagnostics] == ["armed-after-stop"]


def test_it_is_shown_as_stopping_for_as_long_as_it_says_that_it_is_armed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nobody counts on the watchdog of a launcher that goes on to answer so."""
    monkeypatch.setattr(Machine, "_silent_ms", lambda _: None)
    _run, took_s = armed_unheard(range(STOPPED, STOPPED + 9), Phase.STOPPED)
    assert took_s > WATCHDOG_S


@pytest.mark.parametrize("reach", [stopped, collecting])
def test_one_that_nobody_asks_says_so_with_its_signs_of_life(
    reach: Reach, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its own watchdog has let it down as well."""
    monkeypatch.setattr(Machine, "_silent_ms", lambda _: None)
    rig = Rig()

    async def coach(engine: Engine) -> None:
        await reach(engine)
        await anyio.sleep(5.0)
        machine = rig.stand_ins[0].end.machine
        machine.state, armed_s = LauncherState.ARMED, anyio.current_time()
        await see(engine, lambda state: state.stopping)
        assert anyio.current_time() - armed_s < 1.5 * Times.HEARTBEAT_SAFE / 1000
        await see(engine, lambda state: not state.stopping)
        assert machine.state in (LauncherState.STOPPING, LauncherState.SAFE)
        await say(engine, Act.QUIT)

    run = rehearse(PLAN, coach, rig=rig)
    assert [one.slug for one in run.ending.diagnostics] == ["armed-after-stop"]
