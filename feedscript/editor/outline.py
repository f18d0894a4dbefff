"""What a program consists of, for an editor's outline, and what of it may be folded away."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.scope import Scope

#: Steps that stand in the outline: what coach and players call by name.
_NAMED_STEPS = (t.ExerciseSyntax, t.StationSyntax)


class Part(msgspec.Struct, frozen=True):
    """A part of the outline: its place, its name's place, and the parts inside."""

    label: str
    kind: type[t.SyntaxNode]
    start: int
    end: int
    name_start: int
    name_end: int
    detail: str = ""
    parts: tuple[Part, ...] = ()


_ITEMS = (
    t.Feed,
    t.Progression,
    t.Pattern,
    t.Let,
    t.Lesson,
    t.Season,
    t.Expect,
    t.Declaration,
)


def outline(scope: Scope) -> Iterator[Part]:
    """The items of a file, in order; exercises and stations stand in their lesson or pattern, weeks
    in their season."""
    for item in scope.tree.items:
        if isinstance(item, _ITEMS):
            yield _item(scope, item)


def _item(scope: Scope, item: t.SyntaxNode) -> Part:
    word = str(getattr(item, "word", None) or type(item).__name__.lower())
    name = getattr(item, "name", None)
    parts: tuple[Part, ...] = ()
    if isinstance(item, t.Pattern | t.Lesson):
        parts = tuple(_steps(scope, item.body))
    elif isinstance(item, t.Season):
        name = item.title
        parts = tuple(_week(scope, one) for one in item.properties if isinstance(one, t.Week))
    if isinstance(name, Token):
        place = name.start_pos, name.end_pos
        return Part(f"{word} {name}", type(item), item.start, item.end, *place, "", parts)
    place = item.start, item.start + len(word)
    label = f"{word} {name.raw}" if isinstance(name, t.Text) else word
    return Part(label, type(item), item.start, item.end, *place, "", parts)


def _week(scope: Scope, week: t.Week) -> Part:
    numbers = scope.source.text[week.start : week.theme.start]
    place = week.theme.start, week.theme.end
    label = text_of(week.theme) or "unnamed"
    return Part(label, t.Week, week.start, week.end, *place, " ".join(numbers.split()))


def _steps(scope: Scope, node: t.SyntaxNode) -> Iterator[Part]:
    """The named steps inside, those of a named step inside that one."""
    for inner in _children(node):
        if isinstance(inner, _NAMED_STEPS):
            yield _step(scope, inner)
        else:
            yield from _steps(scope, inner)


def _step(scope: Scope, step: t.ExerciseSyntax | t.StationSyntax) -> Part:
    if isinstance(step, t.ExerciseSyntax):
        name = step.title
        detail = "" if step.planned is None else scope.written(step.planned)
    else:
        name, detail = step.name, "station"
    return Part(
        label=text_of(name) or "unnamed",
        kind=type(step),
        start=step.start,
        end=step.end,
        name_start=name.start,
        name_end=name.end,
        detail=detail,
        parts=tuple(_steps(scope, step.body)),
    )


def _children(node: t.SyntaxNode) -> Iterator[t.SyntaxNode]:
    for field in type(node).__struct_fields__[2:]:
        value = getattr(node, field)
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, t.SyntaxNode):
                yield one


def folds(scope: Scope) -> list[tuple[int, int]]:
    """First and last line (from 0) of what may be folded: everything in braces over some lines.

    The line of the closing brace stays in sight. Where several begin on a line, the longest counts.
    """
    text, found = scope.source.text, dict[int, int]()
    stack: list[t.SyntaxNode] = [scope.tree]
    while stack:
        node = stack.pop()
        stack.extend(_children(node))
        if node is scope.tree or text[node.end - 1 : node.end] != "}":
            continue
        first = text.count("\n", 0, node.start)
        last = text.count("\n", 0, node.end) - 1
        if last > first:
            found[first] = max(last, found.get(first, 0))
    return sorted(found.items())
