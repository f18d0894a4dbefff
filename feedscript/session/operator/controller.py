"""The face of a running lesson: commands in, states out.

The terminal and the court-side page both drive a lesson through this and nothing else.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Protocol

from feedscript.diagnostics import Diagnostic
from feedscript.session.operator.commands import Command
from feedscript.session.operator.view import LessonView


class Controller(Protocol):
    """A lesson that can be watched and commanded. To be used from the lesson's own event loop."""

    @property
    def view(self) -> LessonView:
        """What can be seen now."""
        ...

    def views(self) -> AsyncIterator[LessonView]:
        """The state now and after each change; a slow reader misses those between. Ends with the
        lesson. Any number of readers; none can delay the lesson."""
        ...

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        """Do what a person commands; the diagnostic that refuses it, or None when it was done.

        ``by`` names the device for the journal.
        A stop goes ahead of everything else and returns when every launcher acknowledged it.
        """
        ...

    def notice(self, trouble: Diagnostic) -> None:
        """Show and journal trouble of a face's own, such as a page that is served no more."""
        ...
