"""Balls on request: whatever the taps are, none too soon, none twice, none that nobody asked for.

Lessons on the stand-in in virtual time; what is judged is what the stand-in really threw.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TypeAlias

import anyio
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.plan.model import Collect, OnRequest, Plan, Rest, ShowSpeed, Turns
from feedscript.plan.scene import Player
from feedscript.session.engine import feed_scheduler
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.lesson_clock import Timeline
from feedscript.session.operator.auto_operator import Taps
from feedscript.session.operator.commands import Answer, ChangeRoster, RosterChange, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.engine.test_resume import check
from tests.session.rehearsing import Rig, Run, lesson_plan, rehearse

NOT_BEFORE_S = 3.0
AT_MOST = 4
ASKED = OnRequest(at_most=AT_MOST, send=send(0, NOT_BEFORE_S), line=2)
#: A ball that is shown, balls on request, then one by time.
PLAN = lesson_plan(ShowSpeed(feed=0, line=1), ASKED, send(1, 4.0))
TWO = (Player(name="Ash"), Player(name="Bay"))
TURNS = lesson_plan(
    ShowSpeed(feed=0, line=1),
    Turns(slots=2, passes=1, body=(ASKED, Rest(seconds=6.0, line=3)), line=2),
    Collect(line=4),
    ASKED,
    players=TWO,
)


async def running(engine: Engine) -> None:
    await see_phase(engine, Phase.RUNNING)


async def tap(engine: Engine) -> str:
    """What became of it: "" where it was taken."""
    found = await engine.command(SimpleCommand(act=Act.SEND_ONE), by="phone")
    return "" if found is None else found.slug


def gaps_s(run: Run) -> list[float]:
    left = [float(str(ball["left_device_s"])) for ball in run.left()]
    return [after - before for before, after in pairwise(left)]


def test_a_ball_leaves_when_the_coach_taps_and_by_time_after_enough() -> None:
    """Nothing moves on its own for a minute; the tap sends one; enough goes on with the lesson."""
    seen: list[int] = []

    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.RUNNING)
        for _ in range(2):
            await anyio.sleep(60.0)
            seen.append(engine.view.balls_left)
            assert engine.view.request is not None
            assert await tap(engine) == ""
            await see_balls(engine, seen[-1] + 1)
        await say(engine, Act.NEXT)

    run = rehearse(PLAN, coach, taps=None)
    assert run.ending.finished
    assert seen == [1, 2]
    assert len(run.left()) == 4  # the shown one, two on request, one by time


def test_it_ends_after_the_last_of_them() -> None:
    run = rehearse(PLAN)  # a coach who taps as soon as one may
    assert run.ending.finished
    assert len(run.left()) == 1 + AT_MOST + 1
    assert gaps_s(run)[1:-1] == pytest.approx([NOT_BEFORE_S] * (AT_MOST - 1), abs=0.01)


def test_a_coach_who_never_taps_has_had_enough_and_the_lesson_goes_on() -> None:
    """Enough ends those balls alone: what is sent by time before them and after them leaves."""
    turn = Turns(slots=2, passes=1, body=(ASKED, send(1, 6.0), Rest(seconds=6.0, line=3)), line=2)
    plan = lesson_plan(ShowSpeed(feed=0, line=1), turn, players=TWO)
    run = rehearse(plan, taps=Taps.NEVER)
    assert run.ending.finished
    assert [ball["player"] for ball in run.left()] == [None, "Ash", "Bay"]


def test_a_tap_before_the_ball_may_leave_is_kept_and_a_second_one_is_not() -> None:
    came: list[str] = []

    async def coach(engine: Engine) -> None:
        await running(engine)
        await anyio.sleep(20.0)
        came.append(await tap(engine))
        came.append(await tap(engine))  # a double tap is one ball
        await see_balls(engine, 2)
        await anyio.sleep(0.2)
        came.append(await tap(engine))  # long before the next may leave: kept
        came.append(await tap(engine))
        await see_balls(engine, 3)
        await anyio.sleep(30.0)
        assert engine.view.balls_left == 3  # nothing was left over
        await say(engine, Act.NEXT)

    run = rehearse(PLAN, coach, taps=None)
    assert came == ["", "tap-dropped", "", "tap-dropped"]
    assert gaps_s(run)[1] == pytest.approx(NOT_BEFORE_S, abs=0.01)


@pytest.mark.parametrize("by", [Act.HOLD, Act.STOP])
def test_a_tap_in_a_pause_is_dropped_and_so_is_one_that_was_not_answered(by: Act) -> None:
    """It is said; and no ball comes of it when the lesson goes on."""
    came: list[str] = []

    async def coach(engine: Engine) -> None:
        await running(engine)
        await anyio.sleep(20.0)
        came.append(await tap(engine))
        await say(engine, by)  # before the ball is out
        await see(engine, lambda view: view.phase in (Phase.HELD, Phase.STOPPED))
        came.append(await tap(engine))
        assert engine.view.request is None or engine.view.request.may_leave_utc_s is None
        await anyio.sleep(5.0)
        await say(engine, Act.GO_ON if by is Act.HOLD else Act.SET_UP_AGAIN)
        await running(engine)
        view = await see(engine, lambda view: view.request is not None)
        assert view.request is not None
        assert view.request.came_to_nothing
        await anyio.sleep(60.0)
        assert engine.view.balls_left == 1
        await say(engine, Act.NEXT)

    run = rehearse(PLAN, coach, taps=None)
    assert run.ending.finished
    assert came == ["", "tap-dropped"]
    assert len(run.left()) == 2


def test_a_tap_while_balls_are_collected_is_dropped() -> None:
    came: list[str] = []

    async def coach(engine: Engine) -> None:
        await see(engine, lambda view: view.phase is Phase.COLLECTING)
        came.append(await tap(engine))
        await see_phase(engine, Phase.RUNNING)
        await anyio.sleep(30.0)
        came.append(str(engine.view.balls_left))
        await say(engine, Act.NEXT)

    plan = lesson_plan(ShowSpeed(feed=0, line=1), Collect(break_s=9.0, line=2), ASKED)
    run = rehearse(plan, coach, taps=None)
    assert came == ["tap-dropped", "1"]
    assert run.ending.finished


def test_the_rest_behind_them_is_not_used_up_by_waiting() -> None:
    """Whoever taps late, or says enough late, does not take the pause from the next player."""

    async def coach(engine: Engine) -> None:
        await running(engine)
        await anyio.sleep(50.0)
        await tap(engine)
        await see_balls(engine, 2)
        await anyio.sleep(50.0)
        enough_s.append(anyio.current_time())
        await say(engine, Act.NEXT)
        await see(engine, lambda view: view.request is not None and view.request.player == "Bay")
        while engine.view.count_in_s is None:
            await tap(engine)
            await anyio.sleep(0.1)
        await see_balls(engine, 3)
        left_s.append(anyio.current_time())
        await say(engine, Act.QUIT)

    enough_s: list[float] = []
    left_s: list[float] = []
    rehearse(TURNS, coach, taps=None)
    assert left_s[0] - enough_s[0] >= 6.0 + NOT_BEFORE_S


def test_whose_turn_it_is_has_them_and_who_leaves_has_none() -> None:
    async def coach(engine: Engine) -> None:
        view = await see(engine, lambda view: view.request is not None)
        assert view.request is not None
        assert view.request.player == "Ash"
        assert (view.request.left, view.request.at_most) == (AT_MOST, AT_MOST)
        await running(engine)
        await tap(engine)
        view = await see_balls(engine, 2)
        assert view.request is not None
        assert view.request.left == AT_MOST - 1
        away = ChangeRoster(change=RosterChange.LEAVE, player="Ash")
        assert await engine.command(away) is None
        await see(engine, lambda view: view.request is not None and view.request.player == "Bay")
        await say(engine, Act.NEXT)
        await see(engine, lambda view: view.request is not None and view.request.player is None)
        await running(engine)
        await say(engine, Act.NEXT)

    run = rehearse(TURNS, coach, taps=None)
    assert run.ending.finished


# -- whatever the taps are ------------------------------------------------------------------------

#: Taps, and what else a coach presses, each so long after the one before.
Presses: TypeAlias = list[tuple[float, Act]]
PRESSES = st.lists(
    st.tuples(
        st.floats(0.0, 8.0),
        st.sampled_from([*[Act.SEND_ONE] * 8, Act.HOLD, Act.STOP, Act.NEXT, Act.AGAIN, Act.SLOWER]),
    ),
    max_size=30,
)


def pressed(presses: Presses, plan: Plan = TURNS) -> tuple[Run, int]:
    """The lesson under these, and how many taps were taken; then enough each time."""
    taken = 0

    async def press(engine: Engine) -> None:
        nonlocal taken
        await see_phase(engine, Phase.RUNNING)
        for wait_s, act in presses:
            await anyio.sleep(wait_s)
            if engine.view.ending is None:
                found = await engine.command(SimpleCommand(act=act), by="phone")
                taken += act is Act.SEND_ONE and found is None
        while engine.view.ending is None:
            if engine.view.request is not None and engine.view.phase is Phase.RUNNING:
                await engine.command(SimpleCommand(act=Act.NEXT))
            await anyio.sleep(5.0)

    async def coach(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(press, engine)
            async for view in engine.views():
                if view.phase is Phase.HELD:
                    await anyio.sleep(2.0)
                    await engine.command(SimpleCommand(act=Act.GO_ON))
                elif view.phase is Phase.STOPPED:
                    await engine.command(SimpleCommand(act=Act.SET_UP_AGAIN))
                for ball in view.asked_about:  # the gate was open as the stop came: look
                    left = ball.feed_id in {one.feed_id for one in rig.stand_ins[0].departures}
                    await engine.command(Answer(feed_id=ball.feed_id, left=left))

    rig = Rig()
    run = rehearse(plan, coach, taps=None, rig=rig)
    return run, taken


def hold_to_the_rules(run: Run, taken: int, fastest_pace: float = 0.8) -> None:
    asked = [ball for ball in run.balls() if not ball["shown"]]
    left = [ball for ball in asked if ball["outcome"] == "left"]
    assert run.ending.finished, run.ending
    assert len(asked) <= taken  # none that nobody asked for; none for two taps
    assert len({ball["ball_no"] for ball in left}) == len(left)
    for before, after in pairwise(left):
        gap_s = float(str(after["left_device_s"])) - float(str(before["left_device_s"]))
        assert gap_s >= NOT_BEFORE_S * fastest_pace - 0.002, gap_s


@settings(max_examples=8)
@given(PRESSES)
def test_whatever_is_tapped_no_ball_is_too_soon_and_none_comes_unasked(presses: Presses) -> None:
    hold_to_the_rules(*pressed(presses))


@pytest.mark.long
@pytest.mark.timeout(900)
@settings(max_examples=200)
@given(PRESSES)
def test_so_it_is_in_two_hundred_lessons(presses: Presses) -> None:
    hold_to_the_rules(*pressed(presses))


@pytest.mark.parametrize("dies_s", [4.9, 8.3, 11.2, 14.9, 17.4])
def test_a_host_that_dies_among_them_is_followed_by_as_many_as_were_left(
    tmp_path: Path, dies_s: float
) -> None:
    """Of those that left none comes again; a tap that was open when it died is forgotten."""
    check(tmp_path, dies_s, plan=PLAN, count=1 + AT_MOST + 1)


TAPS: Presses = [(0.4, Act.SEND_ONE)] * 60


def test_hold_to_the_rules_notices_balls_that_leave_too_soon(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With the time between balls on request switched off, the stand-in throws them too soon."""

    def at_once(self: Timeline, plan_s: float, lesson_s: float) -> float:
        self.anchor(plan_s, lesson_s)
        return lesson_s

    hold_to_the_rules(*pressed(TAPS))
    monkeypatch.setattr(Timeline, "put_off", at_once)
    with pytest.raises(AssertionError):
        hold_to_the_rules(*pressed(TAPS))


def test_hold_to_the_rules_notices_balls_that_nobody_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def nobody_asks(lesson: object, place: object) -> None: ...

    monkeypatch.setattr(feed_scheduler, "asked_for", nobody_asks)
    with pytest.raises(AssertionError):
        hold_to_the_rules(*pressed([(20.0, Act.SEND_ONE)]))
