"""One run of a plan as a line of time: what leaves when, and what else happens."""

from __future__ import annotations

import msgspec

from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    Pause,
    PickUp,
    Reply,
    SendBall,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan


class Ball(msgspec.Struct, frozen=True):
    """A ball of a feed (index into the plan's feeds) at a time; ``watched`` for a speed ball."""

    at_s: float
    feed: int
    watched: bool = False


class Call(msgspec.Struct, frozen=True):
    """What people do at a time: collect, a break, an exercise, or a change of who is on."""

    at_s: float
    word: str
    off: bool = False  # the launcher is off then
    rank: int = 2  # whose word is written where there is no room for all: the lowest


class TimeLine(msgspec.Struct, frozen=True):
    """A whole run; the time that people take is not counted."""

    balls: tuple[Ball, ...] = ()
    calls: tuple[Call, ...] = ()
    rests: tuple[tuple[float, float], ...] = ()
    end_s: float = 0.0


def longest_run(plan: Plan) -> TimeLine:
    """The run of the plan's own seed in which no row of hits ends an ``until`` early."""
    actions = list(run_through(plan, _nothing_reached))
    rests = [rest for action in actions for rest in _rests(action)]
    return TimeLine(
        balls=tuple(ball for action in actions for ball in _balls(action)),
        calls=tuple(call for action in actions for call in _calls(action)),
        rests=tuple(rests),
        end_s=max([*(a.at_s for a in actions), *(end for _, end in rests)], default=0.0),
    )


def _nothing_reached(action: Action) -> Reply:
    return False if isinstance(action, Ask) else None


def _balls(action: Action) -> tuple[Ball, ...]:
    if isinstance(action, SendBall):
        return (Ball(action.at_s, action.feed),)
    if isinstance(action, WatchSpeed):
        return (Ball(action.at_s, action.feed, watched=True),)
    return ()


def _rests(action: Action) -> tuple[tuple[float, float], ...]:
    """What a rest or a break takes."""
    if isinstance(action, Pause | PickUp) and action.until_s > action.at_s:
        return ((action.at_s, action.until_s),)
    return ()


def _calls(action: Action) -> tuple[Call, ...]:
    if isinstance(action, PickUp):
        rank = 1 if action.words or action.break_s else 2
        return (Call(action.at_s, _pick_up(action), off=True, rank=rank),)
    if isinstance(action, BeginExercise):
        return (Call(action.at_s, action.title, rank=0),)
    if isinstance(action, TakeTurn) and action.slots > 1:
        return (Call(action.called_s, "change over"),)
    return ()


def _pick_up(action: PickUp) -> str:
    if action.break_s is not None:
        return f"break: {action.words}" if action.words else "break"
    return action.words or "collect"
