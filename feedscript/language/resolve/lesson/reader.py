"""Blocks of the tree into steps: what every kind of step needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from msgspec.structs import replace

from feedscript.diagnostics import Span
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.feeds import Feeds
from feedscript.language.resolve.lesson.patterns import Patterns, unknown_arguments
from feedscript.language.resolve.lesson.position import Position
from feedscript.language.resolve.lesson.step_pages import EMPTY, TOO_LONG
from feedscript.language.resolve.lesson.targets import Targets
from feedscript.language.resolve.properties import once
from feedscript.language.resolve.scope import WRONG_KIND, Scope
from feedscript.language.resolve.value_pages import OUT_OF_RANGE, TOO_DEEP
from feedscript.language.resolve.values import MOST_LAYERS, Amount, Evaluator, FeedValue

#: The most steps that a lesson may come to when its calls are written out.
MOST_STEPS = 20_000

#: For each kind of node what makes its steps: a function of the reader, the node and its place.
Handlers: TypeAlias = Mapping[type, Callable[[Any, Any, Position], tuple[p.Statement, ...]]]


class LessonReader:
    """Turns blocks of the tree into the program's steps; ``handlers`` has a function a step."""

    def __init__(
        self,
        feeds: Feeds,
        patterns: Patterns,
        launchers: tuple[p.LauncherDecl, ...],
        group: p.GroupDecl,
        targets: Targets,
        handlers: Handlers,
    ) -> None:
        self.feeds = feeds
        self.patterns = patterns
        self.launchers = launchers
        self.group = group
        self.targets = targets
        self.named: set[str] = set()  # players and subgroups that steps name
        self._handlers = handlers
        #: The exercises so far by their titles: where each stands, and the calls that led there.
        self.titles: dict[str, tuple[Span, tuple[Span, ...]]] = {}

    def check_pattern(self, scope: Scope, node: t.Pattern) -> None:
        """Report what is wrong in a pattern whatever its arguments."""
        params = unknown_arguments(scope, node)
        for name in params:
            if (found := scope.names.get(name)) is not None:
                self._shadow(scope, node, name, found)
        evaluator = Evaluator(scope, self.feeds.lets, params)
        self.block(node.body, Position(evaluator, checking=True))

    def _shadow(self, scope: Scope, node: t.Pattern, name: str, found: Any) -> None:
        param = next(param for param in node.params if str(param.name) == name)
        once(scope, param.name, scope.span(found.name), f"the name `{name}`")

    def lesson(self, scope: Scope, block: t.Block) -> tuple[p.Statement, ...]:
        """The steps of the lesson."""
        if self.patterns.size(scope, block) > MOST_STEPS:
            message = f"the lesson comes to more than {MOST_STEPS:,} steps".replace(",", " ")
            help_text = "write `repeat` instead of calls within calls"
            head = scope.source.span(block.start, block.start + 1)
            scope.report(TOO_LONG, head, message, help_text)
            return ()
        return self.block(block, Position(Evaluator(scope, self.feeds.lets)))

    def block(self, block: t.Block, place: Position) -> tuple[p.Statement, ...]:
        """The steps of a block."""
        if place.layers > MOST_LAYERS:
            head = place.scope.source.span(block.start, block.start + 1)
            message = f"more than {MOST_LAYERS} blocks and calls within each other"
            place.scope.report(TOO_DEEP, head, message, "take some out")
            return ()
        made: list[p.Statement] = []
        for step in block.steps:
            made.extend(self._handlers[type(step)](self, step, place))
        return tuple(made)

    def body(self, block: t.Block, place: Position, what: str) -> tuple[p.Statement, ...]:
        """The steps of a block that must not be empty."""
        if not block.steps and not place.scope.damaged(block):
            place.scope.report(
                EMPTY, block, f"this {what} has no step", "write its steps between { }"
            )
        return self.block(block, replace(place, inside=what))

    def fields(self, step: t.SyntaxNode, place: Position) -> dict[str, Any]:
        """What every statement has: its place, and the calls that led there."""
        return {"span": place.scope.span(step), "calls": place.calls}

    def count(
        self, node: t.Number | t.Name, place: Position, low: int, high: int, what: str
    ) -> int | None:
        """A count that is written as a number or a name; None where it is wrong (reported)."""
        if isinstance(node, t.Number):
            value = place.evaluator.number(node)
            return place.evaluator.whole_of(node, value, low, high, what)
        return place.evaluator.whole(node, low, high, what)

    def feed(self, evaluator: Evaluator, node: Any, *, mirror: bool = False) -> FeedValue:
        """The feed or progression that a name, a parameter or ``mirror`` of one stands for.

        "" where it is unknown.
        """
        if isinstance(node, t.Mirrored):
            return self.feed(evaluator, node.name, mirror=not mirror)
        if not isinstance(node, t.Name):
            message = f"`{evaluator.scope.written(node)}` is a value, and a feed belongs here"
            evaluator.scope.report(WRONG_KIND, node, message, "name a feed")
            return FeedValue("")
        bound = evaluator.params.get(node.text) if node.file is None else None
        if isinstance(bound, FeedValue):
            return self._turned(bound.name, mirror)
        if isinstance(bound, Amount) and bound.dimension is None:
            return FeedValue("")  # its kind is reported already
        if bound is not None:
            message = f"`{node.text}` is a value, and a feed belongs here"
            evaluator.scope.report(WRONG_KIND, node, message, "give the parameter the kind `feed`")
            return FeedValue("")
        named = evaluator.scope.find(node)
        if named is None or not isinstance(named[1], t.Progression):
            named = evaluator.scope.look_up(node, t.Feed, tuple(evaluator.params))
        if named is None:
            return FeedValue("")
        return self._turned(named[0].prefix + str(named[1].name), mirror)

    def _turned(self, name: str, mirror: bool) -> FeedValue:
        progression = self.feeds.progressions.get(name)
        if mirror and progression is not None:
            if name != progression.name:
                return FeedValue(progression.name)
            return FeedValue(self.feeds.mirror_progression(progression))
        wish = self.feeds.wishes.get(name)
        if not mirror or wish is None:
            return FeedValue(name)
        return FeedValue(self.feeds.mirror(wish).name)


def seed_of(scope: Scope, token: Token) -> int | None:
    """A seed; None where it is not a whole number in range (reported)."""
    if str(token).isdecimal() and int(str(token)[:20]) < 2**31:
        return int(str(token))
    message = f"`{token}` cannot be a seed"
    scope.report(OUT_OF_RANGE, token, message, "write a whole number below 2147483648")
    return None
