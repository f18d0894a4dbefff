"""The lesson's place in its plan: answering actions, and finding the place again."""

from __future__ import annotations

from collections.abc import Collection
from functools import partial

from feedscript.plan.interpreter.actions import OnTurn, Reply, Speak, StepMove, TakeTurn
from feedscript.session.engine.live_run import Due, LiveRun
from feedscript.session.state.events import (
    AheadForgotten,
    Decided,
    Spoken,
    StationsEnded,
    Stepped,
    TurnBegan,
    TurnGiven,
)
from feedscript.session.state.plan_cursor import stand_at
from feedscript.session.state.run_state import Place


def decide(lesson: LiveRun, key: str, reply: Reply) -> None:
    """Answer a lane's action and go to the next; an answer that says something is an event."""
    number, action = lesson.course.number(key), lesson.course.action(key)
    if isinstance(reply, OnTurn):
        assert isinstance(action, TakeTurn)
        names = lesson.stations()
        lesson.log(
            TurnGiven(
                lane=key,
                number=number,
                player=reply.player,
                left_handed=reply.left_handed,
                station=names.index(action.station) if action.station in names else 0,
                slot=action.slot,
                own=action.players is not None,
            )
        )
    elif reply is not None:
        lesson.log(Decided(lane=key, number=number, reply=reply))
    lesson.course.reply(key, reply)


def find_place(lesson: LiveRun) -> None:
    """Stand where the balls that left and the answers lead; forget what was only ahead."""
    decisions = lesson.state.decisions
    lesson.course = stand_at(lesson.plan, decisions, lesson.state.done, lesson.state.first_stands)
    ahead = tuple(place for place in decisions if place not in lesson.course.decisions)
    if ahead:
        lesson.log(AheadForgotten(places=ahead))
    lesson.due = [due for due in lesson.due if lesson.course.has_passed(due.place)]


# -- what is done at moments of the plan ----------------------------------------------------------


def when_due(lesson: LiveRun, due: Due) -> None:
    """Do something at a moment of the plan, also if put off; or at one of the lesson."""
    lesson.due.append(due)
    lesson.touch()


def due_s(lesson: LiveRun, due: Due) -> float:
    """The moment of the lesson at which it is due."""
    return lesson.timeline.at(due.plan_s) if due.lesson_s is None else due.lesson_s


def speak(lesson: LiveRun, place: Place, action: Speak) -> None:
    """A call of the plan is due: it is made, and not made again. Whose work it is are named."""
    lesson.log(Spoken(lane=place[0], number=place[1]))
    whose = ", ".join(lesson.roster.here_of(action.players))
    at = f"{whose} at {action.station}: " if whose else ""
    lesson.call(at + action.text)


def step_taken(lesson: LiveRun, place: Place, action: StepMove) -> None:
    """A player goes up or down in a progression: it is said, and on its last step only once."""
    progression = lesson.plan.progressions[action.progression]
    name = lesson.roster.name(action.player)
    feed = progression.rungs[action.after]
    said = (progression.name, name) in lesson.at_the_end
    lesson.log(
        Stepped(
            lane=place[0],
            number=place[1],
            player=name,
            progression=progression.name,
            rung=action.after,
            feed=feed,
        )
    )
    whose = f"{name}: " if name is not None else ""
    if action.before != action.after:
        lesson.at_the_end.discard((progression.name, name))
        lesson.call(f"{whose}{'up' if action.after > action.before else 'down'} to {feed}")
    elif not said:
        lesson.at_the_end.add((progression.name, name))
        end = "last" if action.after else "first"
        lesson.call(f"{whose}stays at {feed}, the {end} step of {progression.name}")


def turn_begins(lesson: LiveRun, place: Place, station: str, player: int | None) -> None:
    """A turn begins on court: who is on now."""
    name = lesson.roster.name(player)
    lesson.log(TurnBegan(lane=place[0], number=place[1], station=station, player=name))
    if name is not None:
        lesson.call(f"{name} to {station}" if station else f"{name} is on")


def stations_end(lesson: LiveRun) -> None:
    lesson.log(StationsEnded())


def call_again(lesson: LiveRun) -> None:
    """In a lesson that is taken up again: what was still to be called when it was broken off is due
    again, and who is on is known, though the host died before their turn was called."""
    begun, lanes = lesson.roster.begun, lesson.course.lanes
    if any(station and not _runs(station, lanes) for station in lesson.roster.on):
        stations_end(lesson)
    for place, action in lesson.course.announced:
        past = place[0] not in lanes or _ball_after(lesson, place)
        if isinstance(action, StepMove):
            if place not in lesson.state.decisions:
                step_taken(lesson, place, action)
        elif isinstance(action, Speak):
            if place not in lesson.state.decisions and not past:
                when_due(lesson, Due(action.at_s, place, partial(speak, lesson, place, action)))
        elif place not in begun:
            _begin_again(lesson, place, action, past=past)


def _begin_again(lesson: LiveRun, place: Place, action: TakeTurn, *, past: bool) -> None:
    player = getattr(lesson.state.decisions.get(place), "player", None)
    if not past:
        begins = partial(turn_begins, lesson, place, action.station, player)
        when_due(lesson, Due(action.called_s, place, begins))
        return
    name = lesson.roster.name(player) if place[0] in lesson.course.lanes else None
    lane, number = place
    lesson.log(TurnBegan(lane=lane, number=number, station=action.station, player=name))


def _runs(station: str, lanes: Collection[str]) -> bool:
    return any(key.partition("/")[2] == station for key in lanes)


def _ball_after(lesson: LiveRun, place: Place) -> bool:
    """Whether a ball after this place has left: it was said then."""
    last = lesson.state.last_place.get(place[0])
    return last is not None and last[1] > place[1]
