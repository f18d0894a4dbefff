"""Any event, drawn so that it is often one that may come: in its numbers, and in its phase."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from feedscript.launcher.port import Outcome
from feedscript.plan.interpreter.actions import Jump
from feedscript.plan.model import Exercise, Progression, Repeat, Result, ShowSpeed
from feedscript.plan.scene import Player
from feedscript.session.operator.commands import RosterChange, SeenBy
from feedscript.session.operator.phases import TRANSITIONS, Act, Happening, Phase
from feedscript.session.state import events as e
from feedscript.session.state.run_state import RunState
from tests.plan.small_plans import send
from tests.session.rehearsing import lesson_plan

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Exercise(
        title="Depth",
        repeats=1,
        body=(Repeat(times=5, body=(send(0, 4.0), send(2, 4.0)), line=2),),
        line=2,
    ),
    Exercise(title="Short", repeats=0, body=(send(0, 4.0),), line=3),
    launchers=2,
    players=(Player(name="Ash"), Player(name="Bay")),
    progressions=(Progression(name="pace", rungs=("easy", "hard")),),
)

Draw = Callable[[st.SearchStrategy[Any]], Any]

LANES = st.sampled_from(["", "", "3/north", "3/south"])
NUMBERS = st.integers(0, 6)
UTC = st.floats(1e9, 1e9 + 1e4)


def of(*values: object) -> st.SearchStrategy[Any]:
    return st.sampled_from(values)


def _place(draw: Draw) -> dict[str, Any]:
    return {"lane": draw(LANES), "number": draw(NUMBERS)}


def _moves(state: RunState, causes: type[Act | Happening]) -> list[Act | Happening]:
    return [cause for at, cause in TRANSITIONS if at is state.phase and isinstance(cause, causes)]


def _after(draw: Draw, state: RunState, cause: Act | Happening) -> Phase:
    """The phase of the table, or now and then another."""
    true = TRANSITIONS.get((state.phase, cause), state.phase)
    return draw(st.one_of(*[st.just(true)] * 9, st.sampled_from(Phase)))


def _commanded(draw: Draw, state: RunState) -> e.Event:
    act = draw(st.sampled_from([*Act, *_moves(state, Act)]))
    return e.Commanded(act=act, by="keys", phase=_after(draw, state, act))


def _happened(draw: Draw, state: RunState) -> e.Event:
    may = _moves(state, Happening)
    happening = draw(st.sampled_from([*may * 3, *Happening]))
    return e.Happened(happening=happening, phase=_after(draw, state, happening))


def _feed(draw: Draw, state: RunState) -> e.Event:
    index = draw(st.integers(0, 4))
    right = PLAN.feeds[min(index, 3)].launcher
    return e.FeedRequested(
        feed_id=draw(of(state.next_feed_id, state.next_feed_id, 1, state.next_feed_id + 5)),
        ball_no=draw(NUMBERS),
        launcher=draw(of(right, right, right, 0)),
        feed="a",
        feed_index=index,
        player=draw(of(None, "Ash")),
        station="",
        shown=draw(st.booleans()),
        exercise=draw(of(0, 1, 1, 9)),
        play=draw(of(0, 1, 2)),
        leave_at_device_s=5.0,
        leave_utc_s=1e9,
        **_place(draw),
    )


def _settled(draw: Draw, state: RunState) -> e.Event:
    known = [*state.under_way, *state.left, 1]
    outcome = draw(st.sampled_from(Outcome))
    return e.BallSettled(
        feed_id=draw(st.sampled_from(known)),
        outcome=outcome,
        left_device_s=draw(of(None, 5.0)),
        left_utc_s=draw(UTC) if outcome is Outcome.LEFT else None,
    )


def _decided(draw: Draw, state: RunState) -> e.Decided:
    return e.Decided(reply=draw(of(True, False, Jump.NEXT, Jump.SKIP)), **_place(draw))


def _jumped(draw: Draw, state: RunState) -> e.Event:
    back = [
        e.Decided(lane=lane, number=number, reply=Jump.AGAIN_AFTER)
        for lane, number in state.last_place.values()
    ]
    decided = st.lists(st.one_of(st.builds(_decided, st.just(draw), st.just(state))), max_size=2)
    return e.Jumped(decided=tuple(draw(st.sampled_from([back, draw(decided)]))))


def _turn(draw: Draw, state: RunState) -> e.Event:
    return e.TurnGiven(
        player=draw(st.integers(0, 3)), left_handed=False, station=0, slot=draw(NUMBERS),
        **_place(draw),
    )  # fmt: skip


def _ahead(draw: Draw, state: RunState) -> e.Event:
    places = draw(st.lists(st.sampled_from([*state.decisions, ("", 3)]), max_size=3))
    return e.AheadForgotten(places=tuple(places))


def _record(draw: Draw, state: RunState) -> e.Event:
    ball, result = draw(st.sampled_from([*state.left, 1])), draw(st.sampled_from(Result))
    return e.ResultRecorded(feed_id=ball, result=result, tapped_utc_s=draw(UTC))


def _landing(draw: Draw, state: RunState) -> e.Event:
    where = draw(of((1.0, -9.0), (29.0, 29.0)))
    return e.LandingMarked(feed_id=draw(st.sampled_from([*state.records, 1])), landing_m=where)


def _feed_mark(draw: Draw, state: RunState) -> e.Event:
    return e.FeedMarked(
        feed_id=draw(st.sampled_from([*state.left, 1])),
        seen_by=draw(st.sampled_from(SeenBy)),
        landing_m=draw(of(None, (1.0, 9.0), (29.0, 29.0))),
    )


def _group(draw: Draw, state: RunState) -> e.Event:
    name, change = draw(of("Ash", "Bay", "Elm", "Fir")), draw(st.sampled_from(RosterChange))
    return e.GroupChanged(change=change, player=name, by="keys")


def _ended(draw: Draw, state: RunState) -> e.Event:
    return e.Ended(phase=draw(of(state.phase, Phase.FINISHED)), cause="")


def _began(draw: Draw, state: RunState) -> e.Event:
    return e.ExerciseBegan(exercise=draw(st.integers(0, 3)), place=draw(NUMBERS))


def _left(draw: Draw, state: RunState) -> e.Event:
    on = 1 if state.exercise is None else state.exercise.exercise
    return e.ExerciseEnded(
        exercise=draw(of(on, on, on, 2)),
        how=draw(st.sampled_from(e.HowEnded)),
        place=draw(st.none() | NUMBERS),
    )


#: How each kind is drawn, for a state.
DRAWN: dict[type[e.Event], Callable[[Draw, RunState], e.Event]] = {
    e.Commanded: _commanded,
    e.Happened: _happened,
    e.CauseFound: lambda draw, state: e.CauseFound(why="a jam"),
    e.Confirmed: lambda draw, state: e.Confirmed(
        key=draw(of("magic", *(item.key for item in state.set_up))), by="keys"
    ),
    e.Resumed: lambda draw, state: e.Resumed(balls_left=len(state.left)),
    e.Ended: _ended,
    e.Decided: _decided,
    e.TurnGiven: _turn,
    e.SpeedSeen: lambda draw, state: e.SpeedSeen(feed=draw(of(0, 2)), **_place(draw)),
    e.Jumped: _jumped,
    e.AheadForgotten: _ahead,
    e.BallAsked: lambda draw, state: e.BallAsked(by="keys", **_place(draw)),
    e.BreakBegan: lambda draw, state: e.BreakBegan(utc_s=draw(UTC), **_place(draw)),
    e.Spoken: lambda draw, state: e.Spoken(
        **_place(draw), station="shadow", players=draw(of((), ("Ash",)))
    ),
    e.TurnBegan: lambda draw, state: e.TurnBegan(
        station="", player=draw(of(None, "Ash")), **_place(draw)
    ),
    e.StoodOn: lambda draw, state: e.StoodOn(
        player=draw(of("Ash", "Bay", "Elm")), progression="pace", rung=1, feed=draw(of("hard", "x"))
    ),
    e.Stepped: lambda draw, state: e.Stepped(
        player=draw(of("Ash", None)), progression="pace", rung=0, feed="easy", **_place(draw)
    ),
    e.StationsEnded: lambda draw, state: e.StationsEnded(),
    e.ExerciseBegan: _began,
    e.ExerciseEnded: _left,
    e.FeedRequested: _feed,
    e.BallSettled: _settled,
    e.GroupChanged: _group,
    e.ResultRecorded: _record,
    e.LandingMarked: _landing,
    e.FeedMarked: _feed_mark,
    e.ResultUndone: lambda draw, state: e.ResultUndone(
        feed_id=draw(st.sampled_from([*state.records, 1]))
    ),
    e.PaceChanged: lambda draw, state: e.PaceChanged(pace=draw(of(0.8, 1.3))),
    e.Called: lambda draw, state: e.Called(text="Go.", utc_s=draw(UTC)),
    e.TroubleMet: lambda draw, state: e.TroubleMet(slug="x", message="y"),
    e.LauncherReported: lambda draw, state: e.LauncherReported(event="left"),
    e.HostSlept: lambda draw, state: e.HostSlept(seconds=2.0),
    e.GroupRefused: lambda draw, state: e.GroupRefused(slug="x", message="y", by="keys"),
    e.TapDropped: lambda draw, state: e.TapDropped(by="keys", why="y"),
    e.TonePlayed: lambda draw, state: e.TonePlayed(by="keys"),
}
