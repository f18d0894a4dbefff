"""The one interpreter of a plan: a pure generator of actions.

The engine, the rehearsal, resuming by replay, the sampler and the brute-force tests all walk a
plan through here, so they cannot disagree. A walk reads no clock and no record: what it must know
it asks, and the same plan with the same replies gives the same actions. All chance comes from the
plan's seed.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from functools import partial
from typing import Any, TypeAlias

from feedscript.plan.folds.actions import (
    Action,
    Ask,
    Fork,
    Jump,
    OnTurn,
    Pause,
    PickUp,
    Reply,
    SendBall,
    Speak,
    StationWalk,
    TakeTurn,
    Walk,
    WatchSpeed,
)
from feedscript.plan.folds.chance import Draws, stream
from feedscript.plan.model import (
    Choose,
    Collect,
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
from feedscript.plan.scene import left_handed
from feedscript.plan.times import milliseconds

Source: TypeAlias = Callable[..., Draws]


class _Jumped(Exception):  # noqa: N818 - a person's wish, not an error
    """Unwinds to the innermost series."""

    def __init__(self, again: bool) -> None:
        self.again = again


class _Spent(Exception):  # noqa: N818 - an end, not an error
    """Every ball that the plan's bounds allow has been sent."""


@dataclass(slots=True)
class _Sent:
    """Balls sent so far, for each launcher and in all."""

    of: dict[int, int]
    most: int
    total: int = 0

    def count(self, launcher: int) -> int:
        """Number the next ball of this launcher."""
        if self.total >= self.most:
            raise _Spent
        self.total += 1
        self.of[launcher] += 1
        return self.of[launcher]

    def uncount(self, launcher: int) -> None:
        self.total -= 1
        self.of[launcher] -= 1


@dataclass(slots=True)
class _Place:
    """Where one walk stands: its cursor, who is on turn, its chance."""

    plan: Plan
    sent: _Sent
    station: str
    launcher: int
    players: tuple[int, ...]
    now_ms: int
    source: Source
    chance: Draws
    seeded: dict[int, Draws] = field(default_factory=dict)
    player: int | None = None
    left: bool = False
    series: int = 0
    down_ms: int = 0  # when the last ball has come down, or people were done; the walk's beginning
    since: int = 1  # the first ball of the turn, station or lesson

    def draws(self, seed: int | None) -> Draws:
        """The chance of a step: its own seed's stream, or this walk's."""
        if seed is None:
            return self.chance
        if seed not in self.seeded:
            self.seeded[seed] = self.source(seed, "step", self.station)
        return self.seeded[seed]

    @property
    def now_s(self) -> float:
        return self.now_ms / 1000.0


def walk(
    plan: Plan, source: Source = stream, at_step: Callable[[int], None] = lambda _: None
) -> Walk:
    """Every action of one run, in order. See ``actions`` for what may be replied.

    ``source`` gives the stream of chance of a name; only a test puts another in its place.
    ``at_step`` is told the index of each step of the lesson as it begins.
    """
    everyone = tuple(range(len(plan.group.players)))
    sent = _Sent(dict.fromkeys(range(len(plan.launchers)), 0), plan.bounds.balls[1])
    place = _place(plan, sent, source, "", 0, everyone, 0)
    yield from _whole(place, plan.steps, at_step)


def _place(
    plan: Plan,
    sent: _Sent,
    source: Source,
    station: str,
    launcher: int,
    players: tuple[int, ...],
    now_ms: int,
) -> _Place:
    there = tuple(plan.group.players[index] for index in players)
    chance = source(plan.seed, "lesson", station, now_ms)
    place = _Place(plan, sent, station, launcher, players, now_ms, source, chance)
    place.down_ms = now_ms
    place.player = players[0] if len(players) == 1 else None
    place.since = sent.of[launcher] + 1
    place.left = left_handed(there)
    return place


def _whole(
    place: _Place, steps: tuple[Step, ...], at_step: Callable[[int], None] = lambda _: None
) -> Walk:
    """A lesson or a station from start to end; each step is a series for a person's jumps."""
    try:
        for number, step in enumerate(steps):
            at_step(number)
            yield from _series(place, 0, partial(_step, place, step))
    except _Spent:
        yield Speak(place.now_s, 0, place.station, "All balls of this plan have been sent.")


def _series(place: _Place, line: int, body: Callable[[], Walk]) -> Generator[Action, Reply, bool]:
    """Walk a series until it ends or is left; whether it ran to its end."""
    outer, place.series = place.series, line or place.series
    try:
        while True:
            try:
                yield from body()
            except _Jumped as jump:
                if jump.again:
                    continue
                return False
            return True
    finally:
        place.series = outer


def _do(action: Action) -> Generator[Action, Reply, Reply]:
    """Yield one action; a jump out of the series is taken here, a skip is handed back."""
    reply = yield action
    if reply is Jump.NEXT or reply is Jump.AGAIN:
        raise _Jumped(again=reply is Jump.AGAIN)
    return reply


def _steps(place: _Place, steps: tuple[Step, ...]) -> Walk:
    for step in steps:
        yield from _step(place, step)


def _step(place: _Place, step: Step) -> Walk:
    return _WALKERS[type(step)](place, step)


def _send(place: _Place, step: Send) -> Walk:
    mirrored = place.left and step.left_feeds
    feeds = step.left_feeds if mirrored else step.feeds
    least, most = (milliseconds(bound) for bound in step.after_s)
    feed = feeds[0] if len(feeds) == 1 else feeds[place.chance.below(len(feeds))]
    after_ms = least if least == most else place.chance.between(least, most)
    launcher = place.plan.feeds[feed].launcher
    at_ms = place.now_ms + after_ms
    action = SendBall(
        at_s=at_ms / 1000.0,
        line=step.line,
        station=place.station,
        ball=place.sent.count(launcher),
        feed=feed,
        launcher=launcher,
        player=place.player,
        after_s=after_ms / 1000.0,
        series=place.series,
    )
    try:
        reply = yield from _do(action)
    except _Jumped:
        place.sent.uncount(launcher)
        raise
    if reply is Jump.SKIP:
        place.sent.uncount(launcher)
        return
    place.now_ms = at_ms
    place.down_ms = at_ms + milliseconds(place.plan.feeds[feed].flight_s)
    if reply is Jump.AGAIN_AFTER:
        raise _Jumped(again=True)


def _show_speed(place: _Place, step: ShowSpeed) -> Walk:
    launcher = place.plan.feeds[step.feed].launcher
    ball = place.sent.count(launcher)
    action = WatchSpeed(place.now_s, step.line, place.station, ball, step.feed, launcher)
    try:
        reply = yield from _do(action)
    except _Jumped:
        place.sent.uncount(launcher)
        raise
    if reply is Jump.SKIP:
        place.sent.uncount(launcher)
    else:
        place.down_ms = place.now_ms


def _rest(place: _Place, step: Rest) -> Walk:
    until_ms = place.now_ms + milliseconds(step.seconds)
    reply = yield from _do(Pause(place.now_s, step.line, place.station, until_ms / 1000.0))
    if reply is not Jump.SKIP:
        place.now_ms = until_ms


def _say(place: _Place, step: Say) -> Walk:
    yield from _do(Speak(place.now_s, step.line, place.station, step.text))


def _collect(place: _Place, step: Collect) -> Walk:
    yield from _do(PickUp(place.now_s, step.line, place.station))
    place.down_ms = place.now_ms


def _repeat(place: _Place, step: Repeat) -> Walk:
    def body() -> Walk:
        for _ in range(step.times):
            yield from _steps(place, step.body)

    yield from _series(place, step.line, body)


def _choose(place: _Place, step: Choose) -> Walk:
    drawn = place.draws(step.seed).weighted([option.weight for option in step.options])
    yield from _steps(place, step.options[drawn].body)


def _shuffle(place: _Place, step: Shuffle) -> Walk:
    for index in place.draws(step.seed).order(len(step.items)):
        yield from _steps(place, step.items[index])


def _until(place: _Place, step: Until) -> Walk:
    need = 0 if step.condition.negated else step.condition.at_least

    def body() -> Walk:
        before = place.sent.of[place.launcher]
        for number in range(1, step.at_most + 1):
            yield from _steps(place, step.body)
            so_far = place.sent.of[place.launcher]
            if number == step.at_most or so_far - before < need:
                continue
            reply = yield from _do(_ask(place, step, before + 1, ever=True))
            if reply is True:
                return

    yield from _series(place, step.line, body)


def _when(place: _Place, step: When) -> Walk:
    reply = yield from _do(_ask(place, step, place.since, ever=False))
    yield from _steps(place, step.then if reply is True else step.otherwise)


def _ask(place: _Place, step: Until | When, first: int, *, ever: bool) -> Ask:
    return Ask(
        at_s=place.now_s,
        line=step.line,
        station=place.station,
        condition=step.condition,
        launcher=place.launcher,
        first_ball=first,
        last_ball=place.sent.of[place.launcher],
        ever=ever,
        down_s=place.down_ms / 1000.0,
    )


def _turns(place: _Place, step: Turns) -> Walk:
    outer = place.player, place.left, place.since
    for slot in range(step.slots):
        start_ms = place.now_ms
        ends_ms = None if step.every_s is None else start_ms + milliseconds(step.every_s)
        turn = partial(_turn, place, step, slot, ends_ms)
        whole = yield from _series(place, step.line, turn)
        if whole and ends_ms is not None:
            place.now_ms = max(place.now_ms, ends_ms)
    place.player, place.left, place.since = outer


def _turn(place: _Place, step: Turns, slot: int, ends_ms: int | None) -> Walk:
    players = place.players
    planned = players[slot % len(players)] if players else None
    until_s = None if ends_ms is None else ends_ms / 1000.0
    action = TakeTurn(
        at_s=place.now_s,
        line=step.line,
        station=place.station,
        slot=slot,
        slots=step.slots,
        player=planned,
        until_s=until_s,
        called_s=place.down_ms / 1000.0,
    )
    reply = yield from _do(action)
    if reply is Jump.SKIP:
        return
    if isinstance(reply, OnTurn):
        place.player, place.left = reply.player, reply.left_handed
    elif planned is not None:
        place.player, place.left = planned, place.plan.group.players[planned].left_handed
    place.since = place.sent.of[place.launcher] + 1
    for _ in range(step.passes):
        yield from _steps(place, step.body)


def _together(place: _Place, step: Together) -> Walk:
    ended: dict[str, int] = {}

    def station_walk(station: Station) -> Walk:
        its = _place(
            place.plan,
            place.sent,
            place.source,
            station.name,
            station.launcher,
            station.players,
            place.now_ms,
        )
        its.down_ms = place.down_ms
        yield from _whole(its, station.body)
        ended[station.name] = its.down_ms

    walks = tuple(
        StationWalk(station.name, station.launcher, station_walk(station))
        for station in step.stations
    )
    until_ms = place.now_ms + milliseconds(step.for_s)
    reply = yield from _do(Fork(place.now_s, step.line, place.station, walks, until_ms / 1000.0))
    if reply is Jump.SKIP:
        return
    if len(ended) != len(walks):
        raise RuntimeError("every station of a fork is walked to its end before going on")
    place.now_ms, place.down_ms = until_ms, max(ended.values(), default=place.down_ms)


_WALKERS: dict[type, Callable[[_Place, Any], Walk]] = {
    Send: _send,
    ShowSpeed: _show_speed,
    Rest: _rest,
    Say: _say,
    Collect: _collect,
    Repeat: _repeat,
    Choose: _choose,
    Shuffle: _shuffle,
    Until: _until,
    When: _when,
    Turns: _turns,
    Together: _together,
}
