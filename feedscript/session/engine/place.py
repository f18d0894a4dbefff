"""The lesson's place in its plan: answering actions, and finding the place again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import partial

from feedscript.plan.interpreter.actions import (
    At,
    BeginExercise,
    EndExercise,
    OnTurn,
    Reply,
    Speak,
    StepMove,
    TakeTurn,
)
from feedscript.session.engine.by_hand.hour_end import ends_before
from feedscript.session.engine.live_run import Due, LiveRun
from feedscript.session.state.events import (
    AheadForgotten,
    Decided,
    ExerciseBegan,
    ExerciseEnded,
    HowEnded,
    Spoken,
    StationsEnded,
    Stepped,
    TurnBegan,
    TurnGiven,
)
from feedscript.session.state.exercises import steps_of_exercises
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.plan_cursor import stand_at
from feedscript.session.state.run_state import Place
from feedscript.tongues.text import _


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
    elif isinstance(reply, At):
        if reply.then is not None:  # of a ball that is asked for its own event says when it leaves
            lesson.log(Decided(lane=key, number=number, reply=reply.then, at_s=reply.at_s))
    elif reply is not None:
        lesson.log(Decided(lane=key, number=number, reply=reply))
    lesson.course.reply(key, reply)


def find_place(lesson: LiveRun, left: HowEnded = HowEnded.EARLY) -> None:
    """Stand where the balls that left and the answers lead; forget what was only ahead.

    ``left`` is how an exercise ended that this leads out of before its end.
    """
    decisions, stations = lesson.state.decisions, _stations_with_people(lesson)
    lesson.course = stand_at(lesson.plan, decisions, lesson.state.done, lesson.state.first_stands)
    ahead = tuple(place for place in decisions if place not in lesson.course.decisions)
    if ahead:
        lesson.log(AheadForgotten(places=ahead))
    lesson.due = [due for due in lesson.due if lesson.course.has_passed(due.place)]
    if stations - {one.name for one in lesson.stations_on_court()}:
        stations_end(lesson)
    _be_in_the_exercise_found(lesson, left)


def _stations_with_people(lesson: LiveRun) -> set[str]:
    """By the way through the plan, and by who was called there."""
    runs = lesson.stations_on_court()
    return {one.name for one in runs} | {name for name in lesson.roster.on if name}


def _be_in_the_exercise_found(lesson: LiveRun, left: HowEnded) -> None:
    """A jump, or a host that died, may have led out of an exercise or into one unannounced."""
    found, on = lesson.course.exercise, lesson.state.exercise
    if (on and on.place) == (found and found.begun_at):
        return
    if on is not None:
        passed = next((one for one in lesson.course.exercises if one.begun_at == on.place), None)
        how = HowEnded.PLAYED if passed is not None and passed.played else left
        place = None if passed is None else passed.left_at
        lesson.log(ExerciseEnded(exercise=on.exercise, how=how, place=place))
    if found is not None:
        lesson.log(ExerciseBegan(exercise=found.number, place=found.begun_at))


def begin_exercise_here(lesson: LiveRun) -> None:
    """Where the lesson goes on at the head of an exercise, that is on from then; not one that the
    end of the hour leaves out."""
    action = lesson.course.action()
    if isinstance(action, BeginExercise) and not ends_before(lesson, MAIN, action):
        lesson.log(ExerciseBegan(exercise=action.number, place=lesson.course.number()))


def exercise_here(lesson: LiveRun) -> int | None:
    """The step of the exercise that is on, or that begins when the lesson goes on."""
    action, on = lesson.course.action(), lesson.state.exercise
    steps = steps_of_exercises(lesson.plan)
    if on is not None:
        return steps[on.exercise - 1]
    return steps[action.number - 1] if isinstance(action, BeginExercise) else None


def begun_so_far(lesson: LiveRun) -> Mapping[int, int]:
    """How often each step was begun, without exercises that only the way ahead has begun."""
    course, known = lesson.course, lesson.state.decisions
    ahead = Counter(one.step for one in course.exercises if (MAIN, one.begun_at) not in known)
    return Counter(course.begun) - ahead


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
    players = lesson.roster.here_of(action.players)
    station = action.station if players else ""
    lesson.log(Spoken(lane=place[0], number=place[1], station=station, players=players))
    whose = ", ".join(players)
    if whose:
        parts = {"players": whose, "station": action.station, "words": action.text}
        lesson.call_to(players, _("{players} at {station}: {words}", **parts))
    else:
        lesson.call(action.text)


def step_taken(lesson: LiveRun, place: Place, action: StepMove) -> None:
    """A player goes up or down in a progression. That somebody goes up is said to everyone, and
    once that somebody stays on the last; that one goes down, the coach alone can see."""
    progression = lesson.plan.progressions[action.progression]
    name, feed = lesson.roster.name(action.player), progression.rungs[action.after]
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
    who = (progression.name, name)
    if action.after > action.before:
        lesson.call_to([name], _up_to(name, feed))
    elif action.after and action.after == action.before and who not in lesson.at_the_end:
        lesson.at_the_end.add(who)
        lesson.call_to([name], _stays_at(name, feed, progression.name))


def _up_to(player: str | None, feed: str) -> str:
    if player is None:
        return _("up to {feed}", feed=feed)
    return _("{player}: up to {feed}", player=player, feed=feed)


def _stays_at(player: str | None, feed: str, progression: str) -> str:
    parts = {"feed": feed, "progression": progression}
    if player is None:
        return _("stays at {feed}, the last step of {progression}", **parts)
    return _("{player}: stays at {feed}, the last step of {progression}", player=player, **parts)


def turn_begins(lesson: LiveRun, place: Place, station: str, player: int | None) -> None:
    """A turn begins on court: who is on now."""
    name = lesson.roster.name(player)
    lesson.log(TurnBegan(lane=place[0], number=place[1], station=station, player=name))
    if name is not None:
        words = (
            _("{player} to {station}", player=name, station=station)
            if station
            else _("{player} is on", player=name)
        )
        lesson.call_to([name], words)


def exercise_begins(lesson: LiveRun, place: Place, action: BeginExercise) -> None:
    """It is called by its title; that it is on may be known already."""
    if place not in lesson.state.decisions:
        lesson.log(ExerciseBegan(exercise=action.number, place=place[1]))
    lesson.call(action.title)


def exercise_ends(lesson: LiveRun, place: Place, action: EndExercise) -> None:
    on = lesson.state.exercise
    if place not in lesson.state.decisions and on is not None and on.exercise == action.number:
        played = HowEnded.PLAYED
        lesson.log(ExerciseEnded(exercise=action.number, how=played, place=place[1]))


def stations_end(lesson: LiveRun) -> None:
    lesson.log(StationsEnded())


def call_again(lesson: LiveRun) -> None:
    """In a lesson that is taken up again: what was still to be called when it was broken off is due
    again, and who is on is known, though the host died before their turn was called."""
    begun, lanes = lesson.roster.begun, lesson.course.lanes
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


def _ball_after(lesson: LiveRun, place: Place) -> bool:
    """Whether a ball after this place has left: it was said then."""
    last = lesson.state.last_place.get(place[0])
    return last is not None and last[1] > place[1]
