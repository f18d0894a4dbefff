"""A person's jumps out of the written order, made where the lesson really stands.

"Next" and "skip" mean what comes next; "again" means the series of the last ball that left, also
when that was its last. What was decided further ahead is overruled. A ball to be watched and a
collect are never jumped over.
"""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.interpreter.actions import Ask, Jump, PickUp, Reply, WatchSpeed
from feedscript.session.engine.lesson import Lesson
from feedscript.session.engine.plan_cursor import MAIN, is_later, stand_at

NOT_JUMPED = Page(
    slug="not-jumped",
    title="A jump that would pass over something a person must do",
    why=(
        "The first ball of each speed is watched and collecting is done behind a safe launcher; "
        "the checker relies on both. A skip or a jump to the next series stops before them."
    ),
)


def apply_jumps(lesson: Lesson) -> None:
    """Make the jumps that were commanded since the lesson last ran, in their order."""
    jumps, lesson.jumps = lesson.jumps, []
    for jump in jumps:
        if jump is Jump.AGAIN and lesson.last_place:
            _again(lesson)
        else:
            for key in lesson.course.stations() or (MAIN,):
                _from_here(lesson, key, jump)


def _from_here(lesson: Lesson, key: str, jump: Jump) -> None:
    """Leave the written order at the lane's present action."""
    action = lesson.course.action(key)
    if action is None:
        return
    if isinstance(action, WatchSpeed | PickUp) and jump is not Jump.AGAIN:
        lesson.trouble(
            NOT_JUMPED.report(
                f"the lesson stands at line {action.line}, which is not passed over",
                help="go on; it comes first",
            )
        )
        return
    lesson.decide(key, False if jump is Jump.SKIP and isinstance(action, Ask) else jump)


def _again(lesson: Lesson) -> None:
    """Begin the series of each lane's last ball again, from after that ball."""
    for place in _last_balls(lesson):
        overruled = without_later(lesson.course.decisions, place)
        overruled[place] = Jump.AGAIN_AFTER
        lesson.note_decision(place, Jump.AGAIN_AFTER)
        lesson.course = stand_at(lesson.plan, overruled, lesson.done)
        lesson.roster.only_turns_at(lesson.course.decisions)


def _last_balls(lesson: Lesson) -> list[tuple[str, int]]:
    """The places of the last balls of the lanes under way."""
    stations = lesson.course.stations()
    there = [lesson.last_place[key] for key in stations if key in lesson.last_place]
    if there:
        return there
    return [lesson.last_place[MAIN]] if MAIN in lesson.last_place else []


def without_later(
    decisions: dict[tuple[str, int], Reply], place: tuple[str, int]
) -> dict[tuple[str, int], Reply]:
    """The decisions that stand when the one at ``place`` is made anew."""
    return {at: reply for at, reply in decisions.items() if not is_later(at, place)}
