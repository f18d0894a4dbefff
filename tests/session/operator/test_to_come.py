"""How many balls are still to come for each player, held against what each then really got.

Lessons on the stand-in in virtual time, seen at every change of the view; what is counted are the
rows of the journal.
"""

from __future__ import annotations

import json
from collections.abc import Callable

import anyio
import msgspec
import pytest

from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import (
    Choose,
    Exercise,
    OnRequest,
    Option,
    Plan,
    Rest,
    ShowSpeed,
    Station,
    Step,
    Together,
    Turns,
)
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.operator.phases import ENDED, Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls
from tests.session.rehearsing import Run, lesson_plan, rehearse

TWO = (Player(name="Ash"), Player(name="Bay"))
SHOW = ShowSpeed(feed=0, line=1)
PAUSE = Rest(seconds=6.0, line=4)


class Said(msgspec.Struct, frozen=True):
    """What a view said of a player, when so many balls of the lesson had left; ``go`` is where the
    exercise began in the plan."""

    revision: int
    go: int
    player: str
    balls_left: int
    balls: int
    exact: bool


def turns(balls: int, *, players: tuple[int, ...] | None = None) -> Turns:
    body = (*(send(0, 4.0) for _ in range(balls)), PAUSE)
    slots = 2 if players is None else len(players)
    return Turns(slots=slots, passes=1, body=body, players=players, line=3)


def exercises(*bodies: tuple[Step, ...]) -> Plan:
    steps = [
        Exercise(title="ABC"[n], repeats=1, body=body, line=2) for n, body in enumerate(bodies)
    ]
    plan = lesson_plan(SHOW, *steps, players=TWO)
    return msgspec.structs.replace(plan, bounds=bounds(plan))


def seen(plan: Plan, coach: Callable[[Engine], object] | None = None) -> tuple[Run, list[Said]]:
    """What was said of each player at each state, with the number of the exercise's go."""
    said: list[Said] = []

    async def watch(engine: Engine) -> None:
        async for view in engine.views():
            on = engine.lesson.state.exercise
            go = 0 if on is None else on.place
            for player in view.players:
                if player.to_come is not None and view.phase not in ENDED:
                    one, left = player.to_come, view.balls_left
                    said.append(Said(view.revision, go, player.name, left, one.balls, one.exact))

    async def both(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(watch, engine)
            if coach is not None:
                await coach(engine)

    return rehearse(plan, both), said


def entries(run: Run, kind: str) -> list[dict[str, int]]:
    rows = run.journal.rows("SELECT data FROM entry WHERE kind = ? ORDER BY id", (kind,))
    return [json.loads(row["data"]) for row in rows]


def goes(run: Run) -> dict[int, tuple[int, int]]:
    """Each go at an exercise by the place where it began: its number, and how often by then."""
    found: dict[int, tuple[int, int]] = {0: (0, 0)}
    for began in entries(run, "exercise-began"):
        if began["place"] not in found:
            number = began["exercise"]
            found[began["place"]] = number, 1 + sum(one == number for one, _ in found.values())
    return found


def got_after(run: Run, player: str, balls_left: int, go: tuple[int, int]) -> int:
    """What the player got in this go after so many balls of the lesson."""
    asked = {one["feed_id"]: (one["exercise"], one["play"]) for one in entries(run, "feed")}
    later = run.left()[balls_left:]
    return sum((ball["player"], asked[ball["feed_id"]]) == (player, go) for ball in later)


def assert_it_is_so(run: Run, said: list[Said]) -> None:
    """Exact where it said so, else no more than it said."""
    assert run.ending.finished
    of_place = goes(run)
    for one in said:
        got = got_after(run, one.player, one.balls_left, of_place[one.go])
        assert got == one.balls if one.exact else got <= one.balls, one


def test_turns_that_the_program_fixes_are_counted_exactly() -> None:
    run, said = seen(exercises((turns(3),), (turns(2), turns(1, players=(1,)))))
    assert_it_is_so(run, said)
    assert all(one.exact for one in said)
    assert ("Ash", 3) in {(one.player, one.balls) for one in said}
    assert ("Bay", 0) in {(one.player, one.balls) for one in said}


def test_a_lesson_without_exercises_is_looked_at_as_a_whole() -> None:
    plan = lesson_plan(SHOW, turns(3), turns(2), players=TWO)
    run, said = seen(plan)
    assert_it_is_so(run, said)
    assert (said[0].balls, said[0].exact) == (5, True)


ASKED = OnRequest(at_most=4, send=send(0, 4.0), line=4)
DRAWN = Choose(options=(Option(weight=1, body=(send(0, 4.0),)), Option(weight=1, body=())), line=4)


@pytest.mark.parametrize("step", [ASKED, DRAWN])
def test_what_chance_or_the_coach_decides_is_at_most_so_many(step: Step) -> None:
    body = (Turns(slots=2, passes=1, body=(send(0, 4.0), step, PAUSE), line=3),)
    run, said = seen(exercises(body))
    assert_it_is_so(run, said)
    assert not any(one.exact for one in said)


@pytest.mark.parametrize("act", [Act.NEXT, Act.AGAIN, Act.SKIP, Act.EXERCISE_AGAIN])
def test_after_a_jump_it_is_the_most(act: Act) -> None:
    before: list[int] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        await say(engine, act)
        await see(engine, lambda view: view.phase is Phase.RUNNING)
        before.append(engine.view.revision)

    run, said = seen(exercises((turns(5),), (turns(1),)), coach)
    later = [one for one in said if one.revision >= before[0]]
    assert_it_is_so(run, later)
    there = [one for one in later if one.go == later[0].go]
    assert all(one.exact for one in later if one.go != later[0].go)
    # Once more from its head it is what the program has.
    assert {one.exact for one in there} == {act is Act.EXERCISE_AGAIN}


def test_after_a_change_of_the_group_it_is_the_most_for_those_who_are_here() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        wish = ChangeRoster(change=RosterChange.LEAVE, player="Bay")
        assert await engine.command(wish, by="coach") is None

    run, said = seen(exercises((turns(3),), (turns(2),)), coach)
    later = [one for one in said if one.balls_left > 3]
    assert_it_is_so(run, later)
    assert {(one.player, one.exact) for one in later} == {("Ash", False)}


def test_each_at_their_station() -> None:
    station = [
        Station(name=name, launcher=n, players=(n,), body=(send(n * 2, 4.0),) * (2 + n), line=3)
        for n, name in enumerate("xy")
    ]
    steps = (
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        Exercise(
            title="A",
            repeats=0,
            body=(Together(stations=tuple(station), for_s=12.0, line=2),),
            line=2,
        ),
    )
    plan = lesson_plan(*steps, players=TWO, launchers=2)
    run, said = seen(msgspec.structs.replace(plan, bounds=bounds(plan)))
    assert_it_is_so(run, said)
    assert all(one.exact for one in said)
    assert {(one.player, one.balls) for one in said} >= {("Ash", 2), ("Bay", 3)}
