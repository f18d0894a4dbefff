"""Players go up and down in a progression on court: said, written down, and the same again."""

from __future__ import annotations

import msgspec

from feedscript.plan.folds.bounds import bounds
from feedscript.plan.interpreter.actions import StepMove
from feedscript.plan.model import (
    Condition,
    Fed,
    Move,
    Plan,
    Progression,
    Result,
    Send,
    ShowSpeed,
    Step,
    Turns,
    When,
)
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import RecordResult
from feedscript.session.state.event_log import read_state
from feedscript.session.state.plan_cursor import stand_at
from tests.plan.small_plans import rest
from tests.session.rehearsing import Run, lesson_plan, rehearse

PACE = Progression(name="pace", rungs=("a", "b"))
PACED = Send(
    feeds=(0,),
    own=(Fed(kinds=(0,), feeds=(1,), rung=1),),
    progression=0,
    rungs=2,
    after_s=(4.0, 4.0),
    line=2,
)
ONE_IN = Condition(results=(Result.IN,), at_least=1, window=1)
UP = When(condition=ONE_IN, then=(Move(progression=0, up=True, line=3),), line=3)


def lesson(*steps: Step, names: tuple[str, ...] = ("Ash", "Bay")) -> Plan:
    players = tuple(Player(name=name) for name in names)
    show = ShowSpeed(feed=1, line=1)
    plan = lesson_plan(show, *steps, players=players, progressions=(PACE,))
    return msgspec.structs.replace(plan, bounds=bounds(plan))


def turns(*body: Step, slots: int = 2) -> Step:
    return Turns(slots=slots, passes=1, body=(*body, rest(12.0)), line=2)


async def everything_is_in(engine: Engine) -> None:
    seen = 1  # the shown one
    async for view in engine.views():
        while seen < view.balls_left:
            seen += 1
            await engine.command(RecordResult(result=Result.IN, feed_id=seen))


def fed(run: Run) -> list[tuple[object, str]]:
    return [(ball["player"], "ab"[ball["feed_index"]]) for ball in run.left()[1:]]


def calls(run: Run) -> list[str]:
    rows = run.journal.rows("SELECT data ->> 'text' AS text FROM entry WHERE kind = 'call'")
    return [row["text"] for row in rows]


def test_whoever_hits_in_goes_up_and_the_others_see_it_said() -> None:
    run = rehearse(lesson(turns(PACED, UP, PACED, UP), turns(PACED)), everything_is_in)
    assert run.ending.finished, run.ending.diagnostics
    assert fed(run) == [(name, feed) for name in ("Ash", "Bay") for feed in "ab"] + [
        ("Ash", "b"),
        ("Bay", "b"),
    ]
    told = [call for call in calls(run) if ":" in call]
    assert told == [
        "Ash: up to b",
        "Ash: stays at b, the last step of pace",
        "Bay: up to b",
        "Bay: stays at b, the last step of pace",
    ]


def test_that_somebody_stays_on_the_last_step_is_said_once() -> None:
    up = Move(progression=0, up=True, line=3)
    run = rehearse(lesson(turns(PACED, up, PACED, up, PACED, up, slots=1)))
    assert run.ending.finished
    assert [call for call in calls(run) if "stays" in call] == [
        "Ash: stays at b, the last step of pace"
    ]


def test_the_journal_has_who_stands_where_and_leads_to_the_same_place() -> None:
    run = rehearse(lesson(turns(PACED, UP, PACED), turns(PACED)), everything_is_in)
    live = run.engine.lesson
    assert live.state.stands == {(0, 0): 1, (0, 1): 1}
    assert read_state(run.journal, live.session_id, live.plan) == live.state
    again = stand_at(live.plan, live.state.decisions, live.state.done)
    moves = [action for _, action in again.announced if isinstance(action, StepMove)]
    assert [(move.player, move.before, move.after) for move in moves] == [(0, 0, 1), (1, 0, 1)]
    rows = run.journal.rows("SELECT data FROM entry WHERE kind = 'step'")
    assert [msgspec.json.decode(row["data"])["player"] for row in rows] == ["Ash", "Bay"]
