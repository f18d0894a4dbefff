"""The one table of what a running lesson may do next, and the one function that reads it.

A lesson is in exactly one phase. What moves it is either a person's command or something that
happened. The table is the whole truth: there is no flag beside it, and what it does not hold is
refused. Stop and emergency stop are in every phase in which a launcher may be powered.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

from feedscript.diagnostics import Diagnostic, Page

NOT_NOW = Page(
    slug="not-now",
    title="A command that the lesson cannot follow in its present phase",
    why=(
        "A lesson moves through fixed phases: set up, arm, watch the first ball, play. A command "
        "that does not belong to the phase is refused and changes nothing, so that a key pressed "
        "too early or a page that is out of date can never start a launcher."
    ),
)


class Phase(StrEnum):
    """Where a lesson stands."""

    CONNECTING = "connecting"
    SETTING_UP = "setting-up"  # a person looks the launcher over and confirms each step
    ARMING = "arming"  # waits for a person's act at the launcher
    SHOWING = "showing"  # armed; waits for the word that nobody is in front
    WATCHING = "watching"  # the speed ball is under way
    JUDGING = "judging"  # it left; waits for a person's word that it was as stated
    READY = "ready"  # armed, nothing queued; waits for the word to begin or to go on
    RUNNING = "running"
    REGROUPING = "regrouping"  # nothing queued, outcomes settled, the place in the plan found anew
    HELD = "held"
    MAKING_SAFE = "making-safe"  # disarming before a collect
    COLLECTING = "collecting"  # launcher safe; balls are picked up
    ASKING = "asking"  # stopped; the outcome of a ball is unknown and a person is asked
    STOPPED = "stopped"  # not armed; a person may set up and arm again
    DISARMING = "disarming"
    FINISHED = "finished"
    BROKEN_OFF = "broken-off"  # ended by a person or by trouble before the end of the plan


class Act(StrEnum):
    """What a person may command."""

    CONFIRM = "confirm"  # one set-up step was done
    CLEAR = "clear"  # nobody is in front: send the speed ball
    SEEN = "seen"  # the speed ball was watched and was as stated
    WRONG = "wrong"  # it was not
    HOLD = "hold"
    GO_ON = "go-on"
    NEXT = "next"
    AGAIN = "again"  # repeat this series
    SKIP = "skip"
    SLOWER = "slower"
    FASTER = "faster"
    COLLECTED = "collected"
    ANSWER = "answer"  # whether the ball in question left
    SET_UP_AGAIN = "set-up-again"
    STOP = "stop"
    EMERGENCY_STOP = "emergency-stop"
    QUIT = "quit"


class Happening(StrEnum):
    """What may occur without a command."""

    CONNECTED = "connected"
    SET_UP = "set-up"  # the last step was confirmed
    ARMED_FOR_SPEED = "armed-for-speed"
    ARMED_TO_JUDGE = "armed-to-judge"  # the speed ball left before the lesson was broken off
    ARMED = "armed"
    SHOWN = "shown"  # the speed ball left
    REGROUPED = "regrouped"
    BALL_MISSED = "ball-missed"  # a queued ball was not sent, or nothing was heard of it
    TOO_MANY_MISSED = "too-many-missed"
    GROUP_CHANGED = "group-changed"
    SPEED_BALL_NEXT = "speed-ball-next"
    COLLECT_NEXT = "collect-next"
    MADE_SAFE = "made-safe"
    OUTCOME_UNKNOWN = "outcome-unknown"
    ANSWERED = "answered"
    LAUNCHER_STOPPED = "launcher-stopped"  # by itself, its switch, a fault or a hold too long
    LINK_LOST = "link-lost"
    REFUSED = "refused"  # a fence refused: hash, certificate, driver
    PLAN_DONE = "plan-done"
    DISARMED = "disarmed"


Cause: TypeAlias = Act | Happening

#: Phases in which a launcher may be powered or a ball may be under way.
POWERED = (
    Phase.ARMING,
    Phase.SHOWING,
    Phase.WATCHING,
    Phase.JUDGING,
    Phase.READY,
    Phase.RUNNING,
    Phase.REGROUPING,
    Phase.HELD,
)
#: What ends a lesson, or keeps it from going on, though no person chose that; in words.
NOT_CHOSEN = {
    Happening.LAUNCHER_STOPPED: "a launcher stopped by itself",
    Happening.OUTCOME_UNKNOWN: "nobody knows whether a ball left",
    Happening.TOO_MANY_MISSED: "several balls in a row did not leave",
    Happening.LINK_LOST: "the link to a launcher is gone",
    Happening.REFUSED: "it was refused",
}
#: Phases in which a person may count on it that no ball leaves. A launcher that has not said so
#: yet is shown as stopping.
STILL = (
    Phase.HELD,
    Phase.SETTING_UP,
    Phase.COLLECTING,
    Phase.ASKING,
    Phase.STOPPED,
    Phase.FINISHED,
    Phase.BROKEN_OFF,
)
#: Phases after which nothing follows.
ENDED = (Phase.FINISHED, Phase.BROKEN_OFF)


def _table() -> dict[tuple[Phase, Cause], Phase]:
    p, a, h = Phase, Act, Happening
    table: dict[tuple[Phase, Cause], Phase] = {
        (p.CONNECTING, h.CONNECTED): p.SETTING_UP,
        (p.SETTING_UP, a.CONFIRM): p.SETTING_UP,
        (p.SETTING_UP, h.SET_UP): p.ARMING,
        (p.ARMING, h.ARMED_FOR_SPEED): p.SHOWING,
        (p.ARMING, h.ARMED): p.READY,
        (p.SHOWING, a.CLEAR): p.WATCHING,
        (p.ARMING, h.ARMED_TO_JUDGE): p.JUDGING,
        (p.WATCHING, h.SHOWN): p.JUDGING,
        (p.JUDGING, a.SEEN): p.READY,
        (p.JUDGING, a.WRONG): p.STOPPED,
        (p.READY, a.GO_ON): p.REGROUPING,
        (p.REGROUPING, h.REGROUPED): p.RUNNING,
        (p.REGROUPING, a.HOLD): p.HELD,
        (p.RUNNING, a.HOLD): p.HELD,
        (p.RUNNING, h.BALL_MISSED): p.REGROUPING,
        (p.RUNNING, h.GROUP_CHANGED): p.REGROUPING,
        (p.RUNNING, h.TOO_MANY_MISSED): p.HELD,
        (p.WATCHING, h.TOO_MANY_MISSED): p.STOPPED,
        (p.HELD, a.GO_ON): p.REGROUPING,
        (p.RUNNING, h.SPEED_BALL_NEXT): p.SHOWING,
        (p.RUNNING, h.COLLECT_NEXT): p.MAKING_SAFE,
        (p.MAKING_SAFE, h.MADE_SAFE): p.COLLECTING,
        (p.COLLECTING, a.COLLECTED): p.SETTING_UP,
        (p.RUNNING, h.PLAN_DONE): p.DISARMING,
        (p.DISARMING, h.DISARMED): p.FINISHED,
        (p.ASKING, a.ANSWER): p.ASKING,
        (p.ASKING, h.ANSWERED): p.STOPPED,
        (p.STOPPED, a.SET_UP_AGAIN): p.SETTING_UP,
    }
    for phase in (p.READY, p.RUNNING, p.HELD):
        for act in (a.NEXT, a.AGAIN, a.SKIP):
            table[phase, act] = p.REGROUPING if phase is p.RUNNING else phase
        for act in (a.SLOWER, a.FASTER):
            table[phase, act] = phase
    for phase in POWERED:
        table[phase, h.LAUNCHER_STOPPED] = p.STOPPED
        table[phase, h.OUTCOME_UNKNOWN] = p.ASKING
    table[p.STOPPED, h.OUTCOME_UNKNOWN] = p.ASKING
    table[p.SETTING_UP, h.OUTCOME_UNKNOWN] = p.ASKING
    table[p.DISARMING, h.OUTCOME_UNKNOWN] = p.ASKING
    for phase in Phase:
        if phase in ENDED:
            continue
        stopped = phase if phase in (p.ASKING, p.CONNECTING) else p.STOPPED
        table[phase, a.STOP] = stopped
        table[phase, a.EMERGENCY_STOP] = stopped
        table[phase, a.QUIT] = p.BROKEN_OFF
        table[phase, h.LINK_LOST] = p.BROKEN_OFF
        table[phase, h.REFUSED] = p.BROKEN_OFF
    return table


TRANSITIONS: dict[tuple[Phase, Cause], Phase] = _table()


def allowed(phase: Phase) -> frozenset[Act]:
    """The commands that may be given in this phase."""
    return frozenset(cause for at, cause in TRANSITIONS if at is phase and isinstance(cause, Act))


def follow(phase: Phase, cause: Cause) -> Phase | Diagnostic:
    """The phase after ``cause``, or the diagnostic that refuses it."""
    after = TRANSITIONS.get((phase, cause))
    if after is not None:
        return after
    may = ", ".join(sorted(allowed(phase))) or "nothing: the lesson has ended"
    return NOT_NOW.report(
        f"{cause.value!r} does not belong to the phase {phase.value!r}", help=f"now may come: {may}"
    )
