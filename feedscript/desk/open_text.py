"""The text that a page has open, and where in it something stands."""

from __future__ import annotations

import msgspec

from feedscript.desk.offsets import BrowserOffsets
from feedscript.diagnostics import Span
from feedscript.language.parse.source import Source


class Words(msgspec.Struct, frozen=True):
    """A part of the open text, as a browser counts."""

    start: int
    end: int


class OpenText(msgspec.Struct, frozen=True):
    """The open text, and how a browser counts in it."""

    source: Source
    units: BrowserOffsets

    def words(self, span: Span | None) -> Words | None:
        """Where a span stands in it; None for one of another file."""
        if span is None or span.source != self.source.name:
            return None
        start = self.source.offset(span.line, span.column)
        end = self.source.offset(span.end_line, span.end_column)
        return Words(self.units(start), self.units(end))

    def line(self, number: int) -> Words | None:
        """A whole line; None for line 0, which is in another file."""
        return self.words(Span(self.source.name, number, 1, number, 10_000)) if number else None
