"""A named fault: what goes wrong, where and when, and what must be so all the same.

A trial is plain data. The simulated launcher carries out what befalls launcher, link and the person
beside it; a rehearsal carries out what coach and players do.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec


class Where(StrEnum):
    """Where a fault lies."""

    LAUNCHER = "launcher"
    LINK = "link"
    PERSON = "person"


class What(StrEnum):
    """What goes wrong."""

    # at the launcher
    JAM = "jam"  # the gate opens, and no ball comes
    UNSEEN = "unseen"  # the ball leaves, and its sensor does not see it
    LATE_BALL = "late-ball"
    TWO_AT_ONCE = "two-at-once"  # a second ball comes through the open gate
    OFF_SPEED = "off-speed"  # the drives are not as fast as their sensors say
    RUNS_EMPTY = "runs-empty"
    POWER_CUT = "power-cut"
    FINDS = "finds"  # the launcher finds trouble with itself
    CLOCK_OFF = "clock-off"
    # on the link
    DEAD = "dead"
    LOST = "lost"
    DOUBLED = "doubled"
    LATE = "late"
    SPOILT = "spoilt"
    # people
    EMERGENCY_STOP = "emergency-stop"  # pressed at the launcher
    SWITCH_OFF = "switch-off"
    ARMS_LATE = "arms-late"
    NEVER_ARMS = "never-arms"
    FILLS_FEW = "fills-few"
    COMES_LATE = "comes-late"  # a player
    HOLDS = "holds"  # the coach
    STOPS = "stops"
    STOPS_AT_ONCE = "stops-at-once"  # somebody resets the launcher after lasts_s, if it is said


class Way(StrEnum):
    """Which way a link is dead."""

    BOTH = "both"
    TO_LAUNCHER = "to-launcher"
    FROM_LAUNCHER = "from-launcher"


class Lines(StrEnum):
    """Lines of the wire, by what they are."""

    COMMANDS = "commands"
    REPLIES = "replies"
    EVENTS = "events"
    HEARTBEATS = "heartbeats"
    BEATS = "beats"  # the launcher's answers to them


Count = Annotated[int, msgspec.Meta(ge=1, le=1000)]
Seconds = Annotated[float, msgspec.Meta(gt=0.0, le=3600.0)]


class Trial(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One named fault. Exactly one of ``ball``, ``at_s`` and ``state`` says when.

    ``ball``: what befalls a ball befalls this one of the launcher's, from 1; everything else comes
    when it has left. ``at_s``: so long after the launcher was first armed. ``state``: when it next
    is in this state. ``by_s``, ``lasts_s`` in seconds, ``share`` of the drives' speed, ``ppm`` of
    the clock's; ``expect`` in the words of the bench's page.
    """

    name: Annotated[str, msgspec.Meta(min_length=1, max_length=80)]
    where: Where
    what: What
    expect: Annotated[tuple[str, ...], msgspec.Meta(min_length=1)]
    launcher: Annotated[int, msgspec.Meta(ge=1, le=16)] = 1
    ball: Count | None = None
    at_s: Annotated[float, msgspec.Meta(ge=0.0, le=36000.0)] | None = None
    state: str | None = None  # of the port's
    by_s: Seconds | None = None
    lasts_s: Seconds | None = None
    share: Annotated[float, msgspec.Meta(ge=-0.5, le=0.5)] | None = None
    ppm: Annotated[float, msgspec.Meta(ge=-1000.0, le=1000.0)] | None = None
    balls: Count | None = None
    kind: str | None = None
    of: Lines | None = None
    word: str | None = None
    times: Count | None = None
    way: Way | None = None
