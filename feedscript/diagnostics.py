"""The project's only diagnostic type, from a syntax error to a lost link.

A diagnostic is a value: it is returned or carried, collected and rendered, never printed where it
arises. Each kind of diagnostic is a :class:`Page` that lives beside the rule that reports it; the
page knows its slug, its severity and the text that ``feedscript why SLUG`` prints.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any

import msgspec

from feedscript.visible import on_one_line, visible


class Severity(StrEnum):
    """How much a diagnostic weighs: an error refuses, a warning is shown, a note informs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Span(msgspec.Struct, frozen=True, order=True):
    """A part of a text: lines and columns from 1, the end just past the last character."""

    source: str
    line: int
    column: int
    end_line: int
    end_column: int

    def to(self, other: Span) -> Span:
        """From the start of this span to the end of ``other``."""
        return Span(self.source, self.line, self.column, other.end_line, other.end_column)


class Related(msgspec.Struct, frozen=True):
    """Another place that belongs to the story, such as where a name was first defined."""

    span: Span
    message: str


class Diagnostic(msgspec.Struct, frozen=True):
    """What is wrong (with its number), where, and what fixes it.

    ``span`` is the place in a text; ``device`` names a launcher, port or file where there is no
    text to point into. ``message`` states the problem only; ``help`` alone suggests.
    """

    slug: str
    severity: Severity
    message: str
    help: str = ""
    span: Span | None = None
    device: str = ""
    related: tuple[Related, ...] = ()

    @property
    def is_error(self) -> bool:
        return self.severity is Severity.ERROR


class Page(msgspec.Struct, frozen=True):
    """One kind of diagnostic and its page in the reference.

    ``why`` is Markdown prose (what the rule is, why it matters, its source or "common practice,
    no source"). ``wrong`` and ``corrected`` are whole programs that the tests run: the first must
    raise this slug, the second must not.
    """

    slug: str
    title: str
    why: str
    severity: Severity = Severity.ERROR
    wrong: str = ""
    corrected: str = ""

    def report(
        self,
        message: str,
        *,
        help: str = "",
        span: Span | None = None,
        device: str = "",
        related: Iterable[Related] = (),
    ) -> Diagnostic:
        """A diagnostic of this kind. Its words may quote anybody's, and are made visible here."""
        return Diagnostic(
            slug=self.slug,
            severity=self.severity,
            message=visible(message),
            help=visible(help),
            span=span,
            device=visible(device),
            related=tuple(related),
        )


class FeedscriptError(Exception):
    """An exception that carries its diagnostic up to the rim, where it is rendered."""

    def __init__(self, diagnostic: Diagnostic) -> None:
        super().__init__(diagnostic.message)
        self.diagnostic = diagnostic


def has_errors(diagnostics: Iterable[Diagnostic]) -> bool:
    """Whether any of these refuses."""
    return any(diagnostic.is_error for diagnostic in diagnostics)


def in_reading_order(diagnostics: Iterable[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Sorted as a reader meets them: by file and place, those without a place last."""

    def key(diagnostic: Diagnostic) -> tuple[bool, str, int, int, str]:
        span = diagnostic.span
        if span is None:
            return (True, diagnostic.device, 0, 0, diagnostic.slug)
        return (False, span.source, span.line, span.column, diagnostic.slug)

    return tuple(sorted(diagnostics, key=key))


def as_json(diagnostic: Diagnostic) -> dict[str, Any]:
    """The diagnostic as plain data; a place that is not known is null."""
    span = diagnostic.span
    return {
        "slug": diagnostic.slug,
        "severity": diagnostic.severity.value,
        "file": span.source if span else None,
        "line": span.line if span else None,
        "column": span.column if span else None,
        "end_line": span.end_line if span else None,
        "end_column": span.end_column if span else None,
        "message": diagnostic.message,
        "help": diagnostic.help,
        "device": diagnostic.device,
        "related": [
            {
                "file": related.span.source,
                "line": related.span.line,
                "column": related.span.column,
                "message": related.message,
            }
            for related in diagnostic.related
        ],
    }


#: The widest excerpt of a line; a longer line is cut around the words that matter.
_WIDEST = 120


def _place(span: Span) -> str:
    return f"{on_one_line(span.source)}, line {span.line}, column {span.column}"


def _excerpt(span: Span, sources: Mapping[str, str]) -> list[str]:
    """The line a span begins on, its words between angled marks."""
    lines = sources.get(span.source, "").split("\n")
    if not 1 <= span.line <= len(lines):
        return []
    text = lines[span.line - 1].rstrip("\r")
    end = span.end_column if span.end_line == span.line else len(text) + 1
    text, first, end = _cut(text, span.column, end)
    begin, end = first - 1, max(end, first) - 1
    return [f"    {text[:begin].lstrip()}»{text[begin:end]}«{text[end:]}"]


def _cut(text: str, column: int, end: int) -> tuple[str, int, int]:
    """A long line cut around columns ``column`` to ``end``, which are moved to match."""
    if len(text) <= _WIDEST:
        return text, column, end
    start = max(0, column - 1 - _WIDEST // 3)
    shown = text[start : start + _WIDEST]
    before = "…" if start else ""
    after = "…" if start + _WIDEST < len(text) else ""
    moved = column - start + len(before)
    return before + shown + after, moved, min(moved + end - column, len(before + shown) + 1)


def render(diagnostic: Diagnostic, sources: Mapping[str, str]) -> str:
    """The diagnostic as a person reads it: what is wrong, where, the words marked, what fixes it;
    its slug last."""
    lines = [f"{diagnostic.severity.value.capitalize()}: {diagnostic.message}"]
    span = diagnostic.span
    if span is not None:
        lines.append(f"  in {_place(span)}")
        lines += _excerpt(span, sources)
    elif diagnostic.device:
        lines.append(f"  at {on_one_line(diagnostic.device)}")
    for related in diagnostic.related:
        lines.append(f"  {related.message}: {_place(related.span)}")
        lines += _excerpt(related.span, sources)
    if diagnostic.help:
        lines.append(f"  fix: {diagnostic.help}")
    lines.append(f"  ({diagnostic.slug})")
    return "\n".join(lines)
