"""How often a turn runs its body, so that the change never comes in the middle of a series."""

from __future__ import annotations

import math
from collections.abc import Sequence

from feedscript.diagnostics import Diagnostic
from feedscript.language.program import ForTimeStatement, RotateStatement
from feedscript.plan.lengths import At, Lengths
from feedscript.plan.model import Step
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
