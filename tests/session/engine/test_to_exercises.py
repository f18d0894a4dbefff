"""A coach goes from one exercise to another: over a collect, and as often as was checked."""

from __future__ import annotations

import json
from collections import Counter

import anyio
import msgspec
import trio
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Collect, Exercise, Plan, ShowSpeed, Station, Step, Together
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import Command, SimpleCommand, ToExercise
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.event_log import read_state
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see, see_balls
from tests.session.rehearsing import OpenFences, Run, lesson_plan, rehearse
from tests.session.state.generated_lessons import SETTING

SHOW = ShowSpeed(feed=0, line=1)


def exercise(title: str, *body: Step, repeats: int = 1) -> Exercise:
    return Exercise(title=title, repeats=repeats, body=body, line=2 + ord(title) - ord("A"))


def lines(run: Run) -> str:
    """Which exercise each ball was of, after the shown one."""
    return "".join("AB"[ball["feed_index"]] for ball in run.left()[1:])


FOUR = lesson_plan(
    SHOW,
    exercise("A", *(send(0, 4.0) for _ in range(4))),
    exercise("B", *(send(1, 4.0) for _ in range(4))),
    Collect(line=9),
)


def held(plan: Plan) -> Plan:
    """With the bounds that the check would find."""
    return msgspec.structs.replace(plan, bounds=bounds(plan))


async def order(engine: Engine, command: Command) -> Diagnostic | None:
    return await engine.command(command)


def assert_replayed(run: Run) -> None:
    lesson = run.engine.lesson
    assert read_state(run.journal, lesson.session_id, lesson.plan) == lesson.state


def test_the_exercise_shown_is_the_one_on_court_however_far_the_way_ahead_is() -> None:
    shown: set[tuple[int, str]] = set()

    async def coach(engine: Engine) -> None:
        async for view in engine.views():
            if view.phase is Phase.RUNNING:
                shown.add((view.balls_left, view.exercise.title if view.exercise else ""))

    apart = (exercise("A", send(0, 4.0), send(0, 4.0)), rest(6.0), exercise("B", send(1, 4.0)))
    run = rehearse(held(lesson_plan(SHOW, *apart)), coach)
    assert run.ending.finished
    # It ends at the moment of its last ball, a hair before that is reported.
    assert shown <= {(1, "A"), (2, "A"), (2, ""), (3, ""), (3, "B"), (4, "")}
    assert shown >= {(1, "A"), (3, "B")}
    assert_replayed(run)


def told(run: Run) -> list[tuple[str, str | None]]:
    """What the journal says of exercises: that one began, or how it ended."""
    entries = run.journal.rows("SELECT kind, data FROM entry WHERE kind LIKE 'exercise-%'")
    return [(one["kind"], json.loads(one["data"]).get("how")) for one in entries]


def test_what_is_on_is_skipped_though_all_its_balls_are_queued() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)  # of A's four one is still to come
        await say(engine, Act.SKIP_EXERCISE)

    alone = lesson_plan(SHOW, exercise("A", *(send(0, 4.0),) * 4), Collect(line=9), send(1, 4.0))
    run = rehearse(held(alone), coach)
    assert run.ending.finished
    assert lines(run) == "AAA" + "B"
    assert told(run) == [("exercise-began", None), ("exercise-ended", "skipped")]
    assert_replayed(run)


def test_a_lesson_that_ends_in_an_exercise_ends_it_early_and_taken_up_again_it_is_on() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.STOP)
        await say(engine, Act.QUIT)

    run = rehearse(held(FOUR), coach)
    lesson = run.engine.lesson
    assert lesson.state.exercise is None
    assert told(run) == [("exercise-began", None), ("exercise-ended", "ended-early")]
    broken = find_broken(run.journal, lesson.session_id)

    async def take_up() -> LiveRun:
        return resume_lesson(broken, run.journal, OpenFences(), SETTING)

    again = trio.run(take_up)
    assert (again.state.exercise.exercise, again.state.phase) == (1, Phase.CONNECTING)


def test_a_skipped_exercise_is_left_over_a_collect_and_a_person_arms_again() -> None:
    seen: list[str] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        assert engine.view.exercise.title == "A"
        assert [(one.title, one.why_not) for one in engine.view.exercises] == [("A", ""), ("B", "")]
        await say(engine, Act.SKIP_EXERCISE)
        view = await see(engine, lambda view: view.exercise and view.exercise.number == 2)
        seen.append(view.exercise.title)

    run = rehearse(held(FOUR), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert lines(run) == "AABBBB"
    assert run.phases().count("collecting") == 2  # over the jump, and as written
    assert run.phases().count("arming") == 3
    assert seen == ["B"]
    assert_replayed(run)


def test_an_exercise_is_done_again_as_often_as_it_has_repeats() -> None:
    refusals: list[str] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.EXERCISE_AGAIN)
        await see_balls(engine, 5)
        refused = await order(engine, SimpleCommand(act=Act.EXERCISE_AGAIN))
        refusals.append("" if refused is None else refused.slug)
        assert "“A” was done 2 times" in refused.message

    run = rehearse(held(FOUR), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert lines(run) == "AA" + "AAAA" + "BBBB"
    assert refusals == ["no-repeat-left"]
    assert_replayed(run)


def test_back_to_an_earlier_one_and_then_on_with_what_was_not_done() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 6)  # the shown one, four of A, one of B
        assert await order(engine, ToExercise(number=1)) is None

    run = rehearse(held(FOUR), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert lines(run) == "AAAA" + "B" + "AAAA"
    assert_replayed(run)


def test_a_number_that_no_exercise_has_and_a_lesson_without_any_are_refused() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        for number in (0, 3):
            refused = await order(engine, ToExercise(number=number))
            assert refused.slug == "not-now"
        refused = await order(engine, SimpleCommand(act=Act.TO_EXERCISE))
        assert refused.slug == "not-now"

    assert rehearse(held(FOUR), coach).ending.finished

    async def other(engine: Engine) -> None:
        await see_balls(engine, 2)
        refused = await order(engine, SimpleCommand(act=Act.SKIP_EXERCISE))
        assert refused.message == "no exercise is on"

    plain = held(lesson_plan(SHOW, send(0, 4.0), send(0, 4.0), send(0, 4.0)))
    assert rehearse(plain, other).ending.finished


def test_stations_are_left_together_and_the_lesson_resumes_there() -> None:
    stations = tuple(
        Station(
            name=name,
            launcher=launcher,
            players=(),
            body=tuple(send(2 * launcher, 4.0) for _ in range(4)),
            line=4 + launcher,
        )
        for launcher, name in enumerate(("west", "east"))
    )
    both = Together(stations=stations, for_s=16.0, line=3)
    plan = held(
        lesson_plan(
            SHOW,
            ShowSpeed(feed=2, line=1),
            exercise("A", both),
            exercise("B", send(0, 4.0), send(0, 4.0)),
            launchers=2,
        )
    )

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 6)
        await say(engine, Act.SKIP_EXERCISE)

    run = rehearse(plan, coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert [ball["launcher"] for ball in run.left()][-2:] == [0, 0]
    assert len(run.left()) < 2 + 8 + 2
    assert_replayed(run)


ACTS = st.sampled_from(
    [
        SimpleCommand(act=Act.SKIP_EXERCISE),
        SimpleCommand(act=Act.EXERCISE_AGAIN),
        SimpleCommand(act=Act.HOLD),
        SimpleCommand(act=Act.AGAIN),
        SimpleCommand(act=Act.NEXT),
        *(ToExercise(number=number) for number in (1, 2, 3)),
    ]
)
THREE = held(
    lesson_plan(
        SHOW,
        exercise("A", send(0, 4.0), rest(2.0), send(0, 4.0)),
        send(0, 4.0),
        exercise("B", send(1, 4.0), send(1, 4.0), repeats=0),
        exercise("C", send(0, 4.0), Collect(line=8), send(0, 4.0), repeats=2),
    )
)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.floats(0.1, 15.0), ACTS), max_size=6))
def test_whatever_a_coach_presses_each_is_done_as_often_as_it_may(presses) -> None:
    begun: Counter[str] = Counter()

    async def coach(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine, fixes=20).operate)
            for wait_s, command in presses:
                await anyio.sleep(wait_s)
                await engine.command(command)

    run = rehearse(THREE, coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    course = run.engine.lesson.course
    for step, times in course.begun.items():
        one = THREE.steps[step]
        begun[getattr(one, "title", str(step))] = times
        assert times <= (1 + one.repeats if isinstance(one, Exercise) else 1), begun
    assert len(run.left()) <= THREE.bounds.most_balls
    assert_replayed(run)
