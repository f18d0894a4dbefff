"""Where the parser stopped, and what was found there."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.language.parse.source import Source
from feedscript.language.parse.stack import Stack
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token
from feedscript.language.syntax_errors.repairs import Repair

_GUESSES = ("unexpected-word", "missing-word", "missing-value")


class Finding(msgspec.Struct, frozen=True):
    """The report (None where an earlier one covers it) and the way on."""

    diagnostic: Diagnostic | None
    repair: Repair

    @property
    def is_guess(self) -> bool:
        """Whether the report says that something does not fit, and hardly knows what it is."""
        found = self.diagnostic
        if found is None:
            return False
        return found.slug in _GUESSES or found.help.startswith("known here")


class ErrorSite(msgspec.Struct, frozen=True):
    """Where the parser stopped: ``token`` does not fit behind those that were ``seen``."""

    source: Source
    token: Token
    seen: list[Token]
    stack: Stack
    split_names: set[tuple[str, str]]

    @property
    def start(self) -> int:
        return self.token.start_pos

    @property
    def end(self) -> int:
        return self.token.end_pos

    @property
    def before(self) -> Token | None:
        return self.seen[-1] if self.seen else None

    @property
    def text(self) -> str:
        return self.source.text

    def same_line(self) -> bool:
        """Whether the token stands on the line of the token before it."""
        before = self.before
        return before is not None and "\n" not in self.text[before.end_pos : self.start]

    def report(
        self,
        page: Page,
        message: str,
        help: str,
        *,
        start: int | None = None,
        end: int | None = None,
    ) -> Diagnostic:
        """A diagnostic at the token, or at ``start`` and ``end`` where they are given."""
        start = self.start if start is None else start
        end = self.end if end is None else end
        span = self.source.span(start, max(end, start))
        return page.report(message, help=help, span=span)


def whole(stack: Stack) -> bool:
    """Whether the statement being read could end here."""
    return stack.takes("RBRACE") or stack.takes(END)
