"""The hour on court: its clock, what could go to end in time, and an end that never cuts a turn.

Lessons on the stand-in in virtual time.
"""

from __future__ import annotations

from collections.abc import Sequence

import anyio
import msgspec
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from feedscript.plan.folds.bounds import bounds
from feedscript.plan.interpreter.actions import SendBall
from feedscript.plan.model import (
    Collect,
    Exercise,
    OnRequest,
    Plan,
    Repeat,
    Rest,
    ShowSpeed,
    Step,
    Turns,
)
from feedscript.plan.scene import Player
from feedscript.session.engine import station_runner
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import HourView
from tests.plan.small_plans import rest, send
from tests.session.coach import refused, say, see, see_balls, see_phase
from tests.session.engine.test_lanes import fork
from tests.session.rehearsing import Run, lesson_plan, rehearse

THREE = tuple(Player(name=name) for name in ("Ash", "Bay", "Cob"))
SHOWN = ShowSpeed(feed=0, line=1)


def hour_of(*steps: Step, planned_s: float, launchers: int = 1) -> Plan:
    plan = lesson_plan(*steps, players=THREE, launchers=launchers)
    whole = bounds(msgspec.structs.replace(plan, planned_s=planned_s))
    return msgspec.structs.replace(plan, planned_s=planned_s, bounds=whole)


def turns(balls: int, line: int = 5) -> Turns:
    body = (Repeat(times=balls, body=(send(0, 4.0),), line=line), Rest(seconds=6.0, line=line))
    return Turns(slots=3, passes=1, body=body, line=line)


def exercise(title: str, *body: Step, line: int = 3) -> Exercise:
    return Exercise(title=title, repeats=1, body=body, line=line)


PLAN = hour_of(
    SHOWN,
    exercise("A", turns(6)),
    Collect(words="water", break_s=120.0, line=6),
    exercise("B", turns(6), line=7),
    exercise("C", turns(2), line=8),
    planned_s=600.0,
)


def ends_s(hour: HourView | None) -> float:
    """When the lesson will be over, counted from its beginning."""
    assert hour is not None
    return hour.run_s + hour.left_s


def clock(engine: Engine) -> float:
    return ends_s(engine.view.hour)


def test_as_long_as_all_goes_as_planned_the_end_stays_where_it_is() -> None:
    """While balls fly, in a break, and from one exercise to the next; but for what people do
    quicker than was reckoned."""
    at_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        for _ in range(4):
            at_s.append(clock(engine))
            await anyio.sleep(15.0)
        await see(engine, lambda view: view.phase is Phase.COLLECTING)
        at_s.append(clock(engine))
        await anyio.sleep(100.0)
        at_s.append(clock(engine))

    run = rehearse(PLAN, coach)
    assert run.ending.finished
    assert at_s == pytest.approx([at_s[0]] * len(at_s), abs=1.5)


def test_a_talk_puts_the_end_off_and_says_what_could_go() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        before_s = clock(engine)
        assert engine.view.hour is not None
        assert engine.view.hour.could_go == ()
        await say(engine, Act.STOP)
        await anyio.sleep(240.0)
        late_s.append(clock(engine) - before_s)
        offered.extend(one.titles for one in engine.view.hour.could_go)
        await say(engine, Act.SET_UP_AGAIN)

    late_s: list[float] = []
    offered: list[tuple[str, ...]] = []
    assert rehearse(PLAN, coach).ending.finished
    assert late_s[0] == pytest.approx(240.0, abs=10.0)
    assert offered == [("B",)]  # the last alone would not do


def test_a_lesson_without_a_length_has_no_such_clock() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 1)
        assert engine.view.hour is None
        assert await refused(engine, Act.PLAY_ON) == "not-now"
        assert await refused(engine, Act.END_AT_HOUR) == "not-now"

    rehearse(lesson_plan(SHOWN, send(0, 4.0)), coach)


# -- ending at the hour ---------------------------------------------------------------------------


def ended_at(plan: Plan, chosen_s: float) -> Run:
    """The lesson, in which the coach chooses so long after the first ball to end at the hour."""

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 1)
        await anyio.sleep(chosen_s)
        if engine.view.hour is not None:
            await say(engine, Act.END_AT_HOUR)

    run = rehearse(plan, coach)
    assert run.ending.finished, run.ending
    return run


def whole_turns(run: Run) -> list[int]:
    """The balls of each turn that anybody had, in their order."""
    found: list[list[object]] = []
    for ball in run.left():
        if ball["shown"]:
            continue
        if not found or found[-1][-1] != ball["player"]:
            found.append([])
        found[-1].append(ball["player"])
    return [len(one) for one in found]


@pytest.mark.parametrize("planned_s", [20.0, 40.0, 60.0, 95.0])
def test_the_turn_in_which_the_hour_is_full_is_the_last(planned_s: float) -> None:
    plan = hour_of(SHOWN, exercise("A", turns(4), turns(4)), turns(4, 9), planned_s=planned_s)
    run = ended_at(plan, 1.0)
    turn_s = 22.0
    left_s = [float(str(ball["left_utc_s"])) - 1e9 for ball in run.left()]
    assert set(whole_turns(run)) == {4}
    assert planned_s - 2 * turn_s < left_s[-1] < planned_s + turn_s
    assert len(left_s) < 1 + 36


def test_without_the_coachs_word_the_lesson_plays_to_its_end() -> None:
    plan = hour_of(SHOWN, turns(4), planned_s=20.0)
    assert len(rehearse(plan).left()) == 1 + 12


def test_the_coach_can_play_on_after_all() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 1)
        await say(engine, Act.END_AT_HOUR)
        assert await refused(engine, Act.END_AT_HOUR) == "not-now"
        await see_phase(engine, Phase.RUNNING)
        await say(engine, Act.PLAY_ON)

    plan = hour_of(SHOWN, turns(4), planned_s=20.0)
    assert len(rehearse(plan, coach).left()) == 1 + 12


def test_nobody_arms_again_when_the_hour_is_over_in_a_break() -> None:
    plan = hour_of(
        SHOWN, turns(2), Collect(break_s=300.0, line=6), exercise("B", turns(2)), planned_s=120.0
    )
    run = ended_at(plan, 1.0)
    assert len(run.left()) == 1 + 6
    assert run.phases()[-4:] == ["collecting", "setting-up", "disarming", "finished"]


def test_stations_end_after_the_turn_at_each() -> None:
    one = Turns(slots=3, passes=1, body=(send(0, 4.0), send(0, 4.0), rest(6.0)), line=2)
    two = Turns(slots=3, passes=1, body=(send(2, 5.0), send(2, 5.0), rest(6.0)), line=3)
    sides = fork((one,), (two,), players=((0,), (1, 2)))
    shown = (SHOWN, ShowSpeed(feed=2, line=1))
    after = exercise("B", turns(2))
    plan = hour_of(*shown, sides, after, planned_s=24.0, launchers=2)
    run = ended_at(plan, 1.0)
    for launcher in (0, 1):
        fed = [b for b in run.left() if b["launcher"] == launcher and not b["shown"]]
        assert len(fed) in (2, 4)
    over_s = run.journal.rows("SELECT MAX(utc_s) AS over_s FROM entry")[0]["over_s"] - 1e9
    assert over_s < 24.0 + 30.0  # nobody waits for the stations' own end


@pytest.mark.parametrize(("planned_s", "balls", "told"), [(5.0, 0, 0), (6.6, 0, 2), (6.8, 3, 2)])
def test_an_exercise_that_the_hour_leaves_out_does_not_begin(
    planned_s: float, balls: int, told: int
) -> None:
    """It is gone on to at 6.43 s and its first turn begins at 6.73 s."""
    run = ended_at(one_exercise(planned_s), 0.0)
    entries = run.journal.rows("SELECT kind FROM entry WHERE kind LIKE 'exercise-%'")
    assert (len(run.left()), len(entries)) == (1 + balls, told)


@st.composite
def lessons(draw: st.DrawFn) -> Plan:
    """Exercises and turns of so many balls each, a collect or a series on request among them."""
    balls = 3
    some: list[Sequence[Step]] = [
        (turns(balls),),
        (exercise("X", turns(balls), turns(balls)),),
        (Collect(line=4),),
        (Collect(break_s=30.0, line=4),),
        (exercise("Y", Collect(line=4), turns(balls)),),
        (OnRequest(at_most=2, send=send(1, 4.0), line=4),),
    ]
    drawn = draw(st.lists(st.sampled_from(some), min_size=1, max_size=5))
    steps: list[Step] = []
    for number, each in enumerate(drawn):
        for step in each:
            titled = isinstance(step, Exercise)
            title = {"title": f"{number}"} if titled else {}
            steps.append(msgspec.structs.replace(step, **title))
    return hour_of(SHOWN, *steps, planned_s=draw(st.floats(5.0, 200.0)))


def never_cuts(plan: Plan, chosen_s: float) -> None:
    """Every turn that began has all its balls, and none begins once the hour was full."""
    run = ended_at(plan, chosen_s)
    ends_utc_s = 1e9 + (plan.planned_s or 0.0)
    by_turn: dict[int, int] = {}
    turn, last = 0, None
    lanes = [ball for ball in run.left() if ball["player"] is not None]
    for ball in lanes:
        new = last is None or ball["player"] != last["player"]
        turn += new
        by_turn[turn] = by_turn.get(turn, 0) + 1
        last = ball
        if new and by_turn[turn] == 1 and turn > 1:
            called_utc_s = float(str(ball["left_utc_s"])) - 10.0  # after its change-over and gap
            assert called_utc_s <= max(ends_utc_s, chosen_s + 1e9 + 30.0)
    assert all(count % 3 == 0 for count in by_turn.values()), by_turn


def one_exercise(planned_s: float) -> Plan:
    return hour_of(SHOWN, exercise("A", turns(3), turns(3)), planned_s=planned_s)


@example(one_exercise(5.0), 0.0)  # full before it is gone on to the exercise
@example(one_exercise(6.6), 0.0)  # and between that and its first turn
@settings(max_examples=8)
@given(lessons(), st.floats(0.0, 100.0))
def test_an_end_at_the_hour_never_cuts_a_turn(plan: Plan, chosen_s: float) -> None:
    never_cuts(plan, chosen_s)


@pytest.mark.long
@pytest.mark.timeout(900)
@settings(max_examples=150)
@given(lessons(), st.floats(0.0, 100.0))
def test_so_it_is_in_many_lessons(plan: Plan, chosen_s: float) -> None:
    never_cuts(plan, chosen_s)


def test_never_cuts_notices_an_end_in_the_middle_of_a_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = hour_of(SHOWN, turns(3), planned_s=12.0)
    never_cuts(plan, 1.0)

    def in_the_second_turn(lesson: object, key: str, action: object) -> bool:
        return isinstance(action, SendBall) and action.ball == 6

    monkeypatch.setattr(station_runner, "ends_before", in_the_second_turn)
    with pytest.raises(AssertionError):
        never_cuts(plan, 1.0)
