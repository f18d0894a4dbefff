"""The bodies that a step of a plan contains."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

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
    if isinstance(step, Repeat | Until | Turns | Exercise):
        return (step.body,)
    if isinstance(step, OnRequest):
        return ((step.send,),)
    if isinstance(step, Choose):
        return tuple(option.body for option in step.options)
    if isinstance(step, Shuffle):
        return step.items
    if isinstance(step, When):
        return step.then, step.otherwise
    if isinstance(step, Together):
        return tuple(station.body for station in step.stations)
    return ()


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
