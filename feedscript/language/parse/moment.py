"""Where the parser stopped, what was found there, and the ways on from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from feedscript.diagnostics import Diagnostic, Page
from feedscript.language.parse.source import Source
from feedscript.language.parse.stack import Stack
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token


@dataclass(frozen=True, slots=True)
class PutIn:
    """Act as if a mark or word stood before the slip."""

    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class ReadAs:
    """Take the text from the slip up to ``end`` for a token of this kind."""

    kind: str
    words: str
    end: int


@dataclass(frozen=True, slots=True)
class ReadPreviousAs:
    """Take the token before the slip for one of this kind."""

    kind: str


@dataclass(frozen=True, slots=True)
class TakeBack:
    """Take back so many tokens, leave the first of them out, and read on behind it."""

    count: int


@dataclass(frozen=True, slots=True)
class StartOver:
    """Take back so many tokens and read on from the last of them."""

    count: int


@dataclass(frozen=True, slots=True)
class PassOver:
    """Leave the text from the slip up to ``end`` out."""

    end: int


@dataclass(frozen=True, slots=True)
class CloseBraces:
    """Act as if so many braces were closed before the slip."""

    count: int


@dataclass(frozen=True, slots=True)
class DropStatement:
    """Go on at the next statement."""


_GUESSES = ("unexpected-word", "missing-word", "missing-value")

Mend: TypeAlias = (
    PutIn | ReadAs | ReadPreviousAs | TakeBack | StartOver | PassOver | CloseBraces | DropStatement
)


@dataclass(frozen=True, slots=True)
class Finding:
    """The report (None where an earlier one covers it) and the way on."""

    diagnostic: Diagnostic | None
    mend: Mend

    @property
    def is_guess(self) -> bool:
        """Whether the report says that something does not fit, and hardly knows what it is."""
        found = self.diagnostic
        if found is None:
            return False
        return found.slug in _GUESSES or found.help.startswith("known here")


@dataclass(frozen=True, slots=True)
class Moment:
    """Where the parser stopped."""

    source: Source
    slip: Token
    seen: list[Token]
    stack: Stack
    split_names: set[tuple[str, str]]

    @property
    def start(self) -> int:
        return self.slip.start_pos

    @property
    def end(self) -> int:
        return self.slip.end_pos

    @property
    def before(self) -> Token | None:
        return self.seen[-1] if self.seen else None

    @property
    def text(self) -> str:
        return self.source.text

    def same_line(self) -> bool:
        """Whether the slip stands on the line of the token before it."""
        before = self.before
        return before is not None and "\n" not in self.text[before.end_pos : self.start]

    def report(
        self,
        page: Page,
        message: str,
        help: str,  # noqa: A002 - the word every reader of a diagnostic knows
        *,
        start: int | None = None,
        end: int | None = None,
    ) -> Diagnostic:
        """A diagnostic at the slip, or at ``start`` and ``end`` where they are given."""
        start = self.start if start is None else start
        end = self.end if end is None else end
        span = self.source.span(start, max(end, start))
        return page.report(message, help=help, span=span)


def whole(stack: Stack) -> bool:
    """Whether the statement being read could end here."""
    return stack.takes("RBRACE") or stack.takes(END)
