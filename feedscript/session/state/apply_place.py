"""What answers do to the state: they are the lesson's way through its plan, and who is on."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from feedscript.plan.interpreter.actions import Jump, OnTurn, Reply
from feedscript.plan.model import Plan
from feedscript.session.operator.phases import ENDED, Phase
from feedscript.session.state import events as e
from feedscript.session.state.exercises import steps_of_exercises
from feedscript.session.state.impossible import impossible
from feedscript.session.state.lanes import MAIN, is_later
from feedscript.session.state.run_state import Place, RunState

#: Phases in which the way through the plan is found again.
_FINDS = (Phase.CONNECTING, Phase.ARMING, Phase.REGROUPING, Phase.HELD, Phase.STOPPED)


def see_that_it_is_free(state: RunState, place: Place) -> None:
    """One place holds one answer or one ball that is under way. Raises."""
    if place in state.decisions:
        raise impossible(f"action {place[1]} of lane {place[0]!r} comes, and is answered already")
    if any(ball.place == place for ball in state.under_way.values()):
        raise impossible(f"action {place[1]} of lane {place[0]!r} comes, and its ball is under way")


def _see_phase(state: RunState, what: str, *phases: Phase) -> None:
    if state.phase not in phases:
        raise impossible(f"{what} while the lesson is {state.phase}")


def _without(state: RunState, places: Iterable[Place]) -> RunState:
    """As if these had not been answered."""
    gone = set(places)
    if not gone:
        return state
    return replace(
        state,
        decisions={at: reply for at, reply in state.decisions.items() if at not in gone},
        roster=state.roster.without_turns_at(gone),
    )


def _answered(state: RunState, place: Place, reply: Reply) -> RunState:
    return replace(state, decisions={**state.decisions, place: reply})


def decided(_plan: Plan, state: RunState, event: e.Decided) -> RunState:
    """While the lesson runs, and when the balls are collected."""
    _see_phase(state, "an action is answered", Phase.RUNNING, Phase.COLLECTING)
    place = (event.lane, event.number)
    see_that_it_is_free(state, place)
    if state.asked == place:  # the time of these balls was over, or they were enough
        state = replace(state, asked=None)
    return _answered(state, place, event.answer)


def turn_given(_plan: Plan, state: RunState, event: e.TurnGiven) -> RunState:
    _see_phase(state, "a turn is given", Phase.RUNNING)
    players, place = len(state.roster.players), (event.lane, event.number)
    if event.player >= players:
        raise impossible(f"player {event.player} is on turn, and there are {players}")
    see_that_it_is_free(state, place)
    state = _answered(state, place, OnTurn(event.player, event.left_handed))
    roster = state.roster.given(place, event.player, event.station, event.slot, own=event.own)
    return replace(state, roster=roster)


def speed_seen(plan: Plan, state: RunState, event: e.SpeedSeen) -> RunState:
    """Only of a ball that left to be watched."""
    _see_phase(state, "a speed is found as stated", Phase.JUDGING)
    if not any(ball.shown and ball.feed_index == event.feed for ball in state.left.values()):
        raise impossible(f"the speed of feed {event.feed} was seen, and no ball showed it")
    feed, place = plan.feeds[event.feed], (event.lane, event.number)
    fastest_mps = max(feed.speed_mps, state.shown_mps.get(feed.launcher, 0.0))
    state = replace(state, shown_mps={**state.shown_mps, feed.launcher: fastest_mps})
    return _answered(state, place, True)


def jumped(_plan: Plan, state: RunState, event: e.Jumped) -> RunState:
    """Back from the last ball that left in a lane, or on from somewhere ahead of it."""
    _see_phase(state, "a jump is made", Phase.REGROUPING)
    if not state.jumps:
        raise impossible("a jump is made that nobody commanded")
    state = replace(state, jumps=state.jumps[1:])
    for one in event.decided:
        place = (one.lane, one.number)
        if one.reply is not Jump.AGAIN_AFTER:
            see_that_it_is_free(state, place)
        elif state.last_place.get(one.lane) != place:
            raise impossible(f"a series begins again after {place}, and no ball was the last there")
        # It overrules whatever was answered from there on.
        later = [at for at in state.decisions if at == place or is_later(at, place)]
        state = _answered(_without(state, later), place, one.answer)
    return state


def ahead_forgotten(_plan: Plan, state: RunState, event: e.AheadForgotten) -> RunState:
    _see_phase(state, "answers given ahead are forgotten", *_FINDS)
    return _without(state, event.places)


def ball_asked(_plan: Plan, state: RunState, event: e.BallAsked) -> RunState:
    """One at a time: until that ball has left, or it is known that it does not."""
    _see_phase(state, "a ball is asked for on request", Phase.RUNNING)
    if state.asked is not None:
        raise impossible("a ball is asked for while the one before it has not left")
    place = (event.lane, event.number)
    see_that_it_is_free(state, place)
    return replace(state, asked=place)


def break_began(_plan: Plan, state: RunState, event: e.BreakBegan) -> RunState:
    """It goes on over a stop and over a new host, until a person has said that all are back."""
    _see_phase(state, "a break begins", Phase.COLLECTING)
    place = (event.lane, event.number)
    see_that_it_is_free(state, place)
    return replace(state, break_began=(place, event.utc_s))


def spoken(_plan: Plan, state: RunState, event: e.Spoken) -> RunState:
    _see_phase(state, "a call of the plan is made", Phase.RUNNING)
    return replace(state, decisions={**state.decisions, (event.lane, event.number): True})


def turn_began(_plan: Plan, state: RunState, event: e.TurnBegan) -> RunState:
    _see_phase(state, "a turn begins", Phase.RUNNING, Phase.CONNECTING)
    place = (event.lane, event.number)
    return replace(state, roster=state.roster.begins(place, event.station, event.player))


def stations_ended(_plan: Plan, state: RunState, _event: e.StationsEnded) -> RunState:
    if state.phase in ENDED:
        raise impossible("stations end in a lesson that has ended")
    return replace(state, roster=state.roster.off_court())


def exercise_began(plan: Plan, state: RunState, event: e.ExerciseBegan) -> RunState:
    """At its moment, or where the way is found again and leads into it."""
    _see_phase(state, "an exercise begins", Phase.RUNNING, *_FINDS)
    most = len(steps_of_exercises(plan))
    if state.exercise is not None or not 1 <= event.exercise <= most:
        raise impossible(f"exercise {event.exercise} of {most} begins, or another is on")
    return replace(_announced(state, event.place), exercise=event)


def exercise_ended(_plan: Plan, state: RunState, event: e.ExerciseEnded) -> RunState:
    on = state.exercise
    if on is None or on.exercise != event.exercise or state.ending is not None:
        raise impossible(f"exercise {event.exercise} ends, and it is not on")
    if event.how is not e.HowEnded.EARLY:
        _see_phase(state, "an exercise is left", Phase.RUNNING, *_FINDS)
    # A person may have gone elsewhere at its very end: then that is the answer there.
    at = event.place if event.how is e.HowEnded.PLAYED else None
    if at is not None and (MAIN, at) not in state.decisions:
        state = _announced(state, at)
    return replace(state, exercise=None)


def _announced(state: RunState, number: int) -> RunState:
    """What was called at this place of the lesson's own lane is not called again."""
    place = (MAIN, number)
    if state.decisions.get(place, True) is not True:
        raise impossible(f"action {number} is called, and is answered otherwise")
    return _answered(state, place, True)
