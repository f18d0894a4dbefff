"""The person who says yes: confirms what a coach would, for scripts and rehearsals.

What this person never does is act at the launcher: arming stays an act there (in rehearsal, of the
stand-in's own simulated person).
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from enum import StrEnum
from typing import Protocol

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.session.operator.commands import Command, SimpleCommand
from feedscript.session.operator.controls import control_of_key
from feedscript.session.operator.phases import ENDED, Act, Phase
from feedscript.session.operator.view import Asks, LessonView

#: Phases that only trouble leads to, or a person who wanted a pause.
_TROUBLE = (Phase.HELD, Phase.STOPPED, Phase.ASKING)


class Taps(StrEnum):
    """How the simulated coach asks for balls on request."""

    SOON = "soon"  # for each as soon as it may be asked for
    NEVER = "never"  # for none: there are enough at once


class Asking(Protocol):
    """A lesson, for who answers it: see :class:`feedscript.session.engine.engine.Engine`."""

    @property
    def view(self) -> LessonView: ...

    @property
    def asks(self) -> Asks:
        """What it waits for now."""
        ...

    def changes(self) -> AsyncIterator[None]:
        """Once now and after each change, until it has ended."""
        ...

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None: ...


def says(view: LessonView | Asks, taps: Taps | None = Taps.SOON) -> Command | None:
    """What an obliging person says to what is asked, if anything; a break is left its time, and
    balls on request are left to somebody else where nothing is said of them."""
    waits = view.phase in (*_TROUBLE, *ENDED) or bool(view.break_s)
    if view.request is not None and view.phase is Phase.RUNNING and taps is not Taps.SOON:
        return None if taps is None else SimpleCommand(act=Act.NEXT)
    return None if waits else _pressed(view, "Enter")


def fixes(view: LessonView | Asks) -> Command | None:
    """What a patient person does about trouble: goes on, sets up again, looks for a ball."""
    if view.phase not in _TROUBLE:
        return None
    return _pressed(view, "n" if view.asked_about else "Enter")


def _pressed(view: LessonView | Asks, key: str) -> Command | None:
    control = control_of_key(view.controls, key)
    can = control is not None and control.shown and control.can_be_done
    return control.command if control is not None and can else None


class AutoOperator(msgspec.Struct, eq=False):
    """Says yes to whatever a lesson waits for, until it ends.

    Trouble is fixed so many times (``fixes``; a ball in question is said not to have left), and
    then the lesson is quit. With None trouble is left to somebody else. ``looks_s``: so long this
    person looks at trouble first.
    """

    lesson: Asking
    watch: Callable[[LessonView], None] | None = None
    fixes: int | None = None
    taps: Taps | None = Taps.SOON
    looks_s: float = 0.0
    by: str = "script"

    async def operate(self) -> None:
        async for _change in self.lesson.changes():
            if self.watch is not None:
                self.watch(self.lesson.view)
            asks = self.lesson.asks
            if self.looks_s and fixes(asks) is not None:
                await anyio.sleep(self.looks_s)
                asks = self.lesson.asks
            command = says(asks, self.taps) or self._fix(asks)
            if command is not None:
                await self.lesson.command(command, by=self.by)

    def _fix(self, asks: Asks) -> Command | None:
        if self.fixes is None:
            return None
        command = fixes(asks)
        if command is None:
            return None
        if self.fixes <= 0:
            return SimpleCommand(act=Act.QUIT)
        self.fixes -= 1
        return command
