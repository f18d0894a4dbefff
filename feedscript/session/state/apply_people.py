"""What people do to the state: who is here, what a ball became, the pace, what is called."""

from __future__ import annotations

import math

from msgspec.structs import replace

from feedscript.diagnostics import Diagnostic
from feedscript.journal.stored import LANDING_MOST_M
from feedscript.plan.model import Plan, Result
from feedscript.session.group.records import Record
from feedscript.session.operator.commands import SeenBy
from feedscript.session.operator.phases import ENDED, Act, allowed
from feedscript.session.operator.view import Call
from feedscript.session.state import events as e
from feedscript.session.state.impossible import impossible
from feedscript.session.state.run_state import RunState
from feedscript.session.state.shots import target_of

#: Calls that can still be seen.
CALLS_KEPT = 8


def group_changed(_plan: Plan, state: RunState, event: e.GroupChanged) -> RunState:
    if state.phase in ENDED:
        raise impossible("the group changes after the lesson has ended")
    roster = state.roster.change(event.wish)
    if isinstance(roster, Diagnostic):
        raise impossible(f"the group changed as it could not: {roster.message}")
    return replace(state, roster=roster)


def result_recorded(plan: Plan, state: RunState, event: e.ResultRecorded) -> RunState:
    """A ball has one result: the latest tap stands."""
    ball = state.left.get(event.feed_id)
    if ball is None:
        raise impossible(f"a result is of ball {event.feed_id}, which has not left")
    if event.result is Result.TARGET and target_of(plan, ball) is None:
        raise impossible(f"ball {event.feed_id} is in a target, and there was none")
    others = {key: one for key, one in state.records.items() if key != event.feed_id}
    record = Record(ball, event.result, event.tapped_utc_s)
    return replace(state, records={**others, event.feed_id: record})


def landing_marked(_plan: Plan, state: RunState, event: e.LandingMarked) -> RunState:
    record = state.records.get(event.feed_id)
    if record is None or not math.hypot(*event.landing_m) <= LANDING_MOST_M:
        raise impossible(f"the landing {event.landing_m} is of ball {event.feed_id}")
    marked = replace(record, landing_m=event.landing_m)
    return replace(state, records={**state.records, event.feed_id: marked})


def feed_marked(_plan: Plan, state: RunState, event: e.FeedMarked) -> RunState:
    """An eye and a tape tell a place, and nothing else does."""
    told = event.seen_by in (SeenBy.EYE, SeenBy.TAPE)
    place = event.landing_m
    if event.feed_id not in state.left or told is (place is None):
        raise impossible(f"the landing {place}, by {event.seen_by}, is of ball {event.feed_id}")
    if place is not None and not math.hypot(*place) <= LANDING_MOST_M:
        raise impossible(f"the landing {place} is of ball {event.feed_id}")
    return replace(state, marks={**state.marks, event.feed_id: event})


def result_undone(_plan: Plan, state: RunState, event: e.ResultUndone) -> RunState:
    if not state.records or next(reversed(list(state.records))) != event.feed_id:
        raise impossible(f"the result of ball {event.feed_id} is undone, and is not the newest")
    left = {key: one for key, one in state.records.items() if key != event.feed_id}
    return replace(state, records=left)


def pace_changed(_plan: Plan, state: RunState, event: e.PaceChanged) -> RunState:
    if Act.SLOWER not in allowed(state.phase):
        raise impossible(f"the pace changes while the lesson is {state.phase}")
    return replace(state, pace=event.pace)


def called(_plan: Plan, state: RunState, event: e.Called) -> RunState:
    if state.phase in ENDED:
        raise impossible("something is called after the lesson has ended")
    number = state.calls_made + 1
    call = Call(number=number, text=event.text, utc_s=event.utc_s, language=event.language)
    return replace(state, calls_made=number, calls=(*state.calls, call)[-CALLS_KEPT:])
