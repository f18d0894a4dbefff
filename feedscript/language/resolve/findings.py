"""What is found wrong while a program is read, each thing once."""

from __future__ import annotations

from collections.abc import Hashable, Iterable

from feedscript.diagnostics import Diagnostic, Page, Related, Span


class Findings:
    """The diagnostics of one program, in the order in which they were found."""

    def __init__(self) -> None:
        self._met: set[Hashable] = set()
        self._found: dict[tuple[str, Span | None], Diagnostic] = {}

    def __len__(self) -> int:
        return len(self._found)

    def report(
        self,
        page: Page,
        span: Span,
        message: str,
        help: str = "",
        related: Iterable[Related] = (),
    ) -> None:
        """Add a diagnostic; the same kind at the same place is the same mistake."""
        self.add(page.report(message, help=help, span=span, related=related))

    def add(self, *diagnostics: Diagnostic) -> None:
        """Add ready-made diagnostics."""
        for diagnostic in diagnostics:
            self._found.setdefault((diagnostic.slug, diagnostic.span), diagnostic)

    def all(self) -> tuple[Diagnostic, ...]:
        """Everything found."""
        return tuple(self._found.values())

    def first_time(self, what: Hashable) -> bool:
        """Whether this is asked for the first time while this program is read."""
        known = what in self._met
        self._met.add(what)
        return not known

    def any_error(self) -> bool:
        """Whether the program is refused."""
        return any(diagnostic.is_error for diagnostic in self._found.values())
