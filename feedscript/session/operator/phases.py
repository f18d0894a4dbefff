"""The one table of what a running lesson may do next, and the one function that reads it.

A lesson is in exactly one phase. What moves it is either a person's command or something that
happened. The table is the whole truth: there is no flag beside it, and what it does not hold is
refused. Stop and emergency stop are in every phase in which a launcher may be powered.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

from feedscript.diagnostics import Diagnostic, Page
from feedscript.tongues.text import _

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
    SEND_ONE = "send-one"  # a ball on request
    NEXT = "next"
    AGAIN = "again"  # repeat this series
    SKIP = "skip"
    SKIP_EXERCISE = "skip-exercise"
    EXERCISE_AGAIN = "exercise-again"
    TO_EXERCISE = "to-exercise"
    SLOWER = "slower"
    FASTER = "faster"
    COLLECTED = "collected"
    ANSWER = "answer"  # whether the ball in question left
    SET_UP_AGAIN = "set-up-again"
    STOP = "stop"
    EMERGENCY_STOP = "emergency-stop"
    END_AT_HOUR = "end-at-hour"  # after the turn in which the hour is full
    PLAY_ON = "play-on"  # to the end of the plan, whatever the hour
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
    Happening.LAUNCHER_STOPPED: _("a launcher stopped by itself"),
    Happening.OUTCOME_UNKNOWN: _("nobody knows whether a ball left"),
    Happening.TOO_MANY_MISSED: _("several balls in a row did not leave"),
    Happening.LINK_LOST: _("the link to a launcher is gone"),
    Happening.REFUSED: _("it was refused"),
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


_P, _A, _H = Phase, Act, Happening
#: The way of a lesson, and what leads off it; what holds in many phases is added below.
_WAY: dict[tuple[Phase, Cause], Phase] = {
    (_P.CONNECTING, _H.CONNECTED): _P.SETTING_UP,
    (_P.SETTING_UP, _A.CONFIRM): _P.SETTING_UP,
    (_P.SETTING_UP, _H.SET_UP): _P.ARMING,
    (_P.SETTING_UP, _H.PLAN_DONE): _P.DISARMING,
    (_P.ARMING, _H.ARMED_FOR_SPEED): _P.SHOWING,
    (_P.ARMING, _H.ARMED): _P.READY,
    (_P.SHOWING, _A.CLEAR): _P.WATCHING,
    (_P.ARMING, _H.ARMED_TO_JUDGE): _P.JUDGING,
    (_P.WATCHING, _H.SHOWN): _P.JUDGING,
    (_P.JUDGING, _A.SEEN): _P.READY,
    (_P.JUDGING, _A.WRONG): _P.STOPPED,
    (_P.READY, _A.GO_ON): _P.REGROUPING,
    (_P.REGROUPING, _H.REGROUPED): _P.RUNNING,
    (_P.REGROUPING, _A.HOLD): _P.HELD,
    (_P.RUNNING, _A.HOLD): _P.HELD,
    (_P.RUNNING, _A.SEND_ONE): _P.RUNNING,
    (_P.RUNNING, _H.BALL_MISSED): _P.REGROUPING,
    (_P.RUNNING, _H.GROUP_CHANGED): _P.REGROUPING,
    (_P.RUNNING, _H.TOO_MANY_MISSED): _P.HELD,
    (_P.WATCHING, _H.TOO_MANY_MISSED): _P.STOPPED,
    (_P.HELD, _A.GO_ON): _P.REGROUPING,
    (_P.RUNNING, _H.SPEED_BALL_NEXT): _P.SHOWING,
    (_P.RUNNING, _H.COLLECT_NEXT): _P.MAKING_SAFE,
    (_P.MAKING_SAFE, _H.MADE_SAFE): _P.COLLECTING,
    (_P.COLLECTING, _A.COLLECTED): _P.SETTING_UP,
    (_P.RUNNING, _H.PLAN_DONE): _P.DISARMING,
    (_P.DISARMING, _H.DISARMED): _P.FINISHED,
    (_P.ASKING, _A.ANSWER): _P.ASKING,
    (_P.ASKING, _H.ANSWERED): _P.STOPPED,
    (_P.STOPPED, _A.SET_UP_AGAIN): _P.SETTING_UP,
}


#: What leads to the head of an exercise, over a collect.
TO_EXERCISES = (Act.SKIP_EXERCISE, Act.EXERCISE_AGAIN, Act.TO_EXERCISE)


def _table() -> dict[tuple[Phase, Cause], Phase]:
    p, a, h = Phase, Act, Happening
    table = dict(_WAY)
    for phase in (p.READY, p.RUNNING, p.HELD):
        for act in (a.NEXT, a.AGAIN, a.SKIP, *TO_EXERCISES):
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
        table[phase, a.END_AT_HOUR] = table[phase, a.PLAY_ON] = phase
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
    may = ", ".join(sorted(allowed(phase))) or _("nothing: the lesson has ended")
    return NOT_NOW.report(
        _("{act!r} does not belong to the phase {phase!r}", act=cause.value, phase=phase.value),
        help=_("now may come: {acts}", acts=may),
    )
