"""A ball that was watched and was not as stated has shown nothing: another is watched first."""

from __future__ import annotations

from collections.abc import Collection
from itertools import count

import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Command, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see_phase
from tests.session.rehearsing import Run, lesson_plan, rehearse

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    Repeat(times=2, body=(send(0, 4.0),), line=2),
    ShowSpeed(feed=1, line=3),
    Repeat(times=2, body=(send(1, 4.0),), line=4),
)


SEEN, WRONG = SimpleCommand(act=Act.SEEN), SimpleCommand(act=Act.WRONG)


def judged(wrong: Collection[int]) -> Run:
    """The lesson in which these of all judgements, counted from 0, are that it was wrong."""

    async def coach(engine: Engine) -> None:
        carry_out, judgements = engine.command, count()

        async def command(said: Command, by: str = "") -> Diagnostic | None:
            if said == SEEN and engine.lesson.phase is Phase.JUDGING and next(judgements) in wrong:
                said = WRONG
            return await carry_out(said, by)

        setattr(engine, "command", command)  # noqa: B010
        for _ in wrong:
            state = await see_phase(engine, Phase.STOPPED)
            assert state.launchers[0].state is not LauncherState.ARMED
            await say(engine, Act.SET_UP_AGAIN)

    return rehearse(PLAN, coach)


def told(run: Run) -> str:
    """The balls in the order in which they left, the watched ones in capitals."""
    return "".join(
        str(ball["feed"]).upper() if ball["shown"] else str(ball["feed"]) for ball in run.left()
    )


@pytest.mark.parametrize(
    ("wrong", "balls"),
    [((), "AaaBbb"), ((0,), "AAaaBbb"), ((0, 1, 2), "AAAAaaBbb"), ((1,), "AaaBBbb")],
)
def test_it_is_shown_again_before_anybody_plays(wrong: Collection[int], balls: str) -> None:
    run = judged(wrong)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert told(run) == balls
