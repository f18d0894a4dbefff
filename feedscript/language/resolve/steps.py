"""The lesson: steps with their names looked up, patterns inlined, values worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import msgspec

from feedscript.diagnostics import Related, Span
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.feeds import Feeds
from feedscript.language.resolve.patterns import Binding, Patterns, unknown_arguments
from feedscript.language.resolve.properties import once, text_of
from feedscript.language.resolve.scope import WRONG_KIND, Scope
from feedscript.language.resolve.step_pages import (
    EMPTY,
    NESTED_TURNS,
    NO_GAP,
    STATIONS,
    TOO_LONG,
)
from feedscript.language.resolve.value_pages import NO_UNIT, OUT_OF_RANGE, TOO_DEEP
from feedscript.language.resolve.values import (
    MOST_LAYERS,
    Amount,
    Bound,
    FeedValue,
    Reckoner,
)
from feedscript.units import Dimension

#: The most steps that a lesson may come to when its calls are written out.
MOST_STEPS = 20_000
#: The most rounds of one repeat or until.
MOST_ROUNDS = 10_000
_LONGEST_S = 4 * 3600.0


class Place(msgspec.Struct, frozen=True):
    """Where in the lesson a step stands."""

    reckoner: Reckoner
    checking: bool = False  # a pattern is checked by itself: parameters are not known
    mirror: bool = False
    on_turn: bool = False
    together: bool = False
    layers: int = 0
    calls: tuple[Span, ...] = ()

    @property
    def scope(self) -> Scope:
        return self.reckoner.scope

    def deeper(self, **changes: Any) -> Place:
        """The place one layer further in."""
        return msgspec.structs.replace(self, layers=self.layers + 1, **changes)


class Steps:
    """Turns blocks of the tree into the program's steps."""

    def __init__(
        self, feeds: Feeds, patterns: Patterns, launchers: tuple[p.LauncherDecl, ...]
    ) -> None:
        self.feeds = feeds
        self.patterns = patterns
        self.launchers = launchers

    def check_pattern(self, scope: Scope, node: t.Pattern) -> None:
        """Report what is wrong in a pattern whatever its arguments."""
        params = unknown_arguments(scope, node)
        for name in params:
            if (found := scope.names.get(name)) is not None:
                self._shadow(scope, node, name, found)
        reckoner = Reckoner(scope, self.feeds.lets, params)
        self.block(node.body, Place(reckoner, checking=True))

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
        return self.block(block, Place(Reckoner(scope, self.feeds.lets)))

    def block(self, block: t.Block, place: Place) -> tuple[p.Statement, ...]:
        """The steps of a block."""
        if place.layers > MOST_LAYERS:
            head = place.scope.source.span(block.start, block.start + 1)
            message = f"more than {MOST_LAYERS} blocks and calls within each other"
            place.scope.report(TOO_DEEP, head, message, "take some out")
            return ()
        made: list[p.Statement] = []
        for step in block.steps:
            made.extend(_HANDLERS[type(step)](self, step, place))
        return tuple(made)

    def _body(self, block: t.Block, place: Place, what: str) -> tuple[p.Statement, ...]:
        """The steps of a block that must not be empty."""
        if not block.steps and not place.scope.damaged(block):
            place.scope.report(
                EMPTY, block, f"this {what} has no step", "write its steps between { }"
            )
        return self.block(block, place)

    def _node(self, step: t.SyntaxNode, place: Place) -> dict[str, Any]:
        return {"span": place.scope.span(step), "calls": place.calls}

    # --- feeds

    def feed(self, reckoner: Reckoner, node: Any, *, mirror: bool = False) -> FeedValue:
        """The feed that a name, a parameter or ``mirror`` of one stands for; "" where unknown."""
        if isinstance(node, t.Mirrored):
            return self.feed(reckoner, node.name, mirror=not mirror)
        if not isinstance(node, t.Name):
            message = f"`{reckoner.scope.written(node)}` is a value, and a feed belongs here"
            reckoner.scope.report(WRONG_KIND, node, message, "name a feed")
            return FeedValue("")
        bound = reckoner.params.get(node.text) if node.file is None else None
        if isinstance(bound, FeedValue):
            return self._turned(bound.name, mirror)
        if isinstance(bound, Amount) and bound.dimension is None:
            return FeedValue("")  # its kind is reported already
        if bound is not None:
            message = f"`{node.text}` is a value, and a feed belongs here"
            reckoner.scope.report(WRONG_KIND, node, message, "give the parameter the kind `feed`")
            return FeedValue("")
        found = reckoner.scope.look_up(node, t.Feed, tuple(reckoner.params))
        if found is None:
            return FeedValue("")
        return self._turned(found[0].prefix + str(found[1].name), mirror)

    def _turned(self, name: str, mirror: bool) -> FeedValue:
        wish = self.feeds.wishes.get(name)
        if not mirror or wish is None:
            return FeedValue(name)
        return FeedValue(self.feeds.mirror(wish).name)

    # --- the steps

    def _send(self, step: t.SendSyntax, place: Place) -> tuple[p.Statement, ...]:
        feed = self.feed(place.reckoner, step.feed, mirror=place.mirror)
        if step.after is None:
            if not place.scope.damaged(step):
                written = place.scope.written(step)
                message = "the ball does not say when it leaves"
                help_text = f"write how long after the ball before: `{written} after 4 s`"
                place.scope.report(NO_GAP, step, message, help_text)
            return ()
        within = place.reckoner.within
        after_s = within(
            step.after, Dimension.TIME, 0, _LONGEST_S, "the time after the ball before"
        )
        vary_s = 0.0
        if step.vary is not None:
            most = 60.0 if math.isnan(after_s) else after_s
            vary_s = within(step.vary, Dimension.TIME, 0, most, "the variation of the time")
        if not feed.name or math.isnan(after_s) or math.isnan(vary_s):
            return ()
        sent = p.SendStatement(
            feed=feed.name, after_s=after_s, vary_s=vary_s, **self._node(step, place)
        )
        return (sent,)

    def _show(self, step: t.ShowSyntax, place: Place) -> tuple[p.Statement, ...]:
        feed = self.feed(place.reckoner, step.feed, mirror=place.mirror)
        return (
            (p.ShowSpeedStatement(feed=feed.name, **self._node(step, place)),) if feed.name else ()
        )

    def _rest(self, step: t.RestSyntax, place: Place) -> tuple[p.Statement, ...]:
        seconds = place.reckoner.within(step.value, Dimension.TIME, 0, _LONGEST_S, "a rest")
        return (
            ()
            if math.isnan(seconds)
            else (p.RestStatement(seconds=seconds, **self._node(step, place)),)
        )

    def _say(self, step: t.SaySyntax, place: Place) -> tuple[p.Statement, ...]:
        return (p.SayStatement(text=text_of(step.text), **self._node(step, place)),)

    def _collect(self, step: t.CollectSyntax, place: Place) -> tuple[p.Statement, ...]:
        return (p.CollectStatement(**self._node(step, place)),)

    def _repeat(self, step: t.RepeatSyntax, place: Place) -> tuple[p.Statement, ...]:
        times = place.reckoner.whole(step.times, 1, MOST_ROUNDS, "a number of rounds")
        body = self._body(step.body, place.deeper(), "repeat")
        if times is None or not body:
            return ()
        return (p.RepeatStatement(times=times, body=body, **self._node(step, place)),)

    def _choose(self, step: t.ChooseSyntax, place: Place) -> tuple[p.Statement, ...]:
        options = []
        for option in step.options:
            weight = self._count(option.weight, place, 1, 1000, "a weight")
            body = self._body(option.body, place.deeper(), "option")
            if weight is not None:
                span = place.scope.span(option)
                options.append(p.OptionStatement(weight=weight, body=body, span=span))
        if not step.options and not place.scope.damaged(step):
            message = "this choice has no option"
            help_text = "write them as `2: send deep after 4 s`"
            place.scope.report(EMPTY, step, message, help_text)
        if not options:
            return ()
        seed = self._seed(step.seed, place)
        return (p.ChooseStatement(options=tuple(options), seed=seed, **self._node(step, place)),)

    def _count(
        self, node: t.Number | t.Name, place: Place, low: int, high: int, what: str
    ) -> int | None:
        if isinstance(node, t.Number):
            value = place.reckoner.number(node)
            return place.reckoner.whole_of(node, value, low, high, what)
        return place.reckoner.whole(node, low, high, what)

    def _seed(self, token: Token | None, place: Place) -> int | None:
        return None if token is None else seed_of(place.scope, token)

    def _shuffle(self, step: t.ShuffleSyntax, place: Place) -> tuple[p.Statement, ...]:
        if not step.body.steps:
            self._body(step.body, place, "shuffle")
        items = []
        for inner in step.body.steps:
            alone = t.Block(inner.start, inner.end, (inner,))
            made = self.block(alone, place.deeper())
            if made:
                items.append(made)
        if not items:
            return ()
        seed = self._seed(step.seed, place)
        return (p.ShuffleStatement(items=tuple(items), seed=seed, **self._node(step, place)),)

    def condition(self, node: t.ConditionSyntax, place: Place) -> p.RecordCondition | None:
        """What is asked of the record."""
        outcome = p.Recorded(str(node.outcome).lower())
        feed = None
        if node.feed is not None:
            feed = self.feed(place.reckoner, node.feed, mirror=place.mirror).name or None
        span = place.scope.span(node)
        if not node.share:
            count = self._count(node.count, place, 1, 1000, "a number of balls")
            if count is None:
                return None
            return p.RecordCondition(
                outcome=outcome, count=count, in_a_row=node.in_a_row, feed=feed, span=span
            )
        assert node.last is not None
        last = self._count(node.last, place, 1, 1000, "a number of balls")
        share = place.reckoner.number(node.count) if isinstance(node.count, t.Number) else math.nan
        if last is None or math.isnan(share):
            return None
        if not 0 < share <= 100:
            message = f"a share cannot be {share:g} %"
            place.scope.report(OUT_OF_RANGE, node.count, message, "write 1 % to 100 %")
            return None
        return p.RecordCondition(
            outcome=outcome, count=last, share=share / 100, feed=feed, span=span
        )

    def _until(self, step: t.UntilSyntax, place: Place) -> tuple[p.Statement, ...]:
        condition = self.condition(step.condition, place)
        most = place.reckoner.whole(step.most, 1, MOST_ROUNDS, "a number of rounds")
        body = self._body(step.body, place.deeper(), "until")
        if condition is None or most is None or not body:
            return ()
        made = p.UntilStatement(
            condition=condition, most=most, body=body, **self._node(step, place)
        )
        return (made,)

    def _when(self, step: t.WhenSyntax, place: Place) -> tuple[p.Statement, ...]:
        condition = self.condition(step.condition, place)
        body = self._body(step.body, place.deeper(), "when")
        otherwise: tuple[p.Statement, ...] = ()
        if step.otherwise is not None:
            otherwise = self._body(step.otherwise, place.deeper(), "otherwise")
        if condition is None:
            return ()
        node = self._node(step, place)
        return (p.WhenStatement(condition=condition, body=body, otherwise=otherwise, **node),)

    def _turns(self, step: t.RotateSyntax | t.EachSyntax, place: Place) -> bool:
        """Whether turns may begin here; reports where not."""
        if place.on_turn:
            word = "rotate" if isinstance(step, t.RotateSyntax) else "for each player"
            head = place.scope.source.span(step.start, step.start + len(word))
            message = f"`{word}` stands inside another turn"
            place.scope.report(NESTED_TURNS, head, message, "take one of the two out")
        return not place.on_turn

    def _rotate(self, step: t.RotateSyntax, place: Place) -> tuple[p.Statement, ...]:
        allowed = self._turns(step, place)
        every_s, every_balls = self._every(step, place)
        body = self._body(step.body, place.deeper(on_turn=True), "rotation")
        if not allowed or not body or (every_s is None and every_balls is None):
            return ()
        node = self._node(step, place)
        return (p.RotateStatement(every_s=every_s, every_balls=every_balls, body=body, **node),)

    def _every(self, step: t.RotateSyntax, place: Place) -> tuple[float | None, int | None]:
        if step.balls:
            return None, place.reckoner.whole(step.every, 1, 1000, "the balls of a turn")
        found = place.reckoner.amount(step.every)
        if found.dimension is Dimension.COUNT:
            written = place.scope.written(step.every)
            message = f"`{written}` has no unit, and a turn is a time or a number of balls"
            help_text = f"write `{written} balls` or `{written} min`"
            place.scope.report(NO_UNIT, step.every, message, help_text)
            return None, None
        value = place.reckoner.check(step.every, found, Dimension.TIME, "a turn")
        if math.isnan(value):
            return None, None
        return place.reckoner.within(step.every, Dimension.TIME, 1, _LONGEST_S, "a turn"), None

    def _each(self, step: t.EachSyntax, place: Place) -> tuple[p.Statement, ...]:
        allowed = self._turns(step, place)
        body = self._body(step.body, place.deeper(on_turn=True), "turn")
        if not allowed or not body:
            return ()
        return (p.EachPlayerStatement(body=body, **self._node(step, place)),)

    def _together(self, step: t.TogetherSyntax, place: Place) -> tuple[p.Statement, ...]:
        if place.together:
            head = place.scope.source.span(step.start, step.start + len("together"))
            message = "`together` stands inside another"
            place.scope.report(STATIONS, head, message, "put the stations side by side")
        taken: dict[str, t.StationSyntax] = {}
        stations = []
        for station in step.stations:
            launcher = self._launcher(station, place, taken)
            body = self._body(station.body, place.deeper(together=True), "station")
            span = place.scope.span(station)
            name = text_of(station.name)
            stations.append(p.StationStatement(name=name, launcher=launcher, body=body, span=span))
        if not step.stations and not place.scope.damaged(step):
            help_text = 'write `station "north" { … }`'
            place.scope.report(EMPTY, step, "this `together` has no station", help_text)
        return (p.TogetherStatement(stations=tuple(stations), **self._node(step, place)),)

    def _launcher(
        self, station: t.StationSyntax, place: Place, taken: dict[str, t.StationSyntax]
    ) -> str:
        scope = place.scope
        if station.launcher is not None:
            token = station.launcher
            name = t.Name(token.start_pos or 0, token.end_pos or 0, str(token))
            if scope.look_up(name, t.Declaration) is None:
                return str(token)
            launcher = str(token)
        else:
            launcher = self.launchers[0].name
            if len(self.launchers) > 1:
                names = ", ".join(f"`{one.name}`" for one in self.launchers)
                message = "the station does not say which launcher is its own"
                help_text = f"write `on launcher` and one of {names}"
                scope.report(STATIONS, station.name, message, help_text)
                return launcher
        earlier = taken.setdefault(launcher, station)
        if earlier is not station:
            related = (Related(scope.span(earlier.name), "it is taken here"),)
            message = "two stations share one launcher"
            help_text = "give each station a launcher: `launcher north { … }`, `on launcher north`"
            scope.report(STATIONS, station.name, message, help_text, related)
        return launcher

    def _call(self, step: t.CallSyntax, place: Place) -> tuple[p.Statement, ...]:
        found = place.scope.look_up(step.pattern, t.Pattern)
        if found is None:
            return ()
        home, pattern = found
        binding = Binding(place.reckoner, home, pattern, self.feed)
        bound: Mapping[str, Bound] | None = binding.bind(step)
        key = (id(home), str(pattern.name))
        if bound is None or place.checking or key in self.patterns.in_circle:
            return ()
        inner = place.deeper(
            reckoner=Reckoner(home, self.feeds.lets, bound),
            mirror=place.mirror != step.mirror,
            calls=(*place.calls, place.scope.span(step)),
        )
        return self.block(pattern.body, inner)


def seed_of(scope: Scope, token: Token) -> int | None:
    """A seed; None where it is not a whole number in range (reported)."""
    if str(token).isdecimal() and int(str(token)[:20]) < 2**31:
        return int(str(token))
    message = f"`{token}` cannot be a seed"
    scope.report(OUT_OF_RANGE, token, message, "write a whole number below 2147483648")
    return None


_HANDLERS: dict[type, Any] = {
    t.SendSyntax: Steps._send,
    t.ShowSyntax: Steps._show,
    t.RestSyntax: Steps._rest,
    t.SaySyntax: Steps._say,
    t.CollectSyntax: Steps._collect,
    t.RepeatSyntax: Steps._repeat,
    t.ChooseSyntax: Steps._choose,
    t.ShuffleSyntax: Steps._shuffle,
    t.UntilSyntax: Steps._until,
    t.WhenSyntax: Steps._when,
    t.RotateSyntax: Steps._rotate,
    t.EachSyntax: Steps._each,
    t.TogetherSyntax: Steps._together,
    t.CallSyntax: Steps._call,
}
