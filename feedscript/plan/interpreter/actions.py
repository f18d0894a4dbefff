"""What a run of a plan asks for, one action at a time, and what may be replied.

``at_s`` counts from the start of the lesson without the time that people take (see
``feedscript.plan.model``): whoever drives a run adds its own pauses. Every action but ``Ask`` and
``TakeTurn`` expects no reply; a :class:`Jump` or :class:`ToStep` may answer any of them.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping
from enum import StrEnum
from typing import Annotated, TypeAlias

import msgspec

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


#: The rung (from 0) on which a player stands in a progression: by index into Plan.progressions and
#: Group.players, or NOBODY where no player is known. Who is not in it stands on the first.
Stands: TypeAlias = Mapping[tuple[int, int], int]
NOBODY = -1


class OnTurn(msgspec.Struct, frozen=True):
    """Reply to :class:`TakeTurn`: who is on, when the roster knows better than the plan."""

    player: int
    left_handed: bool


class ToStep(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A person goes to another step of the lesson, over a collect: one that was not begun yet, or
    an exercise that has a repeat left. At a station it ends what is left there."""

    #: Index into Plan.steps; their number for the end of the lesson.
    step: Annotated[int, msgspec.Meta(ge=0, le=1_000_000)]


class At(msgspec.Struct, frozen=True):
    """Reply to a ball on request whose time is counted: it leaves at this moment of the plan, or,
    where ``then`` is NEXT, no more of them do and the plan goes on from there. Where it is
    AGAIN_AFTER the ball was sent then, and they begin again."""

    at_s: float
    then: Jump | None = None


Reply: TypeAlias = bool | OnTurn | Jump | ToStep | At | None


class Action(msgspec.Struct, frozen=True):
    """What all actions have: when, on which line, at which station ("" outside stations)."""

    at_s: float
    line: int
    station: str


class Request(msgspec.Struct, frozen=True):
    """The ball of this ``number``, from 1, of up to ``at_most`` that leave when a person asks.

    Where their time is counted none leaves after ``until_s``, and the reply is an :class:`At`.
    """

    number: int
    at_most: int
    until_s: float | None = None


class SendBall(Action, frozen=True):
    """A ball leaves at ``at_s``; one with a ``request`` not before, and only when it is asked for.

    A jump to the next series says that there were enough of those.
    """

    ball: int  # counts the balls of this launcher from 1, shown speeds included
    feed: int
    launcher: int
    player: int | None
    after_s: float  # how long past the cursor: past the ball or the rest before it
    series: int  # line of the innermost series, 0 for none
    request: Request | None = None


class WatchSpeed(Action, frozen=True):
    """One ball with nobody in front; go on when a person has confirmed it."""

    ball: int
    feed: int
    launcher: int


class Pause(Action, frozen=True):
    """Nothing leaves from ``at_s`` until ``until_s``."""

    until_s: float


class Speak(Action, frozen=True):
    """Say this now; ``players`` are those whose work it is, where it is only some's."""

    text: str
    players: tuple[int, ...] = ()


class PickUp(Action, frozen=True):
    """Make the launcher safe; go on when a person has armed it again.

    A break has its time, ``break_s``; a break and a wait for the coach have words for everyone.
    """

    words: str = ""
    break_s: float | None = None

    @property
    def until_s(self) -> float:
        """The end of a break; the same moment without one."""
        return self.at_s + (self.break_s or 0.0)


class BeginExercise(Action, frozen=True):
    """An exercise begins: the one of this number in the lesson, counted from 1."""

    number: int
    title: str


class EndExercise(Action, frozen=True):
    """The exercise of this number is over."""

    number: int


class StepMove(Action, frozen=True):
    """A player goes from one rung of a progression to another (from 0), or stays at its end."""

    progression: int
    player: int | None
    before: int
    after: int


class TakeTurn(Action, frozen=True):
    """A turn begins: ``player`` is who the plan has on. ``until_s`` if turns are timed.

    ``called_s`` is the moment at which the change-over begins: when the last ball before has come
    down. Whoever is on next is called then, whatever rest the plan still has. ``players`` and
    ``named`` as in ``model.Turns``.
    """

    slot: int
    slots: int
    player: int | None
    until_s: float | None
    called_s: float
    players: tuple[int, ...] | None = None
    named: bool = False


class Ask(Action, frozen=True):
    """Does the condition hold? The reply is a bool (see ``conditions.answer``).

    Balls of ``launcher`` numbered ``first_ball`` to ``last_ball`` are looked at. ``ever``: it is
    enough that it held at some ball. ``down_s``: when the last ball before has come down.
    ``so_far``: the last ball of each launcher, for a condition about one player's balls.
    """

    condition: Condition
    launcher: int
    first_ball: int
    last_ball: int
    ever: bool
    down_s: float = 0.0
    so_far: tuple[int, ...] = ()

    def is_about(self, launcher: int, ball: int, player: int | None) -> bool:
        """Whether a ball of this player is one of those that are looked at."""
        if self.condition.player is not None:
            return player == self.condition.player and ball <= self.so_far[launcher]
        return launcher == self.launcher and self.first_ball <= ball <= self.last_ball


class StartStations(Action, frozen=True):
    """Stations begin side by side; run each one to its end before going on here."""

    stations: tuple[StationRun, ...]
    until_s: float


Actions: TypeAlias = Generator[Action, Reply, None]


class StationRun(msgspec.Struct, frozen=True, eq=False):
    """One station's own run. Two are equal whose stations are: generators do not compare.

    ``launcher`` None: its ``players`` work by themselves.
    """

    name: str
    launcher: int | None
    actions: Actions
    players: tuple[int, ...] = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, StationRun) and (self.name, self.launcher) == (
            other.name,
            other.launcher,
        )

    def __hash__(self) -> int:
        return hash((self.name, self.launcher))
