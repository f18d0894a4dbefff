"""The steps of the open lesson in another order: their words change places, and nothing else does.

Exercises change places among themselves: the collects and breaks between them stay where they are.
Any other step goes between the others. A step's words are its own with the remarks that belong to
it: those straight above it, and the one behind it. What stands between two steps (blank lines, what
they are indented by) stays where it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.editor.fixes import Change
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.resolve.scope import Scope
from feedscript.language.syntax import parse

_REMARK_BEHIND = re.compile(r"[ \t]*#[^\n]*")
#: Lines of remarks and nothing else, the last one with what the step is indented by.
_REMARKS_ABOVE = re.compile(r"(?:^[ \t]*#[^\n]*\n)*[ \t]*\Z", re.MULTILINE)


class Reordered(msgspec.Struct, frozen=True):
    """The change that puts a step elsewhere; None, and the reason, where there is none."""

    change: Change | None = None
    refused: str = ""


def lesson_in(scope: Scope) -> t.Lesson | None:
    """The lesson of an open program."""
    return next(iter(scope.items(t.Lesson)), None)


def is_exercise(step: t.SyntaxNode) -> bool:
    """Whether a step is an exercise, written here or called."""
    return isinstance(step, t.ExerciseSyntax | t.CallSyntax)


def reordered(scope: Scope, step: int, to: int) -> Reordered:
    """The lesson's step of this number (from 0) at another place among them. Never raises."""
    lesson = lesson_in(scope)
    steps = () if lesson is None else lesson.body.steps
    if lesson is None or not (0 <= step < len(steps) and 0 <= to < len(steps)):
        return Reordered(refused="there is no such step in the lesson")
    if step == to:
        return Reordered(refused="it stands there already")
    if scope.damaged(lesson):
        return Reordered(refused="mend the words of the lesson first: part of it is not understood")
    text = scope.source.text
    chunks = list(_chunks(text, lesson.body.start + 1, steps))
    order = _order(steps, step, to)
    change = _change(text, chunks, order, step, to)
    if _steps_of(change.made(text)) != [_words(text, steps[one]) for one in order]:
        return Reordered(refused="it shares a line with other words: give each a line of its own")
    return Reordered(change)


def _chunks(text: str, begin: int, steps: Sequence[t.SyntaxNode]) -> Iterator[tuple[int, int]]:
    """From where to where each step's words go, its remarks included."""
    for one in steps:
        end = one.start + len(_words(text, one))
        behind = _REMARK_BEHIND.match(text, end)
        end = behind.end() if behind else end
        yield _start(text, begin, one.start), end
        begin = end


def _start(text: str, begin: int, start: int) -> int:
    """With the remarks straight above, where the step is the first of its line."""
    line = text.find("\n", begin, start) + 1
    above = _REMARKS_ABOVE.search(text[line:start]) if line else None
    if above is None or "#" not in above[0]:
        return start
    return line + above.start() + len(above[0]) - len(above[0].lstrip())


def _words(text: str, step: t.SyntaxNode) -> str:
    return text[step.start : step.end].rstrip()


def _order(steps: Sequence[t.SyntaxNode], step: int, to: int) -> list[int]:
    """Which step stands where, in the new order."""
    places = list(range(len(steps)))
    if is_exercise(steps[step]) and is_exercise(steps[to]):
        places = [place for place in places if is_exercise(steps[place])]
    others = [place for place in places if place != step]
    moved = [*others[: places.index(to)], step, *others[places.index(to) :]]
    order = list(range(len(steps)))
    for place, one in zip(places, moved, strict=True):
        order[place] = one
    return order


def _change(
    text: str, chunks: Sequence[tuple[int, int]], order: Sequence[int], step: int, to: int
) -> Change:
    """One change over all steps that go to another place."""
    first, last = min(step, to), max(step, to)
    words = ""
    for place in range(first, last + 1):
        start, end = chunks[order[place]]
        between = text[chunks[place][1] : chunks[place + 1][0]] if place < last else ""
        words += text[start:end] + between
    return Change(chunks[first][0], chunks[last][1], words)


def _steps_of(text: str) -> list[str]:
    """The words of each step of a text's lesson, as the language reads them."""
    tree = parse(Source("", text)).tree
    lesson = next((item for item in tree.items if isinstance(item, t.Lesson)), None)
    return [] if lesson is None else [_words(text, one) for one in lesson.body.steps]
