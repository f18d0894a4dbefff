"""What a diagnostic advises, as a change of the text that was tried.

The advice is in words, made where the mistake is understood. Here its words are turned into the few
changes that they may mean, and each is checked: a change is offered only where the program then no
longer shows this mistake, and none that it did not show before. So nothing here has to be believed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import msgspec

from feedscript.diagnostics import Diagnostic, Severity
from feedscript.editor.document import Document
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source

#: So many changes are tried for one diagnostic; each costs a check.
MOST_TRIED = 6


class Change(msgspec.Struct, frozen=True):
    """Other words for a part of a text; places in characters."""

    start: int
    end: int
    words: str

    def made(self, text: str) -> str:
        return text[: self.start] + self.words + text[self.end :]


class Fix(msgspec.Struct, frozen=True):
    """A change that mends one mistake, and what to call it."""

    title: str
    change: Change


def fixes(document: Document, found: Diagnostic) -> tuple[Fix, ...]:
    """The changes that mend a diagnostic of this document and break nothing else."""
    source, span = document.scope.source, found.span
    if span is None or span.source != source.name:
        return ()
    offered: dict[str, Fix] = {}
    tried: set[Change] = set()
    for fix in _meant(document, source, found):
        if fix.change in tried or len(tried) == MOST_TRIED:
            continue
        tried.add(fix.change)
        if _mends(document, fix.change, found):
            offered.setdefault(fix.title, fix)
    return tuple(offered.values())


def _mends(document: Document, change: Change, found: Diagnostic) -> bool:
    """Whether the mistake is gone and nothing as grave has come."""
    after = document.judged(change.made(document.text)).diagnostics
    before = document.verdict.diagnostics
    fewer = _count(after, found.severity)[found.slug] < _count(before, found.severity)[found.slug]
    return fewer and not _count(after, Severity.ERROR) - _count(before, Severity.ERROR)


def _count(found: tuple[Diagnostic, ...], severity: Severity) -> Counter[str]:
    """How often each kind of this gravity is reported."""
    return Counter(one.slug for one in found if one.severity is severity)


def _meant(document: Document, source: Source, found: Diagnostic) -> Iterator[Fix]:
    """Changes that the advice may mean, the likeliest first."""
    assert found.span is not None
    start = source.offset(found.span.line, found.span.column)
    end = source.offset(found.span.end_line, found.span.end_column)
    advice = found.help
    for snippet in re.findall(r"`([^`]+)`|did you mean ['\"]([^'\"]+)['\"]", advice):
        words = snippet[0] or snippet[1]
        if "…" not in words and "NAME" not in words:
            yield from _written(document, source, (start, end), words, advice)
    yield from _later(source, start, end, advice)
    for balls in re.findall(r"\bload (?:at most )?(\d+) balls", advice):
        yield from _same_line(document, source, start, f"load {balls}")
    if re.search(r"\b(take the line out|delete it|leave it out|keep one of the two)\b", advice):
        yield _without(source, start, end)


def _written(
    document: Document, source: Source, place: tuple[int, int], words: str, advice: str
) -> Iterator[Fix]:
    """The changes that advised words may mean, by what stands around them in the advice."""
    start, end = place
    quoted = re.escape(f"`{words}`")
    if re.search(f"{quoted} before", advice):
        yield from _before(document, source, start, words)
    elif re.search(f"make {quoted} its first line", advice):
        yield Fix(f"put {words} first", Change(0, 0, f"{words}\n"))
    elif re.search(rf"\badd its \w+, .*{quoted}", advice):
        yield Fix(f"add {words}", Change(end, end, f", {words}"))
    else:
        if not advice.startswith("did you mean"):
            yield from _same_line(document, source, start, words)
        yield _instead(source, start, end, words)


def _instead(source: Source, start: int, end: int, words: str) -> Fix:
    """The words at fault, replaced; marks of quotation stay."""
    old = source.text[start:end]
    if len(old) > 1 and old[0] == old[-1] == '"' and not words.startswith('"'):
        words = f'"{words}"'
    return Fix(f"write {words}", Change(start, end, words))


def _before(document: Document, source: Source, start: int, words: str) -> Iterator[Fix]:
    """A step of its own before the lesson's first, or before the one at fault."""
    lessons = [one for one in document.scope.tree.items if isinstance(one, t.Lesson)]
    for lesson in lessons:
        brace = source.text.find("{", lesson.start, lesson.end)
        if brace >= 0:
            change = Change(brace + 1, brace + 1, f"\n    {words}")
            yield Fix(f"put {words} first in the lesson", change)
    at = _line_start(source, start)
    indent = re.match(r"[ \t]*", source.text[at:])
    margin = indent[0] if indent else ""
    yield Fix(f"put {words} before it", Change(at, at, f"{margin}{words}\n"))


def _same_line(document: Document, source: Source, start: int, words: str) -> Iterator[Fix]:
    """A line of a block that begins like the advised one, replaced by it; else put in."""
    head = words.split(maxsplit=1)[0]
    for item in document.scope.tree.items:
        if not item.start <= start < item.end:
            continue
        text = source.text
        # A value ends with its line, its block, or where the next line's word stands.
        line = re.compile(rf"(?<![\w-]){re.escape(head)}\s+[^\n{{}}]*?(?=\s{{2,}}|\s*[\n{{}}]|$)")
        for old in line.finditer(text, item.start, item.end):
            yield Fix(f"write {words}", Change(old.start(), old.end(), words))
        if isinstance(item, (t.Feed, t.Declaration)) and text[item.end - 1] == "}":
            inner = text[item.start : item.end - 1].rstrip()
            at = item.start + len(inner)
            apart = "\n    " if "\n" in inner else "  "
            yield Fix(f"add {words}", Change(at, at, f"{apart}{words}"))


_SECONDS = re.compile(r"(\d+(?:\.\d+)?) s (?:after|or more|or later)")


def _later(source: Source, start: int, end: int, advice: str) -> Iterator[Fix]:
    """``after`` so much time as is advised."""
    for asked in _SECONDS.findall(advice):
        until = source.text.find("\n", end)
        line = source.text[start : until if until >= 0 else len(source.text)]
        old = re.search(r"after\s+[\w.+ ]*?\bs\b", line)
        if old is not None:
            words = f"after {float(asked):g} s"
            at = start + old.start()
            yield Fix(f"write {words}", Change(at, start + old.end(), words))


def _without(source: Source, start: int, end: int) -> Fix:
    """The words at fault left out, with their line where nothing else stands on it."""
    text = source.text
    line = _line_start(source, start)
    after = re.compile(r"[ \t]*(#[^\n]*)?\n?").match(text, end)
    if not text[line:start].strip() and after is not None and after[0].endswith("\n"):
        return Fix("take the line out", Change(line, after.end(), ""))
    return Fix("take it out", Change(start, end, ""))


def _line_start(source: Source, offset: int) -> int:
    return source.text.rfind("\n", 0, offset) + 1
