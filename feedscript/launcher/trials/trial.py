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
    """One named fault. Exactly one of ``ball``, ``at_s`` and ``state`` says when."""

    name: Annotated[str, msgspec.Meta(min_length=1, max_length=80)]  # what it is called, once
    where: Where  # where it lies
    what: What  # what goes wrong
    expect: Annotated[tuple[str, ...], msgspec.Meta(min_length=1)]  # in the words of the bench
    launcher: Annotated[int, msgspec.Meta(ge=1, le=16)] = 1  # which one, from 1
    #: what befalls a ball befalls this one of the launcher's, from 1; all else comes when it left
    ball: Count | None = None
    #: so long after the launcher was first armed
    at_s: Annotated[float, msgspec.Meta(ge=0.0, le=36000.0)] | None = None
    state: str | None = None  # when the launcher next is in this state
    by_s: Seconds | None = None  # by how much something is late
    lasts_s: Seconds | None = None  # how long it lasts
    share: Annotated[float, msgspec.Meta(ge=-0.5, le=0.5)] | None = None  # off the drives' speed
    ppm: Annotated[float, msgspec.Meta(ge=-1000.0, le=1000.0)] | None = None  # off the clock's
    balls: Count | None = None  # how many are filled in
    kind: str | None = None  # which trouble a launcher finds with itself
    of: Lines | None = None  # which lines of the wire it befalls
    word: str | None = None  # only those that begin with it
    times: Count | None = None  # how many of them
    way: Way | None = None  # which way the link is dead
