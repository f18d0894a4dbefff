"""Characters in a program that nobody sees, or that let others be seen as they are not."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from feedscript.diagnostics import Diagnostic, Page
from feedscript.language.examples import program
from feedscript.language.parse.source import Source
from feedscript.visible import HIDDEN, called

HIDDEN_CHARACTER = Page(
    slug="hidden-character",
    title="A character that is not seen",
    why="""Control characters make a terminal do things instead of showing them, and controls of
the writing direction let a line be read otherwise than it is taken: a reviewer would see another
program than the one that runs. Neither may stand anywhere in a program, not even in a comment. Such
characters come along when text is copied from a web page or a message (Unicode Technical Report
36, "Unicode Security Considerations").""",
    wrong=program(more="# watch the \u202esdnah"),
    corrected=program(more="# watch the hands"),
)

#: So many are reported of one file; a file that is no text has no end of them.
_MOST = 20


def hidden_in(source: Source) -> Iterator[Diagnostic]:
    """A report of each hidden character, save a file's mark of order and its lines' ends."""
    text = source.text
    end = text.find("\r")
    if end >= 0 and "\n" not in text:
        yield HIDDEN_CHARACTER.report(
            "the lines of this text end as no system of today ends them (U+000D alone)",
            help="save the program anew, with line ends as Windows or Linux write them",
            span=source.span(end, end + 1),
        )
        return
    yield from islice(_all_in(source), _MOST)


def _all_in(source: Source) -> Iterator[Diagnostic]:
    for found in HIDDEN.finditer(source.text):
        ends_line = found[0] == "\r" and source.text.startswith("\n", found.end())
        if not ends_line and not (found[0] == "\ufeff" and found.start() == 0):
            yield HIDDEN_CHARACTER.report(
                f"{called(found[0])} stands here and is not seen",
                help="delete it, or write the words again",
                span=source.span(found.start(), found.end()),
            )
