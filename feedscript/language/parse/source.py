"""A text and its places: offsets turned into lines and columns."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from functools import cached_property

from feedscript.diagnostics import Span


class Source:
    """One text by its name. Lines end at ``\\n``; columns count characters, both from 1."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self.text = text

    @cached_property
    def _line_starts(self) -> Sequence[int]:
        starts = [0]
        at = self.text.find("\n")
        while at >= 0:
            starts.append(at + 1)
            at = self.text.find("\n", at + 1)
        return starts

    def place(self, offset: int) -> tuple[int, int]:
        """The line and column of an offset, both from 1."""
        line = bisect.bisect_right(self._line_starts, offset)
        return line, offset - self._line_starts[line - 1] + 1

    def offset(self, line: int, column: int) -> int:
        """The offset of a line and column, kept inside the text."""
        starts = self._line_starts
        if line > len(starts):
            return len(self.text)
        end = starts[line] - 1 if line < len(starts) else len(self.text)
        return max(starts[line - 1], min(starts[line - 1] + column - 1, end))

    def span(self, start: int, end: int) -> Span:
        """The span from ``start`` up to ``end``."""
        line, column = self.place(start)
        end_line, end_column = self.place(end)
        return Span(self.name, line, column, end_line, end_column)

    def first_on_line(self, offset: int) -> bool:
        """Whether nothing but blanks stands before it on its line."""
        start = self._line_starts[bisect.bisect_right(self._line_starts, offset) - 1]
        return not self.text[start:offset].strip("\ufeff \t\r\u00a0")
