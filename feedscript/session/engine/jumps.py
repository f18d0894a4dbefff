"""A person's jumps out of the written order, made where the lesson really stands.

"Next" and "skip" mean what comes next; "again" means the series of the last ball that left, also
when that was its last. What was decided further ahead is overruled. A ball to be watched and a
collect are never jumped over.
"""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.interpreter.actions import (
    Ask,
    At,
    BeginExercise,
    EndExercise,
    Jump,
    PickUp,
    SendBall,
    ToStep,
    WatchSpeed,
)
from feedscript.plan.model import Exercise
from feedscript.session.engine.by_hand.in_time import is_in_time, reached_by
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import exercise_here, find_place
from feedscript.session.operator.phases import Act
from feedscript.session.state.events import Decided, HowEnded, Jumped
from feedscript.session.state.exercises import led_to
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.run_state import Place
from feedscript.tongues.text import _

NOT_JUMPED = Page(
    slug="not-jumped",
    title="A jump that would pass over something a person must do",
    why=(
        "The first ball of each speed is watched and collecting is done behind a safe launcher; "
        "the checker relies on both. A skip or a jump to the next series stops before them."
    ),
)


NO_WAY = Page(
    slug="no-repeat-left",
    title="An exercise that cannot be gone to",
    why=(
        "The check counts the balls of each exercise as often as it may be done: once, and its "
        "repeats. Done more often somebody could get more balls than was checked. Write `at most 2 "
        "repeats` into the program for more."
    ),
)


KEPT_IN_STEP = Page(
    slug="kept-in-step",
    title="A jump at stations of players who are kept apart",
    why=(
        "Players who are kept apart never play at the same moment. That is so because turns at all "
        "stations change together; a series left early or begun again at them could bring the two "
        "together, so it is not done. A ball can be skipped, a player can sit out, and the lesson "
        "can go to another exercise."
    ),
)


def make_jumps(lesson: LiveRun) -> None:
    """Make the jumps that were commanded since the lesson last ran, in their order."""
    while lesson.state.jumps:
        jump = lesson.state.jumps[0]
        if _parts_players(lesson, jump):
            lesson.trouble(_together_here())
            decided = []
        elif not isinstance(jump, Jump):
            decided = list(_to_exercise(lesson, jump))
        elif jump is Jump.AGAIN and lesson.state.last_place:
            decided = [_again_after(lesson, place) for place in _last_balls(lesson)]
        else:
            keys = _keys(lesson, jump)
            decided = [one for key in keys for one in _from_here(lesson, key, jump)]
        lesson.log(Jumped(decided=tuple(decided)))
        find_place(lesson, _how_left(lesson, jump))


def _from_here(lesson: LiveRun, key: str, jump: Jump) -> Iterator[Decided]:
    """Leave the written order at the lane's present action."""
    while isinstance(action := lesson.course.action(key), BeginExercise | EndExercise):
        lesson.course.reply(key, None)
    if action is None:
        return
    if isinstance(action, WatchSpeed | PickUp) and jump is not Jump.AGAIN:
        lesson.trouble(
            NOT_JUMPED.report(
                _("the lesson stands at line {line}, which is not passed over", line=action.line),
                help=_("go on; it comes first"),
            )
        )
        return
    reply = False if jump is Jump.SKIP and isinstance(action, Ask) else jump
    at_s = None
    if jump is Jump.NEXT and isinstance(action, SendBall) and is_in_time(action):
        at_s = reached_by(action, lesson.state.reached_s)
    yield Decided(lane=key, number=lesson.course.number(key), reply=reply, at_s=at_s)


def _parts_players(lesson: LiveRun, jump: Jump | Act | ToStep) -> bool:
    """Whether it would bring turns at stations out of step where players are kept apart. To say
    enough of balls on request, and to leave out a ball, do not."""
    if jump not in (Jump.NEXT, Jump.AGAIN) or not lesson.plan.group.keep_apart:
        return False
    enough = jump is Jump.NEXT and lesson.on_request() is not None
    return bool(lesson.course.stations()) and not enough


def _together_here() -> Diagnostic:
    return KEPT_IN_STEP.report(
        _("players of this group are kept apart, so turns at these stations change together"),
        help=_("skip a ball, or go to another exercise"),
    )


def _keys(lesson: LiveRun, jump: Jump) -> tuple[str, ...]:
    """The lanes that a jump is made in: enough is said of the balls on request alone."""
    asking = lesson.on_request()
    if jump is Jump.NEXT and asking is not None:
        return (asking[0],)
    return lesson.course.stations() or (MAIN,)


def _to_exercise(lesson: LiveRun, wish: Act | ToStep) -> Iterator[Decided]:
    """Out of every station, and from the lesson's own lane, to the step where it goes on."""
    course, plan = lesson.course, lesson.plan
    here = course.step if isinstance(plan.steps[course.step], Exercise) else None
    step = led_to(plan, here, course.begun, wish)
    if isinstance(step, str):
        lesson.trouble(no_way(step))
        return
    for key in (*lesson.course.stations(), MAIN):
        if lesson.course.action(key) is not None:
            number = lesson.course.number(key)
            yield Decided(lane=key, number=number, reply=ToStep(step))


def _how_left(lesson: LiveRun, jump: Jump | Act | ToStep) -> HowEnded:
    """How the exercise ends that is on, if this leads out of it before its end."""
    if isinstance(jump, Jump):
        return HowEnded.EARLY
    again = jump is Act.EXERCISE_AGAIN or jump == ToStep(exercise_here(lesson) or 0)
    return HowEnded.AGAIN if again else HowEnded.SKIPPED


def no_way(why: str) -> Diagnostic:
    """A wish for an exercise that is not followed."""
    return NO_WAY.report(why, help=_("go on, or go to an exercise that can still be done"))


def _again_after(lesson: LiveRun, place: Place) -> Decided:
    """Begin the series of a lane's last ball again, from after that ball."""
    known = lesson.state.decisions.get(place)
    at_s = known.at_s if isinstance(known, At) else None
    return Decided(lane=place[0], number=place[1], reply=Jump.AGAIN_AFTER, at_s=at_s)


def _last_balls(lesson: LiveRun) -> list[Place]:
    """The places of the last balls of the lanes under way."""
    last = lesson.state.last_place
    there = [last[key] for key in lesson.course.stations() if key in last]
    if there:
        return there
    return [last[MAIN]] if MAIN in last else []
