"""Patterns: their parameters, what a call hands over, and circles of calls."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

from msgspec.structs import astuple

from feedscript.diagnostics import Page, Related
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.graph import ordered
from feedscript.language.resolve.properties import choice, once
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Amount, Argument, Evaluator, FeedValue
from feedscript.nearest import nearest
from feedscript.units import Dimension

PATTERN_CIRCLE = Page(
    slug="pattern-circle",
    title="Patterns that call each other in a circle",
    why="""Every program ends: its longest run can be told before it begins. A pattern that calls
itself, directly or through others, would not end, so the whole circle is shown and refused. Repeats
are written with `repeat`, `until … at most` or `rotate`.""",
    wrong=program(more="pattern a() { b() }\npattern b() { a() }"),
    corrected=program(
        more="pattern a() { b() }\npattern b() { send deep after 4 s }",
        steps="show speed of deep   a()",
    ),
)

WRONG_ARGUMENTS = Page(
    slug="wrong-arguments",
    title="A call that does not fit its pattern",
    why="""A call hands over a value for each parameter, in order or by name; a parameter with a
default may be left out. A name that the pattern does not have, a value too many or one too few is
refused.""",
    wrong=program(
        more="pattern two(gap: time) { repeat 2 { send deep after gap } }",
        steps="show speed of deep   two()",
    ),
    corrected=program(
        more="pattern two(gap: time) { repeat 2 { send deep after gap } }",
        steps="show speed of deep   two(4 s)",
    ),
)

#: The kinds of parameter; ``feed`` takes the name of a feed.
KINDS: dict[str, Dimension | None] = {
    "feed": None,
    "count": Dimension.COUNT,
    "time": Dimension.TIME,
    "length": Dimension.LENGTH,
    "speed": Dimension.SPEED,
    "spin": Dimension.SPIN,
    "angle": Dimension.ANGLE,
    "share": Dimension.RATIO,
}


_HOLDERS = (t.OptionSyntax, t.StationSyntax)


def steps_within(block: t.Block) -> Iterator[Any]:
    """Every step in a block, however deep, without recursion."""
    stack: list[Any] = [block]
    while stack:
        node = stack.pop()
        if type(node) is t.Block:
            stack.extend(node.steps)
            continue
        yield node
        for value in astuple(node):
            kind = type(value)
            if kind is t.Block:
                stack.append(value)
            elif kind is tuple:
                stack.extend(one for one in value if type(one) in _HOLDERS)


Key = tuple[int, str]


class Patterns:
    """The patterns of every file: which lead in a circle, and how many steps each comes to."""

    def __init__(self, scopes: list[Scope]) -> None:
        self.nodes: dict[Key, tuple[Scope, t.Pattern]] = {}
        for scope in scopes:
            for name, node in scope.defined(t.Pattern).items():
                self.nodes[id(scope), name] = scope, node
        self._calls = {key: list(self._called(key)) for key in self.nodes}
        order, circles = ordered(self.nodes, lambda key: [need for need, _ in self._calls[key]])
        self.in_circle: set[Key] = set()
        for circle in circles:
            self._report(circle)
            self.in_circle.update(circle)
        self.sizes: dict[Key, int] = {}
        for key in order:
            self.sizes[key] = self.size(*self._body(key))

    def _body(self, key: Key) -> tuple[Scope, t.Block]:
        scope, node = self.nodes[key]
        return scope, node.body

    def _called(self, key: Key) -> Iterator[tuple[Key, t.CallSyntax]]:
        scope, node = self.nodes[key]
        for step in steps_within(node.body):
            if isinstance(step, t.CallSyntax):
                found = scope.find(step.pattern)
                if found is not None and isinstance(found[1], t.Pattern):
                    yield (id(found[0]), str(found[1].name)), step

    def size(self, scope: Scope, block: t.Block) -> int:
        """How many steps a block comes to when its calls are written out."""
        total = 0
        for step in steps_within(block):
            total += 1
            if isinstance(step, t.CallSyntax):
                found = scope.find(step.pattern)
                if found is not None:
                    total += self.sizes.get((id(found[0]), str(found[1].name)), 0)
        return total

    def _report(self, circle: list[Key]) -> None:
        names = [self.nodes[key][1].name for key in circle]
        path = " -> ".join(f"`{name}`" for name in [*names, names[0]])
        related = []
        for at, key in enumerate(circle):
            onward = circle[(at + 1) % len(circle)]
            call = next(call for need, call in self._calls[key] if need == onward)
            span = self.nodes[key][0].span(call)
            related.append(Related(span, f"`{names[at]}` calls `{call.pattern.written}` here"))
        verb = "calls itself" if len(circle) == 1 else "call each other in a circle"
        subject = f"the pattern `{names[0]}`" if len(circle) == 1 else "patterns"
        message = f"{subject} {verb}: {path}"
        help_text = "take one of the calls out; to run steps again write `repeat`"
        scope, node = self.nodes[circle[0]]
        scope.report(PATTERN_CIRCLE, node.name, message, help_text, tuple(related))


def kind_of(scope: Scope, param: t.Param) -> str | None:
    """What a parameter takes; None for a kind that nobody knows (reported)."""
    return choice(scope, param.kind, KINDS, "kind of parameter")


def unknown_arguments(scope: Scope, pattern: t.Pattern) -> dict[str, Argument]:
    """Stand-ins for the arguments, to check a pattern without a call."""
    bound: dict[str, Argument] = {}
    for param in pattern.params:
        name = str(param.name)
        scope.check_name(param.name)
        if name in bound:
            first = next(other.name for other in pattern.params if str(other.name) == name)
            once(scope, param.name, scope.span(first), f"`{name}`")
            continue
        kind = kind_of(scope, param)
        taken = Amount(math.nan, KINDS[kind] if kind is not None else None)
        bound[name] = FeedValue("") if kind == "feed" else taken
    return bound


FeedReader = Callable[[Evaluator, Any], FeedValue]


class Binding:
    """One call's arguments on their way to the parameters of its pattern."""

    def __init__(
        self, caller: Evaluator, home: Scope, pattern: t.Pattern, feed_of: FeedReader
    ) -> None:
        self.caller, self.home, self.pattern, self.feed_of = caller, home, pattern, feed_of
        self.bound: dict[str, Argument] = {}

    def bind(self, call: t.CallSyntax) -> dict[str, Argument] | None:
        """The parameters' values; None where the call does not fit (reported)."""
        given = self._assign(call)
        if given is None:
            return None
        missing = []
        for param in self.pattern.params:
            name = str(param.name)
            if name in given:
                self.bound[name] = self._evaluate(param, given[name], self.caller)
            elif param.default is not None:
                own = Evaluator(self.home, self.caller.lets, self.bound)
                self.bound[name] = self._evaluate(param, param.default, own)
            else:
                missing.append(name)
        if missing:
            shown = ", ".join(f"`{name}`" for name in missing)
            self._misfit(call, f"the call says nothing for {shown}", f"write `{self._shape()}`")
            return None
        return self.bound

    def _assign(self, call: t.CallSyntax) -> dict[str, Any] | None:
        names = [str(param.name) for param in self.pattern.params]
        given: dict[str, Any] = {}
        for index, slot in enumerate(call.slots):
            if slot.name is None and index >= len(names):
                message = f"`{self.pattern.name}` takes {len(names)} values, and this is one more"
                self._misfit(slot, message, f"write `{self._shape()}`")
                return None
            name = names[index] if slot.name is None else str(slot.name)
            if name not in names:
                near = nearest(name, names)
                help_text = f"did you mean `{near}`?" if near else f"write `{self._shape()}`"
                message = f"`{self.pattern.name}` has no parameter `{name}`"
                self._misfit(slot.name or slot, message, help_text)
                return None
            if name in given:
                self._misfit(slot, f"`{name}` is given twice", "keep one of the two")
                return None
            given[name] = slot.value
        return given

    def _misfit(self, node: t.SyntaxNode | Token, message: str, help_text: str) -> None:
        related = (Related(self.home.span(self.pattern.name), "the pattern is defined here"),)
        self.caller.scope.report(WRONG_ARGUMENTS, node, message, help_text, related)

    def _shape(self) -> str:
        return f"{self.pattern.name}({', '.join(str(param.name) for param in self.pattern.params)})"

    def _evaluate(self, param: t.Param, node: Any, evaluator: Evaluator) -> Argument:
        kind = kind_of(self.home, param)
        if kind is None:
            return Amount(math.nan, None)
        dimension = KINDS[kind]
        if dimension is None:
            return self.feed_of(evaluator, node)
        if isinstance(node, t.Mirrored):
            message = f"`{param.name}` takes a {dimension}, and this is a feed"
            self._misfit(node, message, "name a value")
            return Amount(math.nan, None)
        value = evaluator.want(node, dimension, f"`{param.name}`")
        return Amount(value, None if math.isnan(value) and not evaluator.params else dimension)
