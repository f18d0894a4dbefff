"""What holds however a coach goes through the exercises: skips, shortens, repeats, jumps.

A jump goes over a collect and begins a step at its head; each step is begun as often as it may be
at most, and what is left out of it only makes it shorter. So nothing of a run comes to more than
every exercise with all its repeats, whatever the order. A series that is begun again takes its
balls out of the same whole, and adds its own time.
"""

from __future__ import annotations

import msgspec

from feedscript.plan.model import Exercise, Plan


class UnderJumps(msgspec.Struct, frozen=True, kw_only=True):
    """The most balls and seconds of play, where no series is begun again the longest that anybody
    waits for a ball in them (``time_s`` too: somebody's only exercises may be left out)."""

    balls: int
    time_s: float

    @property
    def wait_s(self) -> float:
        """The longest that anybody is without a ball."""
        return self.time_s


def under_jumps(plan: Plan) -> UnderJumps | None:
    """From the bounds that the plan carries; None where there is no exercise to jump to."""
    if not any(isinstance(step, Exercise) for step in plan.steps):
        return None
    longest_s = plan.bounds.time_s[1] if plan.bounds.repeated_s is None else plan.bounds.repeated_s
    return UnderJumps(balls=plan.bounds.most_balls, time_s=longest_s)
