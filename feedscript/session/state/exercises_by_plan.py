"""In which exercise each ball of an older lesson stood, found again by its place in the plan.

Lessons of event format 1 that ran before exercises were written down (and balls with theirs) have
every answer that was given, and so the way through the plan: each ball has its place there, and the
plan's own steps name the exercise. Where the plan or the way cannot be followed, nothing is known.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from itertools import count

import msgspec

from feedscript.journal.store import Journal
from feedscript.journal.stored import SessionRow
from feedscript.plan.bodies import within
from feedscript.plan.folds.size import too_big
from feedscript.plan.model import Exercise, Plan, Send, ShowSpeed
from feedscript.session.group.records import Go
from feedscript.session.state.apply import apply
from feedscript.session.state.event_log import events_of
from feedscript.session.state.events import FeedRequested, Jumped
from feedscript.session.state.lanes import fork_of
from feedscript.session.state.plan_cursor import Course, stand_at
from feedscript.session.state.run_state import RunState, state_at_the_start

#: Formats in which every answer stands in the journal, and exercises may not.
FOLLOWED = (1,)


def goes_by_plan(journal: Journal, lesson: SessionRow) -> Mapping[int, Go] | None:
    """The go at an exercise of each ball that left, by its number; None where nobody can tell.

    A journal may come from anywhere: whatever its plan or its events do to whoever follows them,
    it only means that they cannot be followed.
    """
    if lesson.event_format not in FOLLOWED:
        return None
    try:
        plan = msgspec.json.decode(lesson.plan, type=Plan)
        return None if too_big(plan, None) is not None else _followed(journal, lesson, plan)
    except Exception:  # noqa: BLE001 - told as "not recorded"
        return None


def _followed(journal: Journal, lesson: SessionRow, plan: Plan) -> dict[int, Go] | None:
    """A person's jump leads to places that were passed before: what left by then is told first."""
    state, found = state_at_the_start(plan), dict[int, Go]()
    places: dict[int, tuple[str, int]] = {}
    for _, event in events_of(journal, lesson.id):
        if isinstance(event, FeedRequested):
            places[event.feed_id] = event.place
        elif isinstance(event, Jumped):
            _tell(found, plan, state, places)
        state = apply(plan, state, event)
    _tell(found, plan, state, places)
    feeds = {feed_id: ball.feed_index for feed_id, ball in state.left.items()}
    return found if _agree(plan, found, feeds) else None


def _tell(
    found: dict[int, Go], plan: Plan, state: RunState, places: Mapping[int, tuple[str, int]]
) -> None:
    new = [feed_id for feed_id in state.left if feed_id not in found]
    if new:
        course = stand_at(plan, state.decisions, state.done, state.first_stands)
        found.update((feed_id, _go_at(course, places[feed_id])) for feed_id in new)


def _go_at(course: Course, place: tuple[str, int]) -> Go:
    """The go in which this place lies; a station's balls came before its fork was left."""
    fork = fork_of(place[0])
    at = place[1] if fork is None else fork
    plays: dict[int, count[int]] = {}
    for one in course.exercises:
        play = next(plays.setdefault(one.number, count(1)))
        if one.begun_at < at and (one.left_at is None or at <= one.left_at):
            return Go(one.number, play)
    return Go()


def _agree(plan: Plan, found: Mapping[int, Go], feeds: Mapping[int, int]) -> bool:
    """Whether each ball's feed is one that is sent where the ball was found."""
    sent: dict[int, set[int]] = defaultdict(set)  # by exercise, 0 for none
    number = 0
    for step in plan.steps:
        number += isinstance(step, Exercise)
        its = sent[number if isinstance(step, Exercise) else 0]
        for one in within((step,)):
            its.update(one.all_feeds() if isinstance(one, Send) else ())
            its.update((one.feed,) if isinstance(one, ShowSpeed) else ())
    return all(feeds[feed_id] in sent[go.exercise] for feed_id, go in found.items())
