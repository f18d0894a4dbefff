"""Where a lesson stands in its plan, and how to stand there again.

A walk over a plan is fixed by what was replied to it. A :class:`Course` keeps those replies, so
the same place can be reached again: after a crash, from the journal; after a person's jump, from
the last ball that really left, although the engine had already looked further ahead.

A lesson has one lane, the main one (``""``); while stations run side by side each has a lane of
its own and the main one waits at the fork.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeAlias

import msgspec

from feedscript.plan.interpreter.actions import (
    Action,
    Actions,
    Ask,
    BeginExercise,
    EndExercise,
    PickUp,
    Reply,
    SendBall,
    Speak,
    Stands,
    StartStations,
    StepMove,
    TakeTurn,
    ToStep,
    WatchSpeed,
)
from feedscript.plan.interpreter.interpret import interpret
from feedscript.plan.model import Plan
from feedscript.session.state.lanes import MAIN, fork_of

#: More actions than any lane has.
_TO_THE_END = 2**63

#: What was replied to the action of this number in this lane, wherever it was not nothing.
Decisions: TypeAlias = Mapping[tuple[str, int], Reply]
#: The highest ball number of each launcher that is over and done with.
Done: TypeAlias = Mapping[int, int]


class Lane(msgspec.Struct, eq=False):
    """One walk: the action it stands at (None: ended) and that action's number, from 0."""

    key: str
    actions: Actions
    action: Action | None
    number: int = 0


class ExercisePassed(msgspec.Struct, eq=False):
    """One time that an exercise was begun on the way; its places are those of the main lane."""

    number: int  # among the lesson's exercises, from 1
    step: int
    begun_at: int
    left_at: int | None = None  # None while the way is in it
    played: bool = False  # to its end


class Course(msgspec.Struct, eq=False):
    """The place of a lesson in its plan. ``decisions`` are the replies that led here."""

    plan: Plan
    decisions: dict[tuple[str, int], Reply] = {}
    lanes: dict[str, Lane] = {}
    step: int = 0  # of the lesson, the one under way
    begun: dict[int, int] = {}  # how often each step of the lesson was begun
    stands: dict[tuple[int, int], int] = {}  # where players stand until the plan moves them
    first: int | None = None  # the number of that step's first action
    began_s: float = 0.0  # and the moment of the plan at which it began
    going_to: int | None = None  # the step to which a person goes, until it begins
    turn: TakeTurn | None = None  # the last of the main lane that was given, in this step
    #: Calls, turns and steps up and down that were passed on the way here, each with its place.
    announced: list[tuple[tuple[str, int], Speak | TakeTurn | StepMove]] = []
    exercises: list[ExercisePassed] = []  # in the order in which they were begun

    @property
    def exercise(self) -> ExercisePassed | None:
        """The exercise that the way is in."""
        last = self.exercises[-1] if self.exercises else None
        return None if last is None or last.left_at is not None else last

    def begins(self, step: int) -> None:
        """The main lane comes to this step of the lesson."""
        self.step, self.turn, self.first, self.going_to = step, None, None, None
        self.begun[step] = self.begun.get(step, 0) + 1

    def action(self, key: str = MAIN) -> Action | None:
        """What the lane stands at; None when it has ended."""
        return self.lanes[key].action

    def number(self, key: str = MAIN) -> int:
        return self.lanes[key].number

    def stations(self) -> tuple[str, ...]:
        """The lanes beside the main one, in the plan's order."""
        return tuple(key for key in self.lanes if key != MAIN)

    def reply(self, key: str, reply: Reply) -> Action | None:
        """Answer the lane's action and go to the next."""
        lane = self.lanes[key]
        if reply is not None:
            self.decisions[key, lane.number] = reply
        if isinstance(lane.action, Speak | TakeTurn | StepMove):
            self.announced.append(((key, lane.number), lane.action))
        if key == MAIN:
            self._pass_exercise(lane, reply)
            self.going_to = reply.step if isinstance(reply, ToStep) else self.going_to
        if key == MAIN and isinstance(lane.action, TakeTurn):
            self.turn = lane.action
        if key == MAIN and isinstance(lane.action, StartStations):
            for station in self.stations():
                del self.lanes[station]
        try:
            lane.action = lane.actions.send(reply)
        except StopIteration:
            lane.action = None
        lane.number += 1
        if key == MAIN:
            self.note_first(lane)
        self._open_stations(lane)
        return lane.action

    def _pass_exercise(self, lane: Lane, reply: Reply) -> None:
        action, on = lane.action, self.exercise
        if isinstance(action, BeginExercise):
            self.exercises.append(ExercisePassed(action.number, self.step, lane.number))
        if on is not None and isinstance(action, EndExercise):
            on.left_at, on.played = lane.number, True
        elif self.exercise is not None and isinstance(reply, ToStep):
            self.exercise.left_at = lane.number

    def note_first(self, lane: Lane) -> None:
        """Remember where the step under way began."""
        if self.first is None and lane.action is not None:
            self.first, self.began_s = lane.number, begins_s(lane.action)

    def has_passed(self, place: tuple[str, int]) -> bool:
        """Whether the course stands beyond this place."""
        key, number = place
        if key in self.lanes:
            return number < self.lanes[key].number
        fork = fork_of(key)
        return fork is not None and fork < self.lanes[MAIN].number

    def _open_stations(self, lane: Lane) -> None:
        if not isinstance(lane.action, StartStations):
            return
        for station in lane.action.stations:
            key = f"{lane.number}/{station.name}"
            self.lanes[key] = Lane(key, station.actions, next(station.actions, None))


def begin(plan: Plan, stands: Stands | None = None) -> Course:
    """At the first action of the plan, with players on these rungs of its progressions."""
    course = Course(plan, stands=dict(stands or {}))
    steps = interpret(plan, at_step=course.begins, stands=course.stands)
    course.lanes[MAIN] = lane = Lane(MAIN, steps, next(steps, None))
    course.note_first(lane)
    course._open_stations(lane)
    return course


def begins_s(action: Action) -> float:
    """The moment of the plan from which an action counts: a ball's gap belongs to it."""
    return action.at_s - action.after_s if isinstance(action, SendBall) else action.at_s


def stand_at(plan: Plan, decisions: Decisions, done: Done, stands: Stands | None = None) -> Course:
    """The course as far as these decisions and these balls lead.

    Each lane stands after its last action that is surely over: a ball that is ``done``, or
    anything that was decided. Calls and rests after it come (again).
    """
    limits: dict[str, int] = {}
    _follow(begin(plan, stands), MAIN, decisions, done, limits, find=True)
    course = begin(plan, stands)
    _follow(course, MAIN, decisions, done, limits, find=False)
    return course


def _follow(
    course: Course,
    key: str,
    decisions: Decisions,
    done: Done,
    limits: dict[str, int],
    *,
    find: bool,
) -> bool:
    """Go on along one lane while its actions are over; whether it came to its end.

    With ``find`` the numbers after the last sure actions are put into ``limits``, else they are
    kept to.
    """
    limits.setdefault(key, 0)
    while (action := course.action(key)) is not None:
        number = course.number(key)
        decision = decisions.get((key, number))
        if not find and number >= limits[key] and not isinstance(action, StartStations):
            return False
        left = isinstance(decision, ToStep)  # with what was done there until then
        if isinstance(action, StartStations) and (decision is None or left):
            if not find and number < limits[key]:  # something after the fork is over: so is it
                limits.update(dict.fromkeys(course.stations(), _TO_THE_END))
            ended = [
                _follow(course, station, decisions, done, limits, find=find)
                for station in course.stations()
            ]
            if find and any(limits[station] for station in course.stations()):
                limits[key] = number
            if not left and (not all(ended) or (not find and number >= limits[key])):
                return False
        elif decision is None and not is_over(action, done):
            return False
        if find and (decision is not None or isinstance(action, SendBall)):
            limits[key] = number + 1
        course.reply(key, decision)
    return True


def is_over(action: Action, done: Done) -> bool:
    """Whether an action that was not decided may be passed if something after it is over."""
    if isinstance(action, SendBall):
        return action.ball <= done.get(action.launcher, 0)
    return not isinstance(action, Ask | TakeTurn | WatchSpeed | PickUp)


def next_ball(course: Course, key: str, reply: Reply, done: Done) -> tuple[bool, SendBall | None]:
    """Whether somebody's turn begins next in this lane, if its action were answered so, and the
    ball that comes next.

    The course itself is not touched. None when no ball follows before another question, a
    watched ball, a collect, a fork or the end.
    """
    decisions = {**course.decisions, (key, course.number(key)): reply}
    other = stand_at(course.plan, decisions, done, course.stands)
    turn = False
    if key not in other.lanes:
        return turn, None
    for action in _ahead(other, key):
        if isinstance(action, SendBall):
            return turn, action
        if isinstance(action, TakeTurn):
            turn = True
        elif isinstance(action, Ask | WatchSpeed | PickUp | StartStations):
            break
    return turn, None


def _ahead(course: Course, key: str) -> Iterator[Action]:
    action = course.action(key)
    while action is not None:
        yield action
        action = course.reply(key, None)


def coming(course: Course, done: Done, wanted: Callable[[Action], bool]) -> Action | None:
    """The first action ahead in the main lane that is ``wanted``, as far as can be seen."""
    other = stand_at(course.plan, course.decisions, done, course.stands)
    return next((action for action in _ahead(other, MAIN) if wanted(action)), None)
