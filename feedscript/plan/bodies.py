"""The bodies that a step of a plan contains."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from feedscript.plan.model import (
    Choose,
    Exercise,
    OnRequest,
    Repeat,
    Shuffle,
    Step,
    Together,
    Turns,
    Until,
    When,
)


def bodies(step: Step) -> tuple[Sequence[Step], ...]:
    """Every body of a step, in the order they are written; none for a leaf."""
    found = _BODIES.get(type(step))
    return () if found is None else found(step)


#: By the kind of a step: a check asks some thousand times.
_BODIES: Mapping[type, Callable[[Any], tuple[Sequence[Step], ...]]] = {
    **dict.fromkeys((Repeat, Until, Turns, Exercise), lambda step: (step.body,)),
    OnRequest: lambda step: ((step.send,),),
    Choose: lambda step: tuple(option.body for option in step.options),
    Shuffle: lambda step: step.items,
    When: lambda step: (step.then, step.otherwise),
    Together: lambda step: tuple(station.body for station in step.stations),
}


def within(steps: Sequence[Step]) -> Iterator[Step]:
    """Every step, however deep."""
    stack = list(steps)
    while stack:
        step = stack.pop()
        yield step
        for body in bodies(step):
            stack.extend(body)


def asks(steps: Sequence[Step]) -> bool:
    """Whether balls on request stand here."""
    return any(isinstance(one, OnRequest) for one in within(steps))


def untimed(steps: Sequence[Step]) -> bool:
    """Whether balls on request stand here that have no time yet."""
    return any(isinstance(one, OnRequest) and one.lasts_s is None for one in within(steps))
