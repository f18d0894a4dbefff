"""Places in a text as lines and columns, as the editor counts them; many of one text.

The server library counts all lines anew for each place, and every letter of a line by itself.
"""

from __future__ import annotations

import bisect
from itertools import accumulate

from lsprotocol import types as lsp
from pygls.workspace import TextDocument


class Positions:
    """The places of one document as it stands now, by characters of its text."""

    def __init__(self, document: TextDocument) -> None:
        self._lines = document.lines
        self._ends = [*accumulate(map(len, self._lines))]
        self._units = document.position_codec.client_num_units

    def __call__(self, offset: int) -> lsp.Position:
        """The place of a character; past the end, where the next one would be written."""
        line = bisect.bisect_right(self._ends, offset)
        if line == len(self._lines) and (line == 0 or self._lines[-1][-1] in "\r\n"):
            return lsp.Position(line, 0)  # there is no line yet, or the last one is ended
        line = min(line, len(self._lines) - 1)
        before = self._lines[line][: offset - (self._ends[line - 1] if line else 0)]
        return lsp.Position(line, len(before) if before.isascii() else self._units(before))
