"""From a breach to its place in the program's text."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program import Program
from feedscript.plan.model import Plan
from feedscript.plan.places import Places
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
        if breach.part == "allow":
            lines = [one.line for one in self.plan.waivers]
            return _on_line(breach.line, lines, [one.span for one in program.waivers])
        if breach.part == "require":
            lines = [one.line for one in self.plan.requirements]
            return _on_line(breach.line, lines, [one.span for one in program.requirements])
        return None

    def _load(self, line: int | None) -> Span | None:
        """The words that load the launcher of this line: its own, or those of all balls."""
        pairs = zip(self.plan.launchers, self.program.launchers, strict=True)
        own = next((said for placed, said in pairs if said.span and placed.line == line), None)
        everybodys = self.program.balls.spans.get("load")
        if own is None:
            return everybodys
        return own.spans.get("load") or everybodys or own.span


def _on_line(line: int | None, lines: Iterable[int], spans: Iterable[Span]) -> Span | None:
    """The first of these spans whose line is that; declarations and plan are in one order."""
    return next((span for each, span in zip(lines, spans, strict=True) if each == line), None)
