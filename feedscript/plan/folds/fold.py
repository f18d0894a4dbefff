"""One way to work something out over a plan's tree, once for every step.

An :class:`Algebra` says what a leaf is worth and how worths combine: one after the other, one of
several, so many passes, in any order, side by side. ``fold`` goes from the leaves up and
gives the worth of the whole. Bounds, pairs of feeds, segments between collects and runs of one
feed are all folds, so they agree about what the steps mean.

Exactness. What a fold finds is exact for the set of runs in which every choice, variation,
condition and hand on turn falls out independently of the others. An ``until`` whose passes may
differ in their number of balls is bounded from outside: its least number of passes is that of
passes as full as they can be. A ball of a progression is one of any rung's, whoever gets it:
players begin where they ended last time, so each of them may stand on each rung.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import Generic, TypeVar

import msgspec

from feedscript.override import override
from feedscript.plan.model import (
    Choose,
    Collect,
    Exercise,
    Move,
    OnRequest,
    Plan,
    Repeat,
    Rest,
    Say,
    Send,
    ShowSpeed,
    Shuffle,
    Station,
    Step,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.scene import kind_fed, left_handed
from feedscript.plan.times import milliseconds

T = TypeVar("T")


class Context(msgspec.Struct, frozen=True):
    """Which hand and kind of player is fed, and which launcher's balls an ``until`` counts."""

    left: bool
    launcher: int
    kind: int = 0


class Passes(msgspec.Struct, frozen=True):
    """How often a body is run: from ``least`` to ``most`` times, any number between.

    ``ballless`` is the number of passes in a run of the block in which ``launcher`` sends nothing:
    an ``until`` cannot be satisfied without balls.
    """

    least: int
    most: int
    ballless: int
    launcher: int

    @classmethod
    def exactly(cls, times: int, launcher: int) -> Passes:
        return cls(times, times, times, launcher)


def alike(plan: Plan, step: Turns, context: Context) -> list[tuple[bool, int]]:
    """The hand and kind of each who may have these turns; as it is around them if that is nobody.

    Players alike in both get the same balls.
    """
    players = plan.group.players
    of = range(len(players)) if step.players is None else step.players
    found = {(players[index].left_handed, players[index].kind) for index in of}
    return sorted(found) or [(context.left, context.kind)]


class Algebra(ABC, Generic[T]):
    """How worths combine. All times are whole milliseconds."""

    @abstractmethod
    def nothing(self) -> T:
        """No step at all."""

    @abstractmethod
    def send(self, step: Send, feeds: tuple[int, ...]) -> T:
        """One of these feeds."""

    @abstractmethod
    def show_speed(self, step: ShowSpeed) -> T:
        """One ball at a person's pace."""

    @abstractmethod
    def rest(self, step: Rest) -> T:
        """Nothing leaves for a time."""

    @abstractmethod
    def collect(self, step: Collect) -> T:
        """The launcher comes to rest; a person arms it again."""

    @abstractmethod
    def then(self, before: T, after: T) -> T:
        """One after the other."""

    @abstractmethod
    def either(self, ways: Sequence[T]) -> T:
        """One of these (at least one is given)."""

    @abstractmethod
    def passes(self, body: T, passes: Passes) -> T:
        """The body again and again; ``passes.most`` is at least 1."""

    @abstractmethod
    def any_order(self, items: Sequence[T]) -> T:
        """All of these, in any order."""

    @abstractmethod
    def padded(self, body: T, to_ms: int) -> T:
        """The body, and then nothing until ``to_ms`` after its beginning."""

    @abstractmethod
    def beside(self, stations: Sequence[tuple[Station, T]], for_ms: int) -> T:
        """Stations (each padded already) side by side."""

    def idle(self, ms: int, line: int) -> T:
        """Nothing leaves for a time because nobody asks for a ball; as a rest is unless an algebra
        says otherwise."""
        return self.rest(Rest(seconds=ms / 1000.0, line=line))

    def within_a_time(self, ball: T, step: OnRequest, launcher: int) -> T:
        """Balls on request that are over after their time at the latest: none or some of them, as
        soon as can be, as late as can be, and as far apart."""
        gap_ms, whole_ms = step.gap_ms, milliseconds(step.lasts_s or 0.0)
        left_ms = max(0, whole_ms - gap_ms)
        ways = [
            self.nothing(),
            self.passes(ball, Passes(1, step.at_most, 1, launcher)),
            self.idle(whole_ms, step.line),
            self.then(self.idle(left_ms, step.line), ball),
            self.then(ball, self.idle(left_ms, step.line)),
        ]
        if step.at_most > 1:
            between = self.idle(max(0, left_ms - gap_ms), step.line)
            ways.append(self.then(ball, self.then(between, ball)))
        return self.either(ways)

    def ask(self, step: Until | When) -> T:  # noqa: ARG002 - an algebra may care for the question
        """A question to the record; worth nothing unless an algebra says otherwise."""
        return self.nothing()

    def say(self, step: Say) -> T:  # noqa: ARG002 - an algebra may care for the words
        """Words; worth nothing unless an algebra says otherwise."""
        return self.nothing()

    def move(self, step: Move) -> T:  # noqa: ARG002 - an algebra may count what happens
        """A rung up or down; worth nothing unless an algebra says otherwise."""
        return self.nothing()

    def exercise(self, body: T, step: Exercise) -> T:  # noqa: ARG002 - an algebra may count repeats
        """One exercise, done once; an algebra may care how often it may be done again."""
        return body

    def turn(self, body: T, step: Turns) -> T:  # noqa: ARG002 - an algebra may care whose it is
        """One player's turn."""
        return body


class Fold(Generic[T]):
    """A fold of one plan; what it has worked out for a step it remembers.

    ``balls`` is shared by folds of the same plan, to count the passes of an ``until``.
    """

    def __init__(self, plan: Plan, algebra: Algebra[T], balls: BallCounts | None = None) -> None:
        self.plan, self.algebra, self.balls = plan, algebra, balls
        self._known: dict[tuple[int, bool, int, int], tuple[Step, T]] = {}

    def whole(self) -> T:
        """The worth of the lesson."""
        players = self.plan.group.players
        whole = Context(left_handed(players), 0, kind_fed(players))
        return self.steps(self.plan.steps, whole)

    def steps(self, steps: Sequence[Step], context: Context) -> T:
        """The worth of steps in a row."""
        worth = self.algebra.nothing()
        for step in steps:
            worth = self.algebra.then(worth, self.step(step, context))
        return worth

    def step(self, step: Step, context: Context) -> T:
        """The worth of one step."""
        key = (id(step), context.left, context.launcher, context.kind)
        known = self._known.get(key)
        if known is None:
            # The step is kept with its worth: while it lives no other step can have its id.
            known = self._known[key] = (step, self._work_out(step, context))
        return known[1]

    def _work_out(self, step: Step, context: Context) -> T:
        algebra = self.algebra
        match step:
            case Send():
                return algebra.send(step, step.feeds_on_any_rung(context.kind, left=context.left))
            case OnRequest():
                return self._on_request(step, context)
            case ShowSpeed():
                return algebra.show_speed(step)
            case Rest():
                return algebra.rest(step)
            case Say():
                return algebra.say(step)
            case Move():
                return algebra.move(step)
            case Collect():
                return algebra.collect(step)
            case Choose():
                return algebra.either([self.steps(way.body, context) for way in step.options])
            case Shuffle():
                return algebra.any_order([self.steps(item, context) for item in step.items])
            case When():
                ways = (step.then, step.otherwise)
                taken = algebra.either([self.steps(way, context) for way in ways])
                return algebra.then(algebra.ask(step), taken)
            case Exercise():
                return algebra.exercise(self.steps(step.body, context), step)
            case Repeat() | Until() | Turns():
                return self._again(step, context)
            case Together():
                return self._together(step)

    def _again(self, step: Repeat | Until | Turns, context: Context) -> T:
        match step:
            case Repeat():
                times = Passes.exactly(step.times, context.launcher)
                return self._passes(step.body, times, context)
            case Until():
                passes = self._until(step, context)
                if passes.most < 1:
                    return self.algebra.nothing()
                body = self.algebra.then(self.steps(step.body, context), self.algebra.ask(step))
                return self.algebra.passes(body, passes)
            case Turns():
                return self._turns(step, context)

    def _on_request(self, step: OnRequest, context: Context) -> T:
        """Any number of balls, none among them."""
        none = self.algebra.nothing()
        if step.at_most < 1:
            return none
        if step.lasts_s is not None:
            ball = self.steps((step.send,), context)
            return self.algebra.within_a_time(ball, step, context.launcher)
        some = Passes(1, step.at_most, 1, context.launcher)
        return self.algebra.either([none, self._passes((step.send,), some, context)])

    def _passes(self, body: Sequence[Step], passes: Passes, context: Context) -> T:
        if passes.most < 1:
            return self.algebra.nothing()
        return self.algebra.passes(self.steps(body, context), passes)

    def _until(self, step: Until, context: Context) -> Passes:
        need = 0 if step.condition.negated else step.condition.at_least
        most = step.at_most
        if need == 0:
            return Passes(min(1, most), most, min(1, most), context.launcher)
        counts = self.balls if self.balls is not None else BallCounts(self.plan)
        self.balls = counts
        full = counts.most(step.body, context)
        least = most if full == 0 else min(most, -(-need // full))
        return Passes(least, most, most, context.launcher)

    def _turns(self, step: Turns, context: Context) -> T:
        if step.slots < 1:
            return self.algebra.nothing()
        passes = Passes.exactly(step.passes, context.launcher)
        ways = [
            self._passes(step.body, passes, Context(left, context.launcher, kind))
            for left, kind in alike(self.plan, step, context)
        ]
        turn = self.algebra.turn(self.algebra.either(ways), step)
        if step.every_s is not None:
            turn = self.algebra.padded(turn, milliseconds(step.every_s))
        return self.algebra.passes(turn, Passes.exactly(step.slots, context.launcher))

    def _together(self, step: Together) -> T:
        for_ms = milliseconds(step.for_s)
        worths = []
        for station in step.stations:
            players = tuple(self.plan.group.players[index] for index in station.players)
            kind = kind_fed(self.plan.group.players)
            context = Context(left_handed(players), station.counted, kind)
            body = self.steps(station.body, context)
            worths.append((station, self.algebra.padded(body, for_ms)))
        return self.algebra.beside(worths, for_ms)


class _MostBalls(Algebra[tuple[int, ...]]):
    """The most balls of each launcher in any run."""

    def __init__(self, plan: Plan) -> None:
        self._none = (0,) * len(plan.launchers)
        self._feeds = plan.feeds

    def _one(self, feed: int) -> tuple[int, ...]:
        counts = list(self._none)
        counts[self._feeds[feed].launcher] = 1
        return tuple(counts)

    @override
    def nothing(self) -> tuple[int, ...]:
        return self._none

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> tuple[int, ...]:
        return self._one(feeds[0])

    @override
    def show_speed(self, step: ShowSpeed) -> tuple[int, ...]:
        return self._one(step.feed)

    @override
    def rest(self, step: Rest) -> tuple[int, ...]:
        return self._none

    @override
    def collect(self, step: Collect) -> tuple[int, ...]:
        return self._none

    @override
    def then(self, before: tuple[int, ...], after: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(map(int.__add__, before, after))

    @override
    def either(self, ways: Sequence[tuple[int, ...]]) -> tuple[int, ...]:
        return tuple(max(counts) for counts in zip(*ways, strict=True))

    @override
    def passes(self, body: tuple[int, ...], passes: Passes) -> tuple[int, ...]:
        return tuple(passes.most * count for count in body)

    @override
    def any_order(self, items: Sequence[tuple[int, ...]]) -> tuple[int, ...]:
        return tuple(sum(counts) for counts in zip(self._none, *items, strict=True))

    @override
    def padded(self, body: tuple[int, ...], to_ms: int) -> tuple[int, ...]:
        return body

    @override
    def beside(
        self,
        stations: Sequence[tuple[Station, tuple[int, ...]]],
        for_ms: int,
    ) -> tuple[int, ...]:
        return self.any_order([counts for _, counts in stations])


class BallCounts:
    """The most balls that a body can send from the launcher of its context."""

    def __init__(self, plan: Plan) -> None:
        self._fold = Fold(plan, _MostBalls(plan), balls=self)

    def most(self, body: Sequence[Step], context: Context) -> int:
        return self._fold.steps(body, context)[context.launcher]
