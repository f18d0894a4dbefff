"""What balls do to the state: asked for once, under a number of their own, and settled once."""

from __future__ import annotations

from msgspec.structs import replace

from feedscript.launcher.port import Outcome
from feedscript.plan.interpreter.actions import At
from feedscript.plan.model import Plan
from feedscript.session.group.records import FlownBall, Go
from feedscript.session.operator.phases import Phase
from feedscript.session.state.apply_place import see_that_it_is_free
from feedscript.session.state.events import BallSettled, FeedRequested
from feedscript.session.state.exercises import steps_of_exercises
from feedscript.session.state.impossible import impossible
from feedscript.session.state.run_state import RunState

#: Balls asked for at one launcher at most, whose outcome is open. Design value.
AHEAD = 2


def feed_requested(plan: Plan, state: RunState, event: FeedRequested) -> RunState:
    """Only while the lesson runs or a speed is shown, and while no outcome is in question."""
    who = f"ball {event.feed_id}"
    most = AHEAD if state.phase is Phase.RUNNING else 1
    beside = [ball for ball in state.under_way.values() if ball.launcher == event.launcher]
    if state.phase not in (Phase.RUNNING, Phase.WATCHING):
        raise impossible(f"{who} is asked for while the lesson is {state.phase}")
    if state.unknown:
        raise impossible(f"{who} is asked for while nobody knows what became of another")
    if event.feed_id < state.next_feed_id:
        raise impossible(f"{who} is asked for after ball {state.next_feed_id - 1}")
    if len(beside) >= most:
        raise impossible(f"{who} is asked for with {len(beside)} under way at its launcher")
    if event.feed_index >= len(plan.feeds):
        raise impossible(f"{who} is of feed {event.feed_index} of {len(plan.feeds)}")
    if plan.feeds[event.feed_index].launcher != event.launcher:
        raise impossible(f"{who} is of launcher {event.launcher}, and its feed is of another")
    if event.exercise > len(steps_of_exercises(plan)):
        raise impossible(f"{who} is of exercise {event.exercise}, and there is none")
    see_that_it_is_free(state, event.place)
    return replace(
        state,
        next_feed_id=event.feed_id + 1,
        under_way={**state.under_way, event.feed_id: event},
        went_on=False,
    )


def ball_settled(plan: Plan, state: RunState, event: BallSettled) -> RunState:
    """Once an outcome is known it stays; one that nobody knows may become known."""
    ball = state.under_way.get(event.feed_id)
    if ball is None:
        raise impossible(f"ball {event.feed_id} is {event.outcome}, and its outcome was not open")
    if event.outcome is Outcome.UNKNOWN:
        return replace(state, unknown=state.unknown | {event.feed_id})
    state = replace(
        state,
        under_way={key: one for key, one in state.under_way.items() if key != event.feed_id},
        unknown=state.unknown - {event.feed_id},
        asked=None if state.asked == ball.place else state.asked,
    )
    if event.outcome is Outcome.LEFT:
        return _left(plan, state, ball, event)
    counts = state.phase in (Phase.RUNNING, Phase.WATCHING)
    return replace(state, misses=state.misses + 1) if counts else state


def _left(plan: Plan, state: RunState, ball: FeedRequested, event: BallSettled) -> RunState:
    if event.left_utc_s is None:
        raise impossible(f"ball {ball.feed_id} left, and nobody wrote when")
    done, places = dict(state.done), dict(state.last_place)
    done[ball.launcher] = max(done.get(ball.launcher, 0), ball.ball_no)
    if not ball.shown:
        places[ball.lane] = ball.place
    flown = FlownBall(
        feed_id=ball.feed_id,
        ball_no=ball.ball_no,
        feed=ball.feed,
        player=ball.player,
        left_utc_s=event.left_utc_s,
        flight_s=plan.feeds[ball.feed_index].flight_s,
        launcher=ball.launcher,
        station=ball.station,
        feed_index=ball.feed_index,
        shown=ball.shown,
        measured=event.left_device_s is not None,
        go=Go(ball.exercise, ball.play),
    )
    decisions = state.decisions
    if ball.at_s is not None:
        decisions = {**decisions, ball.place: At(ball.at_s)}
    return replace(
        state,
        decisions=decisions,
        roster=state.roster.at_stations() if ball.station else state.roster,
        done=done,
        last_place=places,
        left={**state.left, ball.feed_id: flown},
        misses=0,
        balls_in_stretch=state.balls_in_stretch + 1,
    )
