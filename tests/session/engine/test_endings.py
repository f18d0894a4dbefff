"""How a lesson ends that nobody chose to end: with its cause in words, and exit code 3."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass

import anyio
import pytest
from feedscript_drivers.wire.protocol import FaultKind, Times
from feedscript_simulator.faults import Faults

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import JOURNAL_UNUSABLE, BallIntent, Journal
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import Answer, SimpleCommand
from feedscript.session.operator.phases import (
    ENDED,
    NOT_CHOSEN,
    POWERED,
    TRANSITIONS,
    Act,
    Happening,
    Phase,
)
from feedscript.session.operator.view import LessonView
from tests.plan.small_plans import send
from tests.session.coach import say, see_balls, see_phase
from tests.session.rehearsing import Rig, Run, lesson_plan, rehearse

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=10, body=(send(0, 4.0),), line=2))


@dataclass(frozen=True)
class Trouble:
    """What happens after two balls, and what must be read of it."""

    words: str
    happens: Callable[[Engine, Rig], None] = lambda engine, rig: None
    jams_at: frozenset[int] = frozenset()


def empty(engine: Engine, rig: Rig) -> None:
    rig.stand_ins[0].end.machine.feeder.hopper = 0


def stray(engine: Engine, rig: Rig) -> None:
    stand_in = rig.stand_ins[0]
    stand_in.advance(anyio.current_time())
    stand_in.end.machine.find_fault(FaultKind.STRAY_BALL)
    stand_in.changed()


def switch(engine: Engine, rig: Rig) -> None:
    stand_in = rig.stand_ins[0]
    stand_in.advance(anyio.current_time())
    stand_in.end.machine.turn_switch(False)
    stand_in.changed()


def silence(engine: Engine, rig: Rig) -> None:
    """The launcher hears nothing for a while: it stops by itself."""
    stand_in = rig.stand_ins[0]
    stand_in.advance(anyio.current_time())
    stand_in.end.machine._fresh_ms = stand_in.end.machine.now_ms - 2 * Times.SILENCE
    stand_in.advance(anyio.current_time())
    stand_in.changed()


def cut(engine: Engine, rig: Rig) -> None:
    rig.lines[0].cut = True


def full_disk(engine: Engine, rig: Rig) -> None:
    def refuse(journal: Journal, session_id: int, intent: BallIntent) -> None:
        raise FeedscriptError(JOURNAL_UNUSABLE.report("the journal cannot be used: disk is full"))

    engine.lesson.journal.intend = refuse.__get__(engine.lesson.journal)  # type: ignore[method-assign]


NOBODY_CHOSE = {
    "jam": Trouble("jam", jams_at=frozenset([3])),
    "empty": Trouble("empty", empty),
    "stray ball": Trouble("stray-ball", stray),
    "switch": Trouble("switch", switch),
    "silence": Trouble("silence", silence),
    "link": Trouble("nothing was heard", cut),
    "full disk": Trouble("disk is full", full_disk),
}


def run(trouble: Trouble, seen: list[LessonView]) -> Run:
    """A script says yes to everything and ends the lesson at the first trouble."""
    rig = Rig({0: Faults(jams_at=trouble.jams_at)})

    async def script(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine, watch=seen.append, fixes=0).operate)
            await see_balls(engine, 2)
            trouble.happens(engine, rig)

    return rehearse(PLAN, script, rig=rig)


@pytest.mark.parametrize("name", NOBODY_CHOSE)
def test_what_nobody_chose_is_named(name: str) -> None:
    seen: list[LessonView] = []
    found = run(NOBODY_CHOSE[name], seen)
    assert found.ending.phase is Phase.BROKEN_OFF
    assert NOBODY_CHOSE[name].words in found.ending.cause
    rows = found.journal.rows("SELECT data FROM entry WHERE kind = 'ended'")
    if name != "full disk":  # then there is nowhere to write it
        assert [json.loads(row["data"])["cause"] for row in rows] == [found.ending.cause]
    assert seen[-1].cause == found.ending.cause


@pytest.mark.parametrize("acts", [(Act.STOP, Act.QUIT), (Act.QUIT,), (Act.HOLD, Act.QUIT)])
def test_what_a_person_chose_is_no_trouble(acts: tuple[Act, ...]) -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        for act in acts:
            await say(engine, act)

    found = rehearse(PLAN, coach)
    assert found.ending.phase is Phase.BROKEN_OFF
    assert found.ending.cause == ""


def test_trouble_that_was_fixed_is_not_the_cause_of_a_later_end() -> None:
    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.ASKING)
        (ball,) = engine.view.asked_about
        await engine.command(Answer(feed_id=ball.feed_id, left=False))
        await see_phase(engine, Phase.STOPPED)
        await say(engine, Act.SET_UP_AGAIN)
        await see_balls(engine, 5)
        await engine.command(SimpleCommand(act=Act.QUIT))

    found = rehearse(PLAN, coach, faults=("jam=3",))
    assert found.ending.phase is Phase.BROKEN_OFF
    assert found.ending.cause == ""


def test_a_last_word_that_could_not_be_written_is_not_a_fine_end() -> None:
    """The disk fills up after the last intent: the balls flew, and the journal does not know."""

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 11)

        def refuse(*_: object) -> None:
            raise FeedscriptError(JOURNAL_UNUSABLE.report("disk is full"))

        engine.lesson.journal.end_session = refuse  # type: ignore[method-assign]

    found = rehearse(PLAN, coach)
    assert found.ending.finished
    assert found.ending.cause == "disk is full"


def test_every_happening_that_ends_a_lesson_has_its_words() -> None:
    for (phase, cause), after in TRANSITIONS.items():
        stops = after in (*ENDED, Phase.STOPPED, Phase.ASKING) and phase in POWERED
        if isinstance(cause, Happening) and stops:
            assert cause in NOT_CHOSEN
