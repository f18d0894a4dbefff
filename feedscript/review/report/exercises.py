"""Which exercises were on in a lesson, how each ended, and which one a ball was part of.

The journal says when an exercise began and ended, and at which place of the plan; a ball has its
place there too. So a ball belongs where the lesson was in its plan, whatever the clocks said. A
person's jump may lead back to places that were passed before: what was sent by then stays where it
was. Of lessons from before that was written down, the plan itself says it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from operator import itemgetter
from typing import Any

import msgspec

from feedscript.journal.queries import balls_that_left, entries_of
from feedscript.journal.store import Journal
from feedscript.journal.stored import EntryRow, SessionRow
from feedscript.session.state.events import (
    EVENT_FORMAT,
    KIND_OF,
    KINDS,
    ExerciseBegan,
    ExerciseEnded,
    FeedRequested,
    HowEnded,
    Jumped,
)
from feedscript.session.state.exercises_by_plan import goes_by_plan
from feedscript.session.state.lanes import fork_of
from feedscript.tongues.text import _
from feedscript.visible import on_one_line

_TOLD_BY = (FeedRequested, Jumped, ExerciseBegan, ExerciseEnded)


#: What is told of a ball that nobody can put into an exercise, or out of them all.
NOT_RECORDED = _("exercise not recorded")


class Exercise(msgspec.Struct, frozen=True):
    """One time that an exercise was on. ``how`` None: nobody wrote it down, the host died."""

    title: str
    begun_utc_s: float
    ended_utc_s: float | None = None
    how: HowEnded | None = None


class Exercises(msgspec.Struct):
    """Those of a lesson, in their order; and the title of each ball's, "" where it was of none.

    ``places`` say which is on from where in the plan, as far as is known.
    """

    on: list[Exercise] = []
    of_ball: dict[int, str] = {}
    goes: dict[
        int, tuple[int, int]
    ] = {}  # of each ball: number of the exercise, and of the go at it
    places: list[tuple[float, str]] = []
    asked_for: dict[int, float] = {}  # balls since the last jump, and where

    def begins(self, utc_s: float, title: str, place: int) -> None:
        self.on.append(Exercise(title, utc_s))
        self._from(place, title)

    def ends(self, utc_s: float, how: HowEnded, place: int | None) -> None:
        if self.on and self.on[-1].ended_utc_s is None:
            self.on.append(msgspec.structs.replace(self.on.pop(), ended_utc_s=utc_s, how=how))
        if place is not None:
            self._from(place, "")

    def ball(self, feed_id: int, lane: str, number: int) -> None:
        fork = fork_of(lane)
        # Stations may be left at their very fork: what they sent came before that.
        self.asked_for[feed_id] = number if fork is None else fork - 0.5

    def jump(self) -> None:
        """Whatever left by now has its exercise; places may come again."""
        for feed_id, place in self.asked_for.items():
            at = bisect_right(self.places, place, key=itemgetter(0))
            self.of_ball[feed_id] = self.places[at - 1][1] if at else ""
        self.asked_for = {}

    def _from(self, place: int, title: str) -> None:
        """What was said of places after this one is overruled."""
        self.places = [*(one for one in self.places if one[0] < place), (place, title)]


def exercises_of(journal: Journal, lesson: SessionRow, steps: Iterable[Any] | None) -> Exercises:
    """The exercises of a lesson; their titles stand among its plan's steps (as plain data; None
    where there is no plan to be read)."""
    older = lesson.event_format < EVENT_FORMAT
    titles = [
        on_one_line(str(step.get("title", "")))
        for step in steps or ()
        if isinstance(step, dict) and step.get("step") == "exercise"
    ]
    found = Exercises()
    if titles:
        for row in entries_of(journal, lesson.id, *(KIND_OF[kind] for kind in _TOLD_BY)):
            _take(found, row, titles)
        found.jump()
    if older and not found.on and (titles or steps is None):
        return _of_older(journal, lesson, titles)
    return found


def _of_older(journal: Journal, lesson: SessionRow, titles: Sequence[str]) -> Exercises:
    """By the ways through the plan; each ball that nobody can place is told as such."""
    goes = goes_by_plan(journal, lesson) if titles else None
    found = Exercises()
    for ball in balls_that_left(journal, lesson.id):
        go = None if goes is None else goes.get(ball.feed_id)
        if go is None:
            found.of_ball[ball.feed_id] = "" if ball.shown else NOT_RECORDED
        elif 1 <= go.exercise <= len(titles):
            found.of_ball[ball.feed_id] = titles[go.exercise - 1]
            found.goes[ball.feed_id] = (go.exercise, go.play)
    return found


def targets_of(steps: Iterable[Any]) -> dict[str, str]:
    """What players aim at, by the title of the exercise that has a target."""
    found = {}
    for step in steps:
        target = step.get("target") if isinstance(step, dict) else None
        if isinstance(target, dict) and target.get("name"):
            found[on_one_line(str(step.get("title", "")))] = on_one_line(str(target["name"]))
    return found


def _take(found: Exercises, row: EntryRow, titles: list[str]) -> None:
    """An entry of another form of the journal says nothing here."""
    try:
        event = msgspec.json.decode(row.data, type=KINDS[row.kind])
    except (msgspec.MsgspecError, UnicodeEncodeError):
        return
    match event:
        case FeedRequested():
            found.ball(event.feed_id, event.lane, event.number)
            found.goes[event.feed_id] = (event.exercise, event.play)
        case Jumped():
            found.jump()
        case ExerciseBegan() if 1 <= event.exercise <= len(titles):
            found.begins(row.utc_s, titles[event.exercise - 1], event.place)
        case ExerciseEnded():
            found.ends(row.utc_s, event.how, event.place)
