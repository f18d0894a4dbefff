"""Every name of a program: where it is defined and where it is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec

from feedscript.editor.quoted import Sort, quoted_in
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.scope import Scope


class Target(msgspec.Struct, frozen=True):
    """What a name stands for: the name's place in its definition."""

    source: str
    start: int
    end: int
    node: Any  # the definition, the Param, or what is Quoted


class Occurrence(msgspec.Struct, frozen=True):
    """One place where a name stands in the text."""

    start: int
    end: int
    target: Target


class Names(msgspec.Struct, frozen=True):
    """The occurrences of a text in their order."""

    occurrences: tuple[Occurrence, ...]

    def at(self, offset: int) -> Occurrence | None:
        """The name that stands at an offset, its end included."""
        for one in self.occurrences:
            if one.start <= offset <= one.end:
                return one
        return None

    def same(self, target: Target) -> tuple[Occurrence, ...]:
        """Every place of this text that means the target."""
        return tuple(
            one
            for one in self.occurrences
            if (one.target.source, one.target.start) == (target.source, target.start)
        )


def names_of(scope: Scope) -> Names:
    """Every name in a file."""
    found: list[Occurrence] = []
    for item in scope.tree.items:
        name = getattr(item, "name", None)
        if isinstance(name, Token) and not isinstance(item, t.Use):
            target = _target(scope, name, item)
            found.append(Occurrence(target.start, target.end, target))
        params: dict[str, Target] = {}
        if isinstance(item, t.Pattern):
            for param in item.params:
                target = _target(scope, param.name, param)
                params[str(param.name)] = target
                found.append(Occurrence(target.start, target.end, target))
        found.extend(_used(scope, item, params))
    found.extend(_quoted(scope))
    return Names(tuple(sorted(found, key=lambda one: one.start)))


def _quoted(scope: Scope) -> Iterator[Occurrence]:
    """Names in quotation marks. A station may stand several times: its first place defines it."""
    every = quoted_in(scope)
    defined: dict[tuple[Sort, str], Target] = {}
    for one in every:
        if one.defines:
            target = Target(scope.source.name, one.start, one.end, one)
            defined.setdefault((one.sorts[0], one.name), target)
    for one in every:
        meant = (defined.get((sort, one.name)) for sort in one.sorts)
        target_of = next((target for target in meant if target is not None), None)
        if target_of is not None:
            yield Occurrence(one.start, one.end, target_of)


def _target(scope: Scope, name: Token, node: Any) -> Target:
    return Target(scope.source.name, name.start_pos, name.end_pos, node)


def _used(scope: Scope, item: t.SyntaxNode, params: Mapping[str, Target]) -> Iterator[Occurrence]:
    stack: list[Any] = [item]
    while stack:
        node = stack.pop()
        if isinstance(node, tuple):
            stack.extend(node)
            continue
        if not isinstance(node, t.SyntaxNode):
            continue
        if isinstance(node, t.Name):
            yield from _named(scope, node, params)
        elif isinstance(node, t.CallSyntax):
            yield from _slots(scope, node)
        elif isinstance(node, t.StationSyntax) and node.launcher is not None:
            token = node.launcher
            yield from _named(scope, t.Name(token.start_pos, token.end_pos, str(token)), {})
        stack.extend(getattr(node, name) for name in type(node).__struct_fields__[2:])


def _named(scope: Scope, node: t.Name, params: Mapping[str, Target]) -> Iterator[Occurrence]:
    start = node.end - len(node.text)
    if node.file is None and node.text in params:
        yield Occurrence(start, node.end, params[node.text])
        return
    found = scope.find(node)
    if found is not None:
        home, definition = found
        name = definition.name
        if isinstance(name, Token):
            yield Occurrence(start, node.end, _target(home, name, definition))


def _slots(scope: Scope, call: t.CallSyntax) -> Iterator[Occurrence]:
    """The parameters that a call names."""
    found = scope.find(call.pattern)
    if found is None or not isinstance(found[1], t.Pattern):
        return
    home, pattern = found[0], found[1]
    by_name = {str(param.name): param for param in pattern.params}
    for slot in call.slots:
        param = by_name.get(str(slot.name)) if slot.name is not None else None
        if slot.name is not None and param is not None:
            target = _target(home, param.name, param)
            yield Occurrence(slot.name.start_pos, slot.name.end_pos, target)
