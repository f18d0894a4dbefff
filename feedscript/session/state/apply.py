"""The one function that changes a lesson's state: its state after an event.

Pure: no clock, no launcher, no file. A lesson on court, a rehearsal and a lesson that is read back
from its journal all go through it, event by event. Every kind of event stands in the table below;
each is a change, or nothing (a command that was refused and what is kept for the record), or
impossible where the lesson stands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import reduce
from typing import Any

from msgspec.structs import replace

from feedscript.plan.interpreter.actions import Jump, ToStep
from feedscript.plan.model import Plan
from feedscript.session.operator.phases import (
    ENDED,
    NOT_CHOSEN,
    POWERED,
    TO_EXERCISES,
    TRANSITIONS,
    Act,
    Cause,
    Happening,
    Phase,
)
from feedscript.session.state import events as e
from feedscript.session.state.apply_balls import ball_settled, feed_requested
from feedscript.session.state.apply_people import (
    called,
    feed_marked,
    group_changed,
    landing_marked,
    pace_changed,
    result_recorded,
    result_undone,
)
from feedscript.session.state.apply_place import (
    ahead_forgotten,
    ball_asked,
    break_began,
    decided,
    exercise_began,
    exercise_ended,
    jumped,
    speed_seen,
    spoken,
    stations_ended,
    turn_began,
    turn_given,
)
from feedscript.session.state.apply_rungs import stepped, stood_on
from feedscript.session.state.exercises import steps_of_exercises
from feedscript.session.state.impossible import impossible
from feedscript.session.state.run_state import AFTER_PAUSE, RunState, first_set_up

_JUMPS = {Act.NEXT: Jump.NEXT, Act.AGAIN: Jump.AGAIN, Act.SKIP: Jump.SKIP}


def apply(plan: Plan, state: RunState, event: e.Event) -> RunState:
    """The state after this event. Raises ImpossibleEventError for one that cannot come here."""
    return APPLY[type(event)](plan, state, event)


def replay(plan: Plan, state: RunState, happened: Iterable[e.Event]) -> RunState:
    """The state after all of these. Raises ImpossibleEventError."""
    return reduce(lambda before, event: apply(plan, before, event), happened, state)


# -- phases ---------------------------------------------------------------------------------------


def _commanded(plan: Plan, state: RunState, event: e.Commanded) -> RunState:
    """A command that the table does not hold is refused, and kept for the record."""
    after = TRANSITIONS.get((state.phase, event.act), state.phase)
    if after is not event.phase:
        raise impossible(f"{event.act} leads from {state.phase} to {after}, not to {event.phase}")
    if (state.phase, event.act) not in TRANSITIONS:
        return state
    if event.act in (Act.END_AT_HOUR, Act.PLAY_ON):
        return replace(state, ends_at_hour=event.act is Act.END_AT_HOUR)
    if event.act is Act.WRONG:
        state = replace(state, done=_not_shown(state))
    jump = _jump(plan, event)
    if jump is not None:
        state = replace(state, jumps=(*state.jumps, jump))
    return _moved(state, event.act, event)


def _not_shown(state: RunState) -> dict[int, int]:
    """What was not as stated showed nothing: whatever is changed at the launcher now, a ball is
    watched again before anybody plays."""
    ball = next((one for one in reversed(list(state.left.values())) if one.shown), None)
    return dict(state.done) if ball is None else {**state.done, ball.launcher: ball.ball_no - 1}


def _jump(plan: Plan, event: e.Commanded) -> Jump | Act | ToStep | None:
    """The way out of the written order that was commanded."""
    if event.act is not Act.TO_EXERCISE:
        return event.act if event.act in TO_EXERCISES else _JUMPS.get(event.act)
    steps = steps_of_exercises(plan)
    if event.exercise is None:
        return None
    if not 1 <= event.exercise <= len(steps):
        raise impossible(f"exercise {event.exercise} of {len(steps)} is gone to")
    return ToStep(steps[event.exercise - 1])


def _happened(_plan: Plan, state: RunState, event: e.Happened) -> RunState:
    after = TRANSITIONS.get((state.phase, event.happening))
    if after is not event.phase:
        raise impossible(f"{event.happening} does not lead from {state.phase} to {event.phase}")
    if event.happening is Happening.TOO_MANY_MISSED:
        state = replace(state, misses=0)
    return _moved(state, event.happening, event)


def _moved(state: RunState, cause: Cause, event: e.Commanded | e.Happened) -> RunState:
    """Into the phase that the table gives, with what belongs to entering and leaving it."""
    before, after = state.phase, event.phase
    state = replace(state, phase=after, cause=_cause(state, cause, event))
    if after is before:
        return state
    if before is Phase.RUNNING:
        state = replace(state, reached_s=event.reached_s, asked=None)
    if after is Phase.RUNNING:
        return replace(state, balls_in_stretch=0)
    if after in (Phase.COLLECTING, Phase.STOPPED):
        return replace(state, confirmed=frozenset(), set_up=AFTER_PAUSE)
    return replace(state, went_on=True) if cause is Act.GO_ON else state


def _cause(state: RunState, cause: Cause, event: e.Commanded | e.Happened) -> str:
    """What a person already chose to stop is not blamed on what comes of it."""
    if event.phase is Phase.RUNNING:
        return ""
    if event.phase in ENDED or (state.phase in POWERED and not state.cause):
        words = NOT_CHOSEN.get(cause) if isinstance(cause, Happening) else None
        if words is not None and isinstance(event, e.Happened):
            return event.why or words
    return state.cause


def _cause_found(_plan: Plan, state: RunState, event: e.CauseFound) -> RunState:
    if state.ending is not None:
        raise impossible("a cause is found after the lesson has ended")
    return replace(state, cause=event.why)


def _confirmed(_plan: Plan, state: RunState, event: e.Confirmed) -> RunState:
    if state.phase is not Phase.SETTING_UP or event.key not in {i.key for i in state.set_up}:
        raise impossible(f"step {event.key!r} of the set-up is confirmed while {state.phase}")
    return replace(state, confirmed=state.confirmed | {event.key})


def _resumed(plan: Plan, state: RunState, _event: e.Resumed) -> RunState:
    """What a person did at the old host's launchers counts no more; what left stays left."""
    if state.phase is Phase.FINISHED:
        raise impossible("a finished lesson goes on")
    return replace(
        state,
        phase=Phase.CONNECTING,
        set_up=first_set_up(plan),
        confirmed=frozenset(),
        asked=None,
        cause="",
        ending=None,
        unknown=frozenset(),  # the launchers are asked again
        misses=0,
        balls_in_stretch=0,
        went_on=True,
        pace=1.0,  # the one that is surely certified
        calls=(),
    )


def _ended(_plan: Plan, state: RunState, event: e.Ended) -> RunState:
    if state.ending is not None or event.phase is not state.phase:
        raise impossible(f"a lesson that is {state.phase} ends as {event.phase}")
    return replace(state, ending=event.phase, cause=event.cause)


def _for_the_record(_plan: Plan, state: RunState, _event: e.Event) -> RunState:
    return state


Apply = Callable[[Plan, RunState, Any], RunState]

#: Every kind of event, and what it does.
APPLY: dict[type[e.Event], Apply] = {
    e.Commanded: _commanded,
    e.Happened: _happened,
    e.CauseFound: _cause_found,
    e.Confirmed: _confirmed,
    e.Resumed: _resumed,
    e.Ended: _ended,
    e.Decided: decided,
    e.TurnGiven: turn_given,
    e.SpeedSeen: speed_seen,
    e.Jumped: jumped,
    e.AheadForgotten: ahead_forgotten,
    e.BallAsked: ball_asked,
    e.BreakBegan: break_began,
    e.Spoken: spoken,
    e.TurnBegan: turn_began,
    e.StoodOn: stood_on,
    e.Stepped: stepped,
    e.StationsEnded: stations_ended,
    e.ExerciseBegan: exercise_began,
    e.ExerciseEnded: exercise_ended,
    e.FeedRequested: feed_requested,
    e.BallSettled: ball_settled,
    e.GroupChanged: group_changed,
    e.ResultRecorded: result_recorded,
    e.LandingMarked: landing_marked,
    e.FeedMarked: feed_marked,
    e.ResultUndone: result_undone,
    e.PaceChanged: pace_changed,
    e.Called: called,
    e.TroubleMet: _for_the_record,
    e.LauncherReported: _for_the_record,
    e.HostSlept: _for_the_record,
    e.GroupRefused: _for_the_record,
    e.TapDropped: _for_the_record,
    e.TonePlayed: _for_the_record,
}
