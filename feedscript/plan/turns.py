"""How often a turn runs its body, so that the change never comes in the middle of a series; and how
long balls on request may take in it.

A turn, a block of so many minutes and a round of stations end by the clock. What else stands in
them takes the most it can, and balls on request share the time that is left. So the end of the
block ends them, and nothing of it comes late for the sake of a coach who takes a while to ask.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.language.program import ForTimeStatement, RotateStatement
from feedscript.plan.bodies import untimed, within
from feedscript.plan.lengths import At, Lengths
from feedscript.plan.model import (
    Choose,
    Exercise,
    OnRequest,
    Option,
    Repeat,
    Shuffle,
    Step,
    Turns,
    Until,
    When,
)
from feedscript.plan.step_pages import TIME_TOO_SHORT, TURN_TOO_SHORT
from feedscript.plan.times import milliseconds


def passes(
    step: RotateStatement, body: Sequence[Step], at: At, lengths: Lengths, shared: int
) -> tuple[int, Diagnostic | None]:
    """How often a turn runs its body, at least once; and why that is too often, where it is.

    ``shared``: so many players share the time of a turn.
    """
    if step.every_s is None:
        most = lengths.most_balls(body, at)
        return (max(1, (step.every_balls or 0) // shared // most) if most else 1), None
    longest, turn = lengths.longest_ms(body, at), milliseconds(step.every_s) // shared
    wrong = _too_short(step, longest, turn, shared) if longest > turn else None
    return (max(1, turn // longest) if longest else 1), wrong


def rounds(
    step: ForTimeStatement, body: Sequence[Step], at: At, lengths: Lengths
) -> tuple[int, Diagnostic | None]:
    """How often a body surely fits into its time, at least once; and why that is too often."""
    longest, whole = lengths.longest_ms(body, at), milliseconds(step.seconds)
    if not longest:
        return 1, TIME_TOO_SHORT.report(
            "what stands in this block takes no time, so it would never end",
            help="write `repeat 6 { … }`, or send a ball in it: `send deep after 5 s`",
            span=step.span,
        )
    if longest > whole:
        return 1, TIME_TOO_SHORT.report(
            f"one run of the block can take {longest / 1000:g} s, and it has {step.seconds:g} s",
            help=f"write `for {math.ceil(longest / 1000):d} s` or more, or send fewer feeds",
            span=step.span,
        )
    return whole // longest, None


def _too_short(step: RotateStatement, longest_ms: int, turn_ms: int, shared: int) -> Diagnostic:
    of_each = f"a turn is {turn_ms / 1000:g} s"
    if shared > 1:
        of_each = f"of {shared} players at a station each has {turn_ms / 1000:g} s"
    least_s = math.ceil(longest_ms * shared / 1000)
    return TURN_TOO_SHORT.report(
        f"one run of the turn can take {longest_ms / 1000:g} s, and {of_each}",
        help=f"write `every {least_s:d} s` or more, or send fewer feeds",
        span=step.span,
    )


def in_time(
    body: tuple[Step, ...], whole_ms: int, longest_ms: Callable[[Sequence[Step]], int]
) -> tuple[Step, ...]:
    """The body with a time for each series on request, so that one run of it surely fits; enough
    for one ball of each also where it does not."""
    if not untimed(body):
        return body
    others_ms = longest_ms(_each(body, lambda one: msgspec.structs.replace(one, at_most=0)))
    count = _most_series(body)
    gaps = [one.gap_ms for one in within(body) if isinstance(one, OnRequest) and _open(one)]
    time_ms = max((whole_ms - others_ms) // max(1, count), 1, *gaps)
    return _each(body, lambda one: _lasting(one, time_ms))


def _open(step: OnRequest) -> bool:
    return step.lasts_s is None


def _lasting(step: OnRequest, time_ms: int) -> OnRequest:
    """No more of them than fit."""
    fit = time_ms // step.gap_ms if step.gap_ms else step.at_most
    lasts_s = time_ms / 1000.0
    return msgspec.structs.replace(step, lasts_s=lasts_s, at_most=min(step.at_most, fit))


def _each(body: Sequence[Step], change: Callable[[OnRequest], OnRequest]) -> tuple[Step, ...]:
    """The same steps, with every series on request that has no time changed."""
    return tuple(_changed(step, change) for step in body)


def _changed(step: Step, change: Callable[[OnRequest], OnRequest]) -> Step:
    match step:
        case OnRequest() if _open(step):
            return change(step)
        case Repeat() | Until() | Turns() | Exercise():
            return msgspec.structs.replace(step, body=_each(step.body, change))
        case Choose():
            options = (
                Option(weight=one.weight, body=_each(one.body, change)) for one in step.options
            )
            return msgspec.structs.replace(step, options=tuple(options))
        case Shuffle():
            items = tuple(_each(item, change) for item in step.items)
            return msgspec.structs.replace(step, items=items)
        case When():
            then, otherwise = _each(step.then, change), _each(step.otherwise, change)
            return msgspec.structs.replace(step, then=then, otherwise=otherwise)
        case _:  # stations have given a time to what stands in them
            return step


def _most_series(steps: Sequence[Step]) -> int:
    """The most series without a time that one run can come to."""
    return sum(_series(step) for step in steps)


def _series(step: Step) -> int:
    match step:
        case OnRequest():
            return int(_open(step))
        case Repeat():
            return step.times * _most_series(step.body)
        case Until():
            return step.at_most * _most_series(step.body)
        case Turns():
            return step.slots * step.passes * _most_series(step.body)
        case Choose():
            return max(_most_series(one.body) for one in step.options)
        case Shuffle():
            return sum(_most_series(item) for item in step.items)
        case When():
            return max(_most_series(step.then), _most_series(step.otherwise))
        case _:
            return 0
