"""An open text whose lines end where the protocol says, and nowhere else.

Source: Language Server Protocol 3.17, "Text Documents": ``\\n``, ``\\r\\n`` and ``\\r`` end a line.
The server library ends one at a form feed or a U+2028 too, where no editor does: all places after
it would be off by a line, and what is typed there would change other words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import unquote

from pygls.workspace import TextDocument, Workspace

from feedscript.override import override

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")


class OpenText(TextDocument):
    """A text as an editor has it open."""

    @property
    @override
    def lines(self) -> Sequence[str]:
        return lines_of(self.source)


def lines_of(text: str) -> tuple[str, ...]:
    """The lines of a text, each with its end."""
    return tuple(_LINE.findall(text))


def reopened(workspace: Workspace, uri: str) -> None:
    """Have a text that was just opened counted so."""
    found = workspace.get_text_document(uri)
    workspace.text_documents[unquote(uri)] = OpenText(
        uri,
        found.source,
        found.version,
        found.language_id,
        position_codec=found.position_codec,
    )
