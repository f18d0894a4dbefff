"""One ball on its way: written down first, asked for once, and what became of it never guessed."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

import anyio
import pytest
from feedscript_drivers.pages import NO_ANSWER
from feedscript_drivers.wire.protocol import Number
from feedscript_drivers.wire.wire_launcher import WireLauncher, setting_fields
from feedscript_simulator.plant import Plant, rates_of
from feedscript_simulator.stored import stored_for
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.port import (
    Description,
    Event,
    FeedOutcome,
    LauncherError,
    LauncherPort,
    LauncherState,
    Left,
    Outcome,
    ScheduledFeed,
)
from feedscript.launcher.setting import Setting
from feedscript.plan.interpreter.actions import SendBall
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.feed_scheduler import NEVER_ASKED_FOR, ready_s
from feedscript.session.engine.launcher_handle import Ball, LauncherHandle
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls
from tests.session.rehearsing import GARAGE, Rig, Run, lesson_plan, rehearse

SHOW = ShowSpeed(feed=0, line=1)
TEN = Repeat(times=5, body=(send(0, 4.0), send(1, 4.0)), line=2)
BALLS = 11


def phases(run: Run) -> str:
    return " ".join(str(r["data"]) for r in run.journal.rows("SELECT data FROM entry"))


def all_left_once(run: Run, rig: Rig) -> None:
    """By the launcher's own count, and by the journal's."""
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert len(rig.thrown_s(0)) == len(run.left()) == BALLS
    assert [ball["ball_no"] for ball in run.left()] == list(range(1, BALLS + 1))


# -- the intent ---------------------------------------------------------------------------


def test_no_ball_is_asked_for_before_its_intent_is_on_the_disk(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known: list[bool] = []
    schedule = WireLauncher.schedule
    rig = Rig(disk_s=0.15)
    run: list[Engine] = []

    async def watched(port: WireLauncher, feed: ScheduledFeed) -> None:
        rows = run[0].lesson.journal.rows("SELECT feed_id FROM ball")
        known.append(feed.feed_id in [row["feed_id"] for row in rows])
        await schedule(port, feed)

    async def coach(engine: Engine) -> None:
        run.append(engine)

    monkeypatch.setattr(WireLauncher, "schedule", watched)
    all_left_once(rehearse(lesson_plan(SHOW, TEN), coach, rig=rig), rig)
    assert known == [True] * BALLS


@pytest.mark.parametrize("act", [Act.STOP, Act.HOLD])
@pytest.mark.parametrize("after_s", [0.0, 0.1, 0.35])
def test_of_a_ball_that_was_never_asked_for_nobody_is_asked(act: Act, after_s: float) -> None:
    """The stop comes while the disk is still writing that the ball shall be asked for."""
    rig, asked = Rig(disk_s=0.4), []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        launcher = engine.lesson.launchers[0]
        under_way = max(launcher.balls)
        while max(launcher.balls, default=0) <= under_way:  # it is seen only once it is written
            await anyio.sleep(0.01)
        await anyio.sleep(after_s)
        await say(engine, act)
        state = await see(engine, lambda s: not s.coming and not s.stopping)
        asked.append(state.asked_about)
        await anyio.sleep(1.0)
        asked.append(engine.view.asked_about)
        await say(engine, Act.SET_UP_AGAIN if act is Act.STOP else Act.GO_ON)

    run = rehearse(lesson_plan(SHOW, TEN), coach, rig=rig)
    assert asked == [(), ()]
    assert NEVER_ASKED_FOR in [ball["reason"] for ball in run.balls()]
    assert Phase.ASKING.value not in phases(run)
    all_left_once(run, rig)


# -- what is not heard --------------------------------------------------------------------


class NoAnswerTo:
    """A port at which one feed is taken, and its answer given up just before the ball leaves."""

    def __init__(self, port: LauncherPort, feed_id: int) -> None:
        self._port, self._feed_id = port, feed_id

    def __getattr__(self, name: str) -> Any:
        return getattr(self._port, name)

    async def schedule(self, feed: ScheduledFeed) -> None:
        await self._port.schedule(feed)
        if feed.feed_id == self._feed_id:
            clock = await self._port.measure_clock()
            await anyio.sleep_until(feed.leave_at_device_s - clock.offset_s - 0.02)
            raise LauncherError(NO_ANSWER.report("FEED was not answered"))


def test_a_feed_that_was_not_answered_is_not_taken_for_not_sent() -> None:
    """The launcher took it: asked for again under another number it would leave twice."""
    rig = Rig(port=lambda port: NoAnswerTo(port, feed_id=5))
    all_left_once(rehearse(lesson_plan(SHOW, TEN), rig=rig), rig)


class DeafTo:
    """A port from which the event of one ball is never heard."""

    def __init__(self, port: LauncherPort, feed_id: int) -> None:
        self._port, self._feed_id = port, feed_id

    def __getattr__(self, name: str) -> Any:
        return getattr(self._port, name)

    async def events(self) -> AsyncIterator[Event]:
        async for event in self._port.events():
            if not (isinstance(event, Left) and event.feed_id == self._feed_id):
                yield event


def test_a_ball_of_which_nothing_is_heard_is_asked_about_in_time() -> None:
    """The launcher remembers it; without asking, the lesson would wait for it without end."""
    rig = Rig(port=lambda port: DeafTo(port, feed_id=5))
    run = rehearse(lesson_plan(SHOW, TEN), rig=rig)
    (ball,) = [ball for ball in run.balls() if ball["feed_id"] == 5]
    assert ball["outcome"] == "left"
    assert float(str(ball["outcome_utc_s"])) - float(str(ball["left_utc_s"])) < 4.0
    all_left_once(run, rig)


class NoMoreEvents:
    """A port that ends its events with a ball, and does not say that the link is lost."""

    def __init__(self, port: LauncherPort, feed_id: int) -> None:
        self._port, self._feed_id = port, feed_id

    def __getattr__(self, name: str) -> Any:
        return getattr(self._port, name)

    async def events(self) -> AsyncIterator[Event]:
        async for event in self._port.events():
            yield event
            if isinstance(event, Left) and event.feed_id == self._feed_id:
                return


def test_a_launcher_that_tells_no_more_is_no_launcher_to_go_on_with() -> None:
    """Passed over, it would be neither held nor disarmed, and the court told that it is off."""
    rig = Rig(port=lambda port: NoMoreEvents(port, feed_id=4))
    run = rehearse(lesson_plan(SHOW, TEN), rig=rig)
    assert run.ending.phase is Phase.BROKEN_OFF
    assert "tells nothing any more" in run.ending.cause
    assert max(ball.feed_id for ball in rig.stand_ins[0].departures) <= 5
    assert rig.stand_ins[0].end.machine.state not in (LauncherState.ARMED, LauncherState.HELD)


class Silent:
    """A launcher that leaves every ball out of what it tells, as if it were still queued."""

    description = Description(
        name="invented",
        serial="1",
        protocol=1,
        profile_hash="",
        capabilities=frozenset(),
        watchdog_s=1.0,
        queue_depth=4,
        hold_limit_s=60.0,
    )

    async def history(self, after_feed_id: int, up_to_feed_id: int) -> tuple[FeedOutcome, ...]:
        return ()


class Listening:
    def __init__(self) -> None:
        self.told: list[tuple[int, Outcome | None]] = []

    def ball_settled(
        self, launcher: LauncherHandle, ball: Ball, outcome: Outcome, left_s: float, reason: str
    ) -> None:
        self.told.append((ball.feed_id, outcome))

    def event_heard(self, launcher: LauncherHandle, event: Event) -> None:
        raise AssertionError(event)

    def stop_is_owed(self) -> None:
        """Nobody looks."""


def a_launcher() -> LauncherHandle:
    return LauncherHandle(index=0, name="l0", port=Silent(), profile=GARAGE, listener=Listening())  # type: ignore[arg-type]


def a_ball(feed_id: int, setting: Setting, lesson_s: float = 0.0) -> Ball:
    action = SendBall(
        at_s=0.0, line=1, station="", ball=feed_id, feed=0, launcher=0, player=None, after_s=0.0,
        series=0,
    )  # fmt: skip
    return Ball(
        feed_id=feed_id, action=action, place=("", 0), setting=setting, lesson_s=lesson_s,
        device_s=0.0, host_s=0.0, player=None,
    )  # fmt: skip


def test_what_a_launcher_does_not_tell_of_a_ball_stays_unknown() -> None:
    launcher = a_launcher()

    async def ask() -> None:
        launcher.queued(a_ball(1, NEAR))
        launcher.queued(a_ball(2, FAR))
        await launcher.ask_outcomes()

    anyio.run(ask)
    assert launcher.listener.told == [(1, Outcome.UNKNOWN), (2, Outcome.UNKNOWN)]  # type: ignore[attr-defined]
    assert [ball.feed_id for ball in launcher.unknown()] == [1, 2]


# -- when it can be ready -----------------------------------------------------------------

NEAR = Setting(drives=(1900.0, 1700.0), pan_deg=2.0, tilt_deg=8.0)
FAR = Setting(drives=(3900.0, 3400.0), pan_deg=15.0, tilt_deg=3.0)
SLOW = Setting(drives=(1200.0, 1300.0), pan_deg=-12.0, tilt_deg=12.0)
SETTINGS = (NEAR, FAR, SLOW)
PLAN = lesson_plan(SHOW, TEN)


def launchers_own(*moves: tuple[float, Setting]) -> float:
    """When the launcher's moving parts have arrived, if they are told these settings then."""
    settled = stored_for(GARAGE).get(Number.SETTLE_RPM)
    plant = Plant(rates_of(GARAGE), settled)
    for at_s, setting in moves:
        plant.aim(setting_fields(setting), at_s * 1000)
    return plant.ready_ms() / 1000


@given(
    before=st.sampled_from(SETTINGS),
    taken_back=st.lists(st.sampled_from(SETTINGS), max_size=2),
    wanted=st.sampled_from(SETTINGS),
    moved_s=st.floats(0.0, 6.0),
    idle_s=st.floats(0.0, 20.0),
)
def test_no_ball_is_wanted_before_the_launcher_can_have_arrived(
    before: Setting, taken_back: list[Setting], wanted: Setting, moved_s: float, idle_s: float
) -> None:
    """A ball left 100 s into the lesson; others were queued for a while, taken back, and then
    nothing was asked for a while. The launcher moves only when it is told."""
    launcher, left_s = a_launcher(), 100.0
    moves = [(0.0, before)]

    async def so_far() -> None:
        launcher.queued(a_ball(1, before, left_s))
        launcher.settle(1, Outcome.LEFT, left_s)
        for number, setting in enumerate(taken_back, start=2):
            launcher.queued(a_ball(number, setting, left_s + 10.0 * number))
        for number in range(2, 2 + len(taken_back)):
            launcher.settle(number, Outcome.NOT_SENT, None)

    anyio.run(so_far)
    if taken_back:
        moves.append((left_s, taken_back[0]))  # it turns to the head of its queue at once
    now_s = left_s + moved_s + idle_s
    asked_s = ready_s(PLAN, launcher, wanted, now_s)
    assert asked_s >= launchers_own(*moves, (now_s, wanted)) - 1e-3
