"""What a walk over a plan asks for, one action at a time, and what may be replied.

``at_s`` counts from the start of the lesson without the time that people take (see
``feedscript.plan.model``): the driver of a walk adds its own pauses. Every action but ``Ask`` and
``TakeTurn`` expects no reply; a :class:`Jump` may answer any of them.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

from feedscript.plan.model import Condition


class Jump(StrEnum):
    """A person leaves the written order.

    The innermost series is the repeat, until or turn that the action stands in, or else the
    step of the lesson itself.
    """

    SKIP = "skip"  # not this action; a ball that is skipped is not counted
    NEXT = "next"  # leave the innermost series
    AGAIN = "again"  # begin the innermost series again
    AGAIN_AFTER = "again-after"  # this ball was sent and counts; then again


@dataclass(frozen=True, slots=True)
class OnTurn:
    """Reply to :class:`TakeTurn`: who is on, when the roster knows better than the plan."""

    player: int
    left_handed: bool


Reply: TypeAlias = bool | OnTurn | Jump | None


@dataclass(frozen=True, slots=True)
class Action:
    """What all actions have: when, on which line, at which station ("" outside stations)."""

    at_s: float
    line: int
    station: str


@dataclass(frozen=True, slots=True)
class SendBall(Action):
    """A ball leaves at ``at_s``."""

    ball: int  # counts the balls of this launcher from 1, shown speeds included
    feed: int
    launcher: int
    player: int | None
    after_s: float  # how long past the cursor: past the ball or the rest before it
    series: int  # line of the innermost series, 0 for none


@dataclass(frozen=True, slots=True)
class WatchSpeed(Action):
    """One ball with nobody in front; go on when a person has confirmed it."""

    ball: int
    feed: int
    launcher: int


@dataclass(frozen=True, slots=True)
class Pause(Action):
    """Nothing leaves from ``at_s`` until ``until_s``."""

    until_s: float


@dataclass(frozen=True, slots=True)
class Speak(Action):
    """Say this now."""

    text: str


@dataclass(frozen=True, slots=True)
class PickUp(Action):
    """Make the launcher safe; go on when a person has armed it again."""


@dataclass(frozen=True, slots=True)
class TakeTurn(Action):
    """A turn begins: ``player`` is who the plan has on. ``until_s`` if turns are timed.

    ``called_s`` is the moment at which the change-over begins: when the last ball before has come
    down. Whoever is on next is called then, whatever rest the plan still has.
    """

    slot: int
    slots: int
    player: int | None
    until_s: float | None
    called_s: float


@dataclass(frozen=True, slots=True)
class Ask(Action):
    """Does the condition hold? The reply is a bool (see ``conditions.answer``).

    Balls of ``launcher`` numbered ``first_ball`` to ``last_ball`` are looked at. ``ever``: it is
    enough that it held at some ball. ``down_s``: when the last ball before has come down.
    """

    condition: Condition
    launcher: int
    first_ball: int
    last_ball: int
    ever: bool
    down_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Fork(Action):
    """Stations begin side by side; walk each one to its end before going on here."""

    stations: tuple[StationWalk, ...]
    until_s: float


Walk: TypeAlias = Generator[Action, Reply, None]


@dataclass(frozen=True, slots=True)
class StationWalk:
    """One station's own walk."""

    name: str
    launcher: int
    walk: Walk = field(compare=False)
