"""What a coach may do while balls fly: hold, go on, jumps, pace, stops, the group."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import anyio
import pytest

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.port import LauncherState
from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import (
    Collect,
    Condition,
    Plan,
    Repeat,
    Result,
    Send,
    ShowSpeed,
    Turns,
    Until,
)
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Answer, ChangeRoster, RecordResult, RosterChange
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import rest, send
from tests.session.coach import refused, say, see, see_balls, see_phase
from tests.session.rehearsing import OpenFences, Run, lesson_plan, rehearse

SHOW = ShowSpeed(feed=0, line=1)
TEN = Repeat(times=10, body=(send(0, 4.0), send(1, 4.0)), line=2)


def feeds_left(run: Run) -> str:
    """The feeds in the order they left, the watched ball included."""
    return "".join(str(ball["feed"]) for ball in run.left())


def gaps_s(run: Run) -> list[float]:
    times = [float(str(ball["left_device_s"])) for ball in run.left()]
    return [b - a for a, b in pairwise(times)]


def test_hold_and_go_on_lose_and_repeat_nothing() -> None:
    async def coach(engine: Engine) -> None:
        for count in (3, 8, 9):
            await see_balls(engine, count)
            await anyio.sleep(1.7)
            await say(engine, Act.HOLD)
            await anyio.sleep(20.0)
            state = engine.view
            assert state.phase is Phase.HELD
            assert state.launchers[0].state is LauncherState.HELD
            assert not state.coming
            await say(engine, Act.GO_ON)

    run = rehearse(lesson_plan(SHOW, TEN), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "ab" * 10
    assert sum(gap > 15.0 for gap in gaps_s(run)) == 3


@pytest.mark.parametrize("before_s", [0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0])
def test_hold_in_the_last_moments_before_a_ball_sends_it_once(before_s: float) -> None:
    """While the gate is open nobody but a person can say what became of the ball."""

    async def coach(engine: Engine) -> None:
        state = await see(engine, lambda s: s.phase is Phase.RUNNING and len(s.coming) == 2)
        await anyio.sleep(state.coming[0].leaves_utc_s - state.utc_s - before_s)
        await say(engine, Act.HOLD)
        state = await see(engine, lambda s: not s.coming)
        if state.phase is Phase.ASKING:
            state = await see(engine, lambda s: bool(s.asked_about))  # once the launcher is still
            await engine.command(Answer(feed_id=state.asked_about[0].feed_id, left=False))
            await see_phase(engine, Phase.STOPPED)
            await say(engine, Act.SET_UP_AGAIN)
        else:
            await say(engine, Act.GO_ON)

    run = rehearse(lesson_plan(SHOW, TEN), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "ab" * 10


@pytest.mark.parametrize("act", [Act.STOP, Act.EMERGENCY_STOP])
def test_nothing_leaves_after_a_stop_until_a_person_arms_again(act: Act) -> None:
    left_at_stop = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 5)
        await say(engine, act)
        left_at_stop.append(engine.view.balls_left)
        assert engine.view.phase is Phase.STOPPED
        await anyio.sleep(30.0)
        assert engine.view.balls_left <= left_at_stop[0]
        assert await refused(engine, Act.GO_ON) == "not-now"
        if act is Act.STOP:
            await say(engine, Act.SET_UP_AGAIN)
        else:
            await say(engine, Act.QUIT)

    run = rehearse(lesson_plan(SHOW, TEN), coach)
    if act is Act.STOP:
        assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
        assert feeds_left(run) == "a" + "ab" * 10
    else:
        assert run.ending.phase is Phase.BROKEN_OFF
        assert len(run.left()) == left_at_stop[0]


def test_next_leaves_the_series_of_the_coming_ball() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        await say(engine, Act.NEXT)

    second = Repeat(times=3, body=(send(1, 4.0),), line=5)
    run = rehearse(lesson_plan(SHOW, Repeat(times=9, body=(send(0, 4.0),), line=2), second), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "aaaa" + "bbb"


def test_again_repeats_the_series_of_the_last_ball_even_when_it_was_its_last() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)  # the watched one and all three of the first series
        await say(engine, Act.AGAIN)

    first = Repeat(times=3, body=(send(0, 4.0),), line=2)
    second = Repeat(times=2, body=(send(1, 4.0),), line=5)
    run = rehearse(lesson_plan(SHOW, first, second), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "aaa" + "aaa" + "bb"


def test_skip_leaves_out_one_ball() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.SKIP)

    run = rehearse(lesson_plan(SHOW, send(0, 4.0), send(1, 4.0), send(0, 4.0), send(1, 4.0)), coach)
    assert feeds_left(run) == "a" + "ab" + "b"


def test_a_collect_is_not_jumped_over() -> None:
    async def coach(engine: Engine) -> None:
        await see(engine, lambda s: s.balls_left == 3 and not s.coming)
        await say(engine, Act.SKIP)

    plan = lesson_plan(SHOW, send(0, 4.0), send(0, 4.0), rest(9.0), Collect(line=3), send(1, 4.0))
    run = rehearse(plan, coach)
    assert "collecting" in run.phases()
    assert feeds_left(run) == "aaab"


class OnlySlower(OpenFences):
    """Passes a gap of 3.9 to 4.7 s: as written, and one step slower."""

    def would_pass(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[Diagnostic, ...]:
        repeat = plan.steps[1]
        assert isinstance(repeat, Repeat)
        first = repeat.body[0]
        assert isinstance(first, Send)
        good = 3.9 <= first.after_s[0] <= 4.7
        return () if good else (Page(slug="x", title="", why="").report("not this pace"),)


def test_slower_and_faster_only_where_certified() -> None:
    seen = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        await say(engine, Act.SLOWER)
        assert await refused(engine, Act.SLOWER) == "at-the-limit"
        await see_balls(engine, 12)
        await say(engine, Act.FASTER)
        seen.append(engine.view.pace_percent)
        assert await refused(engine, Act.FASTER) == "at-the-limit"

    run = rehearse(lesson_plan(SHOW, TEN), coach, fences=OnlySlower())
    assert seen == [100]
    gaps = gaps_s(run)[1:]
    assert gaps[:3] == pytest.approx([4.0] * 3, abs=0.01)
    assert gaps[5:10] == pytest.approx([4.6] * 5, abs=0.01)
    assert gaps[-4:] == pytest.approx([4.0] * 4, abs=0.01)


def test_until_ends_by_the_records_and_sends_no_ball_more() -> None:
    """Each ball is tapped two seconds after it can be seen; the third in a row ends the block."""

    async def coach(engine: Engine) -> None:
        results = [Result.IN, Result.NET, Result.IN, Result.IN, Result.IN]
        for number, result in enumerate(results, start=2):
            await see_balls(engine, number)
            await anyio.sleep(2.0)
            assert await engine.command(RecordResult(result=result)) is None

    three = Condition(results=(Result.IN,), at_least=3, window=3)
    block = Until(condition=three, at_most=20, body=(send(0, 5.0),), line=2)
    run = rehearse(lesson_plan(SHOW, block, send(1, 5.0)), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "aaaaa" + "b"
    assert gaps_s(run)[1:] == pytest.approx([5.0] * 5, abs=0.01)


def test_until_without_records_ends_at_its_most() -> None:
    three = Condition(results=(Result.IN,), at_least=3, window=3)
    block = Until(condition=three, at_most=6, body=(send(0, 4.0),), line=2)
    run = rehearse(lesson_plan(SHOW, block))
    assert feeds_left(run) == "a" + "aaaaaa"
    assert gaps_s(run)[1:] == pytest.approx([4.0] * 5, abs=0.01)


def test_a_ball_of_which_nobody_knows_is_asked_about_and_never_repeated() -> None:
    """The fourth ball jams: the gate opened and nothing passed the sensor."""

    async def coach(engine: Engine) -> None:
        state = await see_phase(engine, Phase.ASKING)
        (ball,) = state.asked_about
        assert ball.feed_id == 4
        await anyio.sleep(5.0)
        assert await engine.command(Answer(feed_id=ball.feed_id, left=True)) is None
        await see_phase(engine, Phase.STOPPED)
        await say(engine, Act.SET_UP_AGAIN)

    run = rehearse(lesson_plan(SHOW, TEN), coach, faults=("jam=4",))
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "ab" * 10
    (jammed,) = [ball for ball in run.balls() if ball["feed_id"] == 4]
    assert "a person said so" in str(jammed["reason"])


def test_a_jammed_ball_that_did_not_leave_comes_under_a_new_number() -> None:
    async def coach(engine: Engine) -> None:
        state = await see_phase(engine, Phase.ASKING)
        await engine.command(Answer(feed_id=state.asked_about[0].feed_id, left=False))
        await see_phase(engine, Phase.STOPPED)
        await say(engine, Act.SET_UP_AGAIN)

    run = rehearse(lesson_plan(SHOW, TEN), coach, faults=("jam=4",))
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert feeds_left(run) == "a" + "ab" * 10
    assert len({ball["feed_id"] for ball in run.balls()}) == len(run.balls()) > 21


PLAYERS = (Player(name="Ana"), Player(name="Bo", left_handed=True), Player(name="Cy"))
TURNS = Turns(slots=6, passes=1, body=(send(0, 4.0), send(1, 4.0), rest(4.0)), line=3)


def players_fed(run: Run) -> list[object]:
    """Who was fed, one entry a turn of two balls."""
    return [ball["player"] for ball in run.left()][1::2]


def test_turns_follow_the_plan_while_nobody_comes_or_goes() -> None:
    run = rehearse(lesson_plan(SHOW, TURNS, players=PLAYERS))
    assert players_fed(run) == ["Ana", "Bo", "Cy"] * 2


def test_who_leaves_is_not_fed_again_and_who_joins_is() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)  # Ana had her turn, Bo is in his
        assert await engine.command(ChangeRoster(change=RosterChange.REST, player="Cy")) is None
        await see_balls(engine, 6)
        joins = ChangeRoster(change=RosterChange.JOIN, player="Di")
        assert await engine.command(joins) is None
        again = await engine.command(joins)
        assert again is not None
        assert again.slug == "roster-refused"

    run = rehearse(lesson_plan(SHOW, TURNS, players=PLAYERS), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    fed = players_fed(run)
    assert len(fed) == 6
    assert fed[:3] == ["Ana", "Bo", "Ana"]
    assert "Cy" not in fed
    assert "Di" in fed
