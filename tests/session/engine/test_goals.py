"""Goals and scores in a lesson that runs: recorded, marked, taken back, and there after a crash."""

from __future__ import annotations

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Exercise, Goal, Plan, Result, Score, ShowSpeed, Target
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.group.records import Go
from feedscript.session.operator.commands import MarkLanding, RecordResult, UndoResult
from feedscript.session.operator.phases import Act
from feedscript.session.state.event_log import read_state
from feedscript.session.state.shots import shots_of
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls
from tests.session.rehearsing import lesson_plan, rehearse

SHOW = ShowSpeed(feed=0, line=1)
DEEP = Target(
    name="deep",
    outlines_m=(((0.0, -11.0), (4.0, -11.0), (4.0, -8.0), (0.0, -8.0)),),
    left_outlines_m=(((0.0, -11.0), (-4.0, -11.0), (-4.0, -8.0), (0.0, -8.0)),),
)
INSIDE, OUTSIDE = (1.0, -9.0), (1.0, -3.0)


def lesson(**wants) -> Plan:
    body = tuple(send(0, 4.0) for _ in range(4))
    plain = Exercise(title="Plain", repeats=0, body=body[:1], line=3)
    aimed = Exercise(title="Aimed", repeats=1, body=body, line=4, **wants)
    return lesson_plan(SHOW, plain, aimed, players=(Player(name="Ana"),))


ALL = {
    "target": DEEP,
    "goals": (Goal(at_least=2, of=3, in_target=True),),
    "score": Score(points={Result.TARGET: 2, Result.IN: 1}, to=5),
}


async def seen(engine: Engine, count: int) -> None:
    await see_balls(engine, count)
    await anyio.sleep(2.5)


async def record(engine: Engine, result: Result) -> Diagnostic | None:
    return await engine.command(RecordResult(result=result))


def test_results_goals_and_score_are_those_of_the_exercise_on_court() -> None:
    told: list = []

    async def coach(engine: Engine) -> None:
        await seen(engine, 2)  # the shown one, and the one of the plain exercise
        refused = await record(engine, Result.TARGET)
        assert refused is not None
        assert refused.slug == "no-target-there"
        await record(engine, Result.IN)
        await seen(engine, 3)
        assert engine.view.aims is not None
        assert engine.view.aims.target is not None
        target = next(one for one in engine.view.controls if one.name == "target")
        assert target.shown
        await record(engine, Result.TARGET)
        await seen(engine, 4)
        await record(engine, Result.TARGET)
        told.append(engine.view)
        await engine.command(UndoResult())
        told.append(engine.view)

    run = rehearse(lesson(**ALL), coach)
    met, undone = told
    assert met.aims.goals[0].words == "2 of 3 in deep"
    assert [(one.player, one.made, one.met) for one in met.aims.goals[0].players] == [
        ("Ana", 2, True)
    ]
    assert met.calls[-1].text == "Ana: goal met, 2 of 3 in deep."
    assert [(one.points, one.won) for one in met.aims.score] == [(4, False)]
    assert [(one.made, one.met) for one in undone.aims.goals[0].players] == [(1, False)]
    assert [one.points for one in undone.aims.score] == [2]
    kept = run.engine.lesson
    assert read_state(run.journal, kept.session_id, kept.plan) == kept.state


def test_a_landing_in_the_target_counts_by_itself_and_one_outside_does_not() -> None:
    async def coach(engine: Engine) -> None:
        for ball, place in ((3, INSIDE), (4, OUTSIDE), (5, INSIDE)):
            await seen(engine, ball)
            await record(engine, Result.LONG if ball == 5 else Result.IN)
            await engine.command(MarkLanding(landing_m=place))

    run = rehearse(lesson(**ALL), coach)
    records = [*run.engine.lesson.state.records.values()]
    assert [(one.result, one.landing_m) for one in records] == [
        (Result.TARGET, INSIDE),
        (Result.IN, OUTSIDE),
        (Result.LONG, INSIDE),  # what the coach saw stands
    ]
    kept = run.engine.lesson
    assert read_state(run.journal, kept.session_id, kept.plan) == kept.state


def test_a_left_handers_target_is_where_a_left_hander_aims() -> None:
    plan = lesson(**ALL)
    left = msgspec.structs.replace(plan.group, players=(Player(name="Ana", left_handed=True),))
    plan = msgspec.structs.replace(plan, group=left)

    async def coach(engine: Engine) -> None:
        await seen(engine, 3)
        assert engine.view.aims is not None
        assert engine.view.aims.target is not None
        assert engine.view.aims.target.outlines_m == DEEP.left_outlines_m
        await record(engine, Result.IN)
        await engine.command(MarkLanding(landing_m=INSIDE))

    run = rehearse(plan, coach)
    assert [one.result for one in run.engine.lesson.state.records.values()] == [Result.IN]


def test_another_go_at_an_exercise_counts_for_itself() -> None:
    async def coach(engine: Engine) -> None:
        await seen(engine, 4)
        await record(engine, Result.TARGET)
        await say(engine, Act.EXERCISE_AGAIN)
        await see(engine, lambda view: view.balls_left >= 5)
        await anyio.sleep(2.5)
        await record(engine, Result.TARGET)

    run = rehearse(lesson(**ALL), coach)
    recording = run.engine.lesson.recording
    first, second = (shots_of(recording, Go(2, play)) for play in (1, 2))
    assert [shot.result for shot in first] == [None, Result.TARGET]
    assert [shot.result for shot in second][:1] == [Result.TARGET]
    assert len(second) == 4


def test_an_exercise_that_wants_nothing_shows_nothing() -> None:
    async def coach(engine: Engine) -> None:
        await seen(engine, 3)
        assert engine.view.aims is None
        target = next(one for one in engine.view.controls if one.name == "target")
        assert not target.shown

    rehearse(lesson(), coach)
