"""Whole runs of a plan in one stream, stations merged by time.

For whatever needs no clock of its own: pictures, sampling, brute force. The engine runs each
station in a task of its own instead.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from typing import TypeAlias

from feedscript.plan.interpreter.actions import (
    NOBODY,
    Action,
    Actions,
    Reply,
    Stands,
    StartStations,
    StationRun,
)
from feedscript.plan.interpreter.chance import Draws, stream
from feedscript.plan.interpreter.cursor import Source
from feedscript.plan.interpreter.interpret import interpret
from feedscript.plan.model import Plan

Answer: TypeAlias = Callable[[Action], Reply]


def run_through(
    plan: Plan,
    answer: Answer,
    source: Source = stream,
    at_step: Callable[[int], None] = lambda _: None,
    stands: Stands | None = None,
) -> Iterator[Action]:
    """One run in order of time, all stations merged; ``answer`` replies to every action."""
    yield from _follow(interpret(plan, source, at_step, stands), answer)


def any_stands(plan: Plan, draws: Draws) -> Stands:
    """Where players may stand as a lesson begins: each of them anywhere in each progression."""
    everyone = range(len(plan.group.players)) or (NOBODY,)
    return {
        (number, player): draws.below(len(progression.rungs))
        for number, progression in enumerate(plan.progressions)
        for player in everyone
    }


def _follow(steps: Actions, answer: Answer) -> Iterator[Action]:
    try:
        action = next(steps)
        while True:
            yield action
            if isinstance(action, StartStations):
                yield from _merge(action.stations, answer)
            action = steps.send(answer(action))
    except StopIteration:
        return


def _merge(stations: tuple[StationRun, ...], answer: Answer) -> Iterator[Action]:
    """The stations' actions by time, the first named first where they coincide."""
    runs = [_follow(station.actions, answer) for station in stations]
    yield from heapq.merge(*runs, key=lambda action: action.at_s)
