"""The person who says yes: confirms what a coach would, for scripts and rehearsals.

What this person never does is act at the launcher: arming stays an act there (in rehearsal, of the
stand-in's own simulated person).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from feedscript.session.operator.commands import Answer, Command, Confirm, SimpleCommand
from feedscript.session.operator.controller import Controller
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView

_SAYS: dict[Phase, Act] = {
    Phase.SHOWING: Act.CLEAR,
    Phase.JUDGING: Act.SEEN,
    Phase.READY: Act.GO_ON,
    Phase.COLLECTING: Act.COLLECTED,
}


def says(state: LessonView) -> Command | None:
    """What an obliging person says to this state, if anything."""
    if state.phase is Phase.SETTING_UP:
        for step in state.set_up:
            if not step.confirmed:
                return Confirm(key=step.key)
    act = _SAYS.get(state.phase)
    return None if act is None else SimpleCommand(act=act)


def fixes(state: LessonView) -> Command | None:
    """What a patient person does about trouble: goes on, sets up again, looks for a ball."""
    if state.phase is Phase.HELD:
        return SimpleCommand(act=Act.GO_ON)
    if state.phase is Phase.STOPPED:
        return SimpleCommand(act=Act.SET_UP_AGAIN)
    if state.phase is Phase.ASKING and state.asked_about:
        return Answer(feed_id=state.asked_about[0].feed_id, left=False)
    return None


@dataclass(slots=True)
class AutoOperator:
    """Says yes to whatever a lesson waits for, until it ends.

    Trouble is fixed so many times (``fixes``; a ball in question is said not to have left), and
    then the lesson is quit. With None trouble is left to somebody else.
    """

    lesson: Controller
    watch: Callable[[LessonView], None] = lambda _: None
    fixes: int | None = None
    by: str = "script"

    async def operate(self) -> None:
        async for state in self.lesson.views():
            self.watch(state)
            command = says(state) or self._fix(state)
            if command is not None:
                await self.lesson.command(command, by=self.by)

    def _fix(self, state: LessonView) -> Command | None:
        if self.fixes is None:
            return None
        command = fixes(state)
        if command is None:
            return None
        if self.fixes <= 0:
            return SimpleCommand(act=Act.QUIT)
        self.fixes -= 1
        return command
