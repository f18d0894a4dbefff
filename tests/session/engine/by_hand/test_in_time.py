"""Balls on request whose time is counted: whatever the coach does, they are over in time, none
comes too soon, and nothing else of the lesson waits for them.

Lessons on the stand-in in virtual time; what is judged is what the stand-in really threw.
"""

from __future__ import annotations

from itertools import pairwise

import anyio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.plan.model import (
    OnRequest,
    Plan,
    Repeat,
    Rest,
    ShowSpeed,
    Station,
    Together,
    Turns,
)
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.phase_handlers import START_S
from feedscript.session.operator.auto_operator import Taps
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.event_log import read_state
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls
from tests.session.engine.by_hand.test_on_request import gaps_s, running, tap
from tests.session.rehearsing import Rig, Run, lesson_plan, rehearse

NOT_BEFORE_S = 3.0
AT_MOST = 4
LASTS_S = 40.0
TWO = (Player(name="Ash"), Player(name="Bay"))
ASKED = OnRequest(at_most=AT_MOST, send=send(0, NOT_BEFORE_S), lasts_s=LASTS_S, line=2)
#: A ball that is shown, balls on request for a time, then one by the clock.
ALONE = lesson_plan(ShowSpeed(feed=0, line=1), ASKED, send(1, 4.0))

#: On request at one station, by the clock at the other, then one more ball of each.
EVERY_S = 6.0
WEST = Station(name="west", launcher=0, players=(0,), body=(ASKED, send(0, 5.0)), line=3)
EAST = Station(
    name="east",
    launcher=1,
    players=(1,),
    body=(Repeat(times=8, body=(send(2, EVERY_S),), line=4),),
    line=4,
)
STATIONS = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Together(stations=(WEST, EAST), for_s=50.0, line=3),
    players=TWO,
    launchers=2,
)


def of(run: Run, launcher: int) -> list[float]:
    """When this launcher's balls left after the shown one, by its own clock."""
    balls = [ball for ball in run.left() if ball["launcher"] == launcher]
    return [float(str(ball["left_device_s"])) for ball in balls][1:]


def assert_replayed(run: Run) -> None:
    lesson = run.engine.lesson
    assert read_state(run.journal, lesson.session_id, lesson.plan) == lesson.state


def assert_in_step(run: Run) -> None:
    """The station by the clock waited for nobody."""
    assert run.ending.finished
    east = of(run, 1)
    assert len(east) == 8
    assert [b - a for a, b in pairwise(east)] == pytest.approx([EVERY_S] * 7, abs=0.01)


def test_they_are_over_after_their_time_and_the_lesson_goes_on_by_itself() -> None:
    run = rehearse(ALONE, taps=None)  # nobody ever taps
    assert run.ending.finished
    assert gaps_s(run) == pytest.approx([START_S + LASTS_S + 4.0], abs=0.05)
    assert len(run.left()) == 2
    assert_replayed(run)


def test_a_coach_who_taps_as_soon_as_may_be_goes_on_after_the_most_of_them() -> None:
    run = rehearse(ALONE, taps=Taps.SOON)
    assert gaps_s(run)[1:] == pytest.approx([NOT_BEFORE_S] * (AT_MOST - 1) + [4.0], abs=0.01)


def test_enough_goes_on_at_once() -> None:
    async def coach(engine: Engine) -> None:
        await running(engine)
        await anyio.sleep(10.0)
        assert await tap(engine) == ""
        await see_balls(engine, 2)
        await say(engine, Act.NEXT)

    run = rehearse(ALONE, coach, taps=None)
    assert run.ending.finished
    assert gaps_s(run)[-1] < 10.0
    assert_replayed(run)


@pytest.mark.parametrize("taps", [None, Taps.SOON, Taps.NEVER])
def test_another_station_keeps_its_clock_whoever_taps_or_not(taps: Taps | None) -> None:
    run = rehearse(STATIONS, taps=taps)
    if taps is not Taps.NEVER:  # to say enough takes a moment, for everybody
        assert_in_step(run)
    assert run.ending.finished
    asked = AT_MOST if taps is Taps.SOON else 0
    assert len(of(run, 0)) == asked + 1
    assert_replayed(run)


def test_enough_at_a_station_leaves_the_other_one_its_series() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        await say(engine, Act.NEXT)

    run = rehearse(STATIONS, coach, taps=None)
    assert run.ending.finished
    assert len(of(run, 1)) == 8
    assert len(of(run, 0)) == 1
    assert_replayed(run)


def test_the_view_says_where_they_come_and_when_they_end() -> None:
    seen: list[tuple[str, float]] = []

    async def coach(engine: Engine) -> None:
        view = await see(engine, lambda one: one.request is not None and one.balls_left >= 3)
        assert view.request is not None
        assert view.request.ends_utc_s is not None
        seen.append((view.request.station, view.request.ends_utc_s - view.utc_s))

    run = rehearse(STATIONS, coach, taps=None)
    ((station, left_s),) = seen
    assert station == "west"
    assert 0.0 < left_s < LASTS_S
    assert run.ending.finished


@pytest.mark.parametrize("by", [Act.HOLD, Act.STOP])
def test_a_pause_is_not_counted_and_what_had_gone_by_is_not_given_again(by: Act) -> None:
    """After 20 of the 40 s there is a pause of a minute; about 20 s are left then."""
    left_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await running(engine)
        await anyio.sleep(20.0)
        await say(engine, by)
        await see(engine, lambda view: view.phase in (Phase.HELD, Phase.STOPPED))
        if by is Act.STOP:
            await anyio.sleep(60.0)
        await say(engine, Act.GO_ON if by is Act.HOLD else Act.SET_UP_AGAIN)
        await running(engine)
        view = await see(engine, lambda one: one.request is not None)
        assert view.request is not None
        assert view.request.ends_utc_s is not None
        left_s.append(view.request.ends_utc_s - view.utc_s)

    run = rehearse(ALONE, coach, taps=None)
    assert run.ending.finished
    assert left_s[0] == pytest.approx(20.0, abs=1.5)
    assert_replayed(run)


def test_a_tap_too_late_for_a_ball_is_dropped() -> None:
    """The launcher needs a moment to be told: so near to the end none can leave any more."""

    async def coach(engine: Engine) -> None:
        view = await see(engine, lambda one: one.request is not None and one.phase is Phase.RUNNING)
        assert view.request is not None
        assert view.request.ends_utc_s is not None
        await anyio.sleep(view.request.ends_utc_s - view.utc_s - 0.2)
        await tap(engine)

    run = rehearse(ALONE, coach, taps=None)
    assert run.ending.finished
    assert len(run.left()) == 2
    kinds = [row["kind"] for row in run.journal.rows("SELECT kind FROM entry")]
    assert "tap-dropped" in kinds
    assert run.engine.lesson.state.asked is None
    assert_replayed(run)


TAPS = st.lists(st.integers(1, 160).map(lambda tenths: tenths / 10), max_size=8)
PRESSED = st.sampled_from([Act.HOLD, Act.STOP, Act.NEXT, Act.AGAIN, None, None])


async def press(engine: Engine, act: Act | None) -> None:
    if act is None or engine.view.phase is not Phase.RUNNING:
        return
    await say(engine, act)
    if act is Act.HOLD:
        await see(engine, lambda view: view.phase in (Phase.HELD, Phase.STOPPED))
        await anyio.sleep(5.0)
        if engine.view.phase is Phase.HELD:
            await say(engine, Act.GO_ON)
    elif act is Act.STOP:
        await see(engine, lambda view: view.phase is Phase.STOPPED and not view.stopping)
        await say(engine, Act.SET_UP_AGAIN)


def tapped(plan: Plan, taps: list[float], pressed: Act | None, at: int) -> Run:
    async def coach(engine: Engine) -> None:
        await running(engine)
        for number, wait_s in enumerate(taps):
            await anyio.sleep(wait_s)
            await tap(engine)
            if number == at:
                await press(engine, pressed)

    return rehearse(plan, coach, taps=None, rig=Rig())


@settings(max_examples=12, deadline=None)
@given(TAPS, PRESSED, st.integers(0, 7))
def test_whatever_is_tapped_and_pressed_they_keep_to_their_bounds(
    taps: list[float], pressed: Act | None, at: int
) -> None:
    run = tapped(STATIONS, taps, pressed, at)
    assert run.ending.finished
    west = of(run, 0)
    assert all(b - a >= NOT_BEFORE_S - 0.01 for a, b in pairwise(west))
    if pressed is None or at >= len(taps):
        assert len(west) <= min(AT_MOST, len(taps)) + 1
        assert west[-1] - west[0] <= LASTS_S + 5.0
        assert_in_step(run)
    assert len(run.left()) <= STATIONS.bounds.most_balls
    assert_replayed(run)


def test_turns_by_the_clock_are_as_long_whatever_is_tapped_in_them() -> None:
    turn = (ASKED, Rest(seconds=6.0, line=3))
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        Turns(slots=2, passes=1, every_s=60.0, body=turn, line=2),
        send(1, 4.0),
        players=TWO,
    )

    async def coach(engine: Engine) -> None:
        for name in ("Ash", "Bay"):
            await see(engine, lambda one, who=name: bool(one.request) and one.request.player == who)
            assert await tap(engine) == ""

    run = rehearse(plan, coach, taps=None)
    assert run.ending.finished
    assert [ball["player"] for ball in run.left()] == [None, "Ash", "Bay", None]
    assert sum(gaps_s(run)) == pytest.approx(START_S + 2 * 60.0 + 4.0, abs=0.05)
    assert_replayed(run)
