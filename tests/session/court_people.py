"""The coach of the lessons over bad lines: says what each phase waits for, and taps results.

Not always at once, not always the same, and not always knowing: but what the coach says of a ball
is true.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

import anyio

from feedscript.plan.model import Result
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.auto_operator import says
from feedscript.session.operator.commands import Answer, Command, RecordResult, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView


@dataclass
class Coach:
    """``really_left`` is what one sees who looks for the ball of this launcher and number."""

    engine: Engine
    really_left: Callable[[int, int], bool]
    chance: random.Random
    sure: bool = False
    quick: bool = False

    async def operate(self) -> None:
        async for state in self.engine.views():
            command = self._answer(state) or self._says(state) or self._fixes(state)
            if command is None:
                continue
            await anyio.sleep(self._thinks_s(state.phase))
            if isinstance(command, Answer):
                command = self._answer(self.engine.view)
            if command is not None:
                await self.engine.command(command, by="coach")

    def _thinks_s(self, phase: Phase) -> float:
        if self.quick:
            return 0.0
        if phase is Phase.HELD and self.chance.random() < 0.05:
            return 70.0  # longer than a hold may last
        return self.chance.choice((0.0, 0.0, self.chance.uniform(0.0, 2.0)))

    def _says(self, state: LessonView) -> Command | None:
        if state.phase is Phase.JUDGING and not self.sure and self.chance.random() < 0.05:
            return SimpleCommand(act=Act.WRONG)
        return says(state)

    def _fixes(self, state: LessonView) -> Command | None:
        if state.phase is Phase.HELD:
            return SimpleCommand(act=Act.GO_ON)
        return SimpleCommand(act=Act.SET_UP_AGAIN) if state.phase is Phase.STOPPED else None

    def _answer(self, state: LessonView) -> Command | None:
        """The truth about a ball in question; or the coach does not know and breaks off."""
        if state.phase is not Phase.ASKING or not state.asked_about:
            return None
        if not self.sure and self.chance.random() < 0.15:
            return SimpleCommand(act=Act.QUIT)
        ball = state.asked_about[0]
        left = self.really_left(ball.launcher, ball.feed_id)
        return Answer(feed_id=ball.feed_id, left=left)

    async def tap(self) -> None:
        """Most balls get a result, soon after they were played."""
        lesson, seen = self.engine.lesson, 0
        while True:
            changed = lesson.changed
            for ball in lesson.recording.balls[seen:]:
                seen += 1
                if not ball.shown and self.chance.random() < 0.7:
                    result = self.chance.choice((Result.IN, Result.IN, Result.NET, Result.LONG))
                    await self.engine.command(RecordResult(result=result, feed_id=ball.feed_id))
            await changed.wait()
