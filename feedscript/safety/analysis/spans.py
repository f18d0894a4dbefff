"""From a breach to its place in the program's text."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program import Program
from feedscript.plan.model import Plan
from feedscript.plan.places import Places, line_in
from feedscript.safety.analysis.rule import Breach

Locate: TypeAlias = Callable[[Breach], Span | None]


def nowhere(_: Breach) -> Span | None:
    """No text to point into: a plan from a file."""
    return None


class Locator(msgspec.Struct, frozen=True):
    """Finds the words of the program that a breach is about; the smallest stretch known."""

    program: Program
    plan: Plan
    places: Places

    def __call__(self, breach: Breach) -> Span | None:
        found = self._declaration(breach)
        if found is None and breach.part == "step" and breach.line is not None:
            found = self.places.step(breach.line, breach.feed)
        if found is None and breach.feed is not None:
            found = self.places.feed(breach.feed, breach.part)
        return found or self.program.span

    def _declaration(self, breach: Breach) -> Span | None:
        program = self.program
        if breach.part == "court":
            return program.court.span
        if breach.part == "balls":
            return program.balls.spans.get("kind", program.balls.span)
        if breach.part == "load":
            return self._load(breach.line)
        if breach.part == "block" and breach.line is not None:
            return self.places.block(breach.line)
        if breach.part in ("allow", "require"):
            declared = program.waivers if breach.part == "allow" else program.requirements
            spans = (one.span for one in declared)
            return next((span for span in spans if line_in(program, span) == breach.line), None)
        return None

    def _load(self, line: int | None) -> Span | None:
        """The words that load the launcher of this line: its own, or those of all balls."""
        said = self.program.launchers
        own = next(
            (one for one in said if one.span and line_in(self.program, one.span) == line), None
        )
        everybodys = self.program.balls.spans.get("load")
        if own is None:
            return everybodys
        return own.spans.get("load") or everybodys or own.span
