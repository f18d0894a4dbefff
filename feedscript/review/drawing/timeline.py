"""One run of a plan as a line of time: what leaves when, who is on, and what else happens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    EndExercise,
    Pause,
    PickUp,
    Reply,
    SendBall,
    Speak,
    StartStations,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan
from feedscript.tongues.text import _, joined, p_
from feedscript.tongues.tongue import Tongue
from feedscript.units import spoken_time

#: A ball after a longer pause than this begins another stay of its player. Design value.
STAY_PAUSE_S = 15.0
#: A stay lasts so long past its last ball: until that one was played. Design value.
PLAYED_S = 2.0


class Ball(msgspec.Struct, frozen=True):
    """A ball of a feed (index into the plan's feeds) at a time; ``watched`` for a speed ball.

    ``player`` (index into the group's) is whose ball it is, ``request``: it leaves when asked for.
    """

    at_s: float
    feed: int
    watched: bool = False
    player: int | None = None
    request: bool = False


class Call(msgspec.Struct, frozen=True):
    """Words for everybody: what the program says, and whose turn it is."""

    at_s: float
    words: str


class Part(msgspec.Struct, frozen=True):
    """An exercise: its number in the lesson, its title, and from when to when it lasts."""

    begin_s: float
    end_s: float
    number: int
    title: str


class Stop(msgspec.Struct, frozen=True):
    """The launcher is off: a collect, a break with its time, or a wait for the coach."""

    begin_s: float
    end_s: float
    words: str
    named: bool  # a break or a wait, which the coach has written words for


class Stay(msgspec.Struct, frozen=True):
    """A player (index into the group's) is on, or at work without a launcher."""

    begin_s: float
    end_s: float
    player: int
    work: bool = False


class TimeLine(msgspec.Struct, frozen=True, kw_only=True):
    """A whole run; the time that people take is not counted."""

    players: tuple[str, ...] = ()
    balls: tuple[Ball, ...] = ()
    parts: tuple[Part, ...] = ()
    stops: tuple[Stop, ...] = ()
    stays: tuple[Stay, ...] = ()
    turns_s: tuple[float, ...] = ()  # when somebody else is called
    rests: tuple[tuple[float, float], ...] = ()  # of everybody: not those of one station
    calls: tuple[Call, ...] = ()
    end_s: float = 0.0


def longest_run(plan: Plan) -> TimeLine:
    """The run of the plan's own seed in which no row of hits ends an ``until`` early."""
    actions = list(run_through(plan, _nothing_reached))
    rests = [rest for action in actions for rest in _rests(action)]
    ends = [action.at_s for action in actions] + [end_s for _, end_s in rests]
    ends += [one.until_s for one in actions if isinstance(one, PickUp | StartStations)]
    return TimeLine(
        players=tuple(player.name for player in plan.group.players),
        balls=tuple(ball for action in actions for ball in _balls(action)),
        parts=tuple(_parts(actions)),
        stops=tuple(_stop(action) for action in actions if isinstance(action, PickUp)),
        stays=tuple(sorted([*_on(actions), *_at_work(actions)], key=lambda one: one.begin_s)),
        turns_s=tuple(a.called_s for a in actions if isinstance(a, TakeTurn) and a.slots > 1),
        rests=tuple(rests),
        calls=tuple(sorted(_calls(plan, actions), key=lambda one: one.at_s)),
        end_s=max(ends, default=0.0),
    )


def told(run: TimeLine, tongue: Tongue) -> TimeLine:
    """The same with its words in a language: how long they are says where there is room."""
    replace = msgspec.structs.replace
    return replace(
        run,
        stops=tuple(replace(stop, words=tongue(stop.words)) for stop in run.stops),
        calls=tuple(replace(call, words=tongue(call.words)) for call in run.calls),
    )


def in_order(run: TimeLine) -> list[tuple[float, str]]:
    """What happens when, in words: exercises, breaks and the coach's own waits."""
    stops = [(stop.begin_s, stop.words) for stop in run.stops if stop.named]
    parts = [(part.begin_s, f"{part.number}. {part.title}") for part in run.parts]
    # What begins when a stop has no time of its own comes after it.
    return sorted([*stops, *parts], key=lambda one: one[0])


def _nothing_reached(action: Action) -> Reply:
    return False if isinstance(action, Ask) else None


def _balls(action: Action) -> tuple[Ball, ...]:
    if isinstance(action, SendBall):
        asked = action.request is not None
        return (Ball(action.at_s, action.feed, player=action.player, request=asked),)
    if isinstance(action, WatchSpeed):
        return (Ball(action.at_s, action.feed, watched=True),)
    return ()


def _calls(plan: Plan, actions: Sequence[Action]) -> Iterator[Call]:
    """As they are made on court, but for the titles of exercises."""
    for action in actions:
        if isinstance(action, Speak):
            yield Call(action.at_s, action.text)
        elif isinstance(action, TakeTurn) and action.player is not None:
            name = plan.group.players[action.player].name
            station = action.station
            to = _("{player} to {station}", player=name, station=station)
            yield Call(action.called_s, to if station else _("{player} is on", player=name))


def _rests(action: Action) -> tuple[tuple[float, float], ...]:
    """A rest of everybody."""
    if isinstance(action, Pause) and not action.station and action.until_s > action.at_s:
        return ((action.at_s, action.until_s),)
    return ()


def _parts(actions: Sequence[Action]) -> Iterator[Part]:
    begun: BeginExercise | None = None
    for action in actions:
        if isinstance(action, BeginExercise):
            begun = action
        elif isinstance(action, EndExercise) and begun is not None:
            yield Part(begun.at_s, action.at_s, begun.number, begun.title)


def _stop(action: PickUp) -> Stop:
    words, break_s = action.words, action.break_s
    said = p_("time line", "collect")
    if break_s is not None:
        said = joined(": ", [_("break {time}", time=spoken_time(break_s)), words])
    elif words:
        said = _("coach: {words}", words=words)
    return Stop(action.at_s, action.until_s, said, named=bool(words) or break_s is not None)


def _on(actions: Sequence[Action]) -> Iterator[Stay]:
    """Balls of one player in a row, as one stay."""
    stays: dict[tuple[str, int], Stay] = {}
    for action in actions:
        if not isinstance(action, SendBall) or action.player is None:
            continue
        key = action.station, action.player
        before, end_s = stays.get(key), action.at_s + PLAYED_S
        if before is not None and action.at_s - before.end_s <= STAY_PAUSE_S:
            stays[key] = msgspec.structs.replace(before, end_s=end_s)
            continue
        if before is not None:
            yield before
        stays[key] = Stay(action.at_s, end_s, action.player)
    yield from stays.values()


def _at_work(actions: Sequence[Action]) -> Iterator[Stay]:
    for start in actions:
        if not isinstance(start, StartStations):
            continue
        for run in start.stations:
            for player in run.players if run.launcher is None else ():
                yield Stay(start.at_s, start.until_s, player, work=True)
