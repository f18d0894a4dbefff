"""All that a lesson is, beside its plan and what is connected: one frozen value.

It holds no clock of a host and nothing of a connection, so it is the same for the host that wrote
the journal and for the one that reads it. Moments are seconds of UTC. Only
:func:`feedscript.session.state.apply.apply` makes the next one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import msgspec

from feedscript.plan.certificate import SetUpItem
from feedscript.plan.interpreter.actions import Jump, Reply, ToStep
from feedscript.plan.model import Plan
from feedscript.safety.hazards.stations import most_stations
from feedscript.session.group.records import FlownBall, Record
from feedscript.session.group.roster import Roster, roster_of
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import Call
from feedscript.session.state.events import ExerciseBegan, FeedMarked, FeedRequested
from feedscript.tongues.text import _

Place: TypeAlias = tuple[str, int]  # lane and number of an action in the plan

#: What a person looks at before arming again after a collect or a stop.
AFTER_PAUSE = (
    SetUpItem(key="cause", words=_("The cause of the pause is over, and no ball lies underfoot.")),
    SetUpItem(
        key="loaded",
        words=_("The launcher is loaded with standard balls, its guards are on."),
    ),
    SetUpItem(key="clear", words=_("Nobody is in front of the launcher or reaches into it.")),
)


class RunState(msgspec.Struct, frozen=True, kw_only=True):
    """Where a lesson stands. ``under_way`` are balls that were asked for and whose outcome is open;
    of those in ``unknown`` not even the launcher can say what became of them."""

    roster: Roster
    set_up: tuple[SetUpItem, ...]
    phase: Phase = Phase.CONNECTING
    confirmed: frozenset[str] = frozenset()
    cause: str = ""  # why it does not run, where no person chose that; "" once it runs again
    ending: Phase | None = None
    # The place in the plan: it follows from these.
    decisions: Mapping[Place, Reply] = {}
    done: Mapping[int, int] = {}  # last ball of the plan that left, a launcher
    last_place: Mapping[str, Place] = {}  # a lane: of its last ball that left
    jumps: tuple[Jump | Act | ToStep, ...] = ()  # commanded, and not made yet
    asked: Place | None = None  # the ball on request that a person asked for and that has not left
    break_began: tuple[Place, float] | None = None  # the one under way, and since when
    exercise: ExerciseBegan | None = None  # the one that is on
    ends_at_hour: bool = False  # a person wants it to
    reached_s: float = 0.0  # the moment of the plan at which it last ceased to run
    # Balls.
    next_feed_id: int = 1
    under_way: Mapping[int, FeedRequested] = {}
    unknown: frozenset[int] = frozenset()
    left: Mapping[int, FlownBall] = {}  # in the order in which they left
    misses: int = 0  # balls in a row that did not leave
    balls_in_stretch: int = 0  # left since it last began to run
    went_on: bool = True  # a person said so, and no ball was asked for since
    # Rungs of progressions: by index into the plan's progressions and the roster's players.
    first_stands: Mapping[tuple[int, int], int] = {}  # as the lesson began for them
    stands: Mapping[tuple[int, int], int] = {}  # now
    as_last_time: Mapping[tuple[int, int], int] = {}  # where a lesson before left them
    shown_mps: Mapping[int, float] = {}  # fastest that was watched, a launcher
    # People.
    records: Mapping[int, Record] = {}  # a ball's; the newest tap last
    marks: Mapping[int, FeedMarked] = {}  # where balls came down as fed, in lessons that measure
    pace: float = 1.0  # real seconds for one second of the plan
    calls: tuple[Call, ...] = ()
    calls_made: int = 0


def state_at_the_start(plan: Plan) -> RunState:
    """A lesson that has just been written down."""
    return RunState(
        roster=roster_of(plan.group, most_stations(plan.steps)), set_up=first_set_up(plan)
    )


def first_set_up(plan: Plan) -> tuple[SetUpItem, ...]:
    """What is confirmed before the launchers are first armed by a host."""
    return plan.certificate.set_up if plan.certificate is not None else AFTER_PAUSE
