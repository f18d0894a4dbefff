"""Which exercise a ball was part of.

The journal holds what was called, and an exercise is called by its title when it begins. A ball is
part of the exercise that was called last before it, if that exercise sends its feed: plain steps
may follow an exercise.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import msgspec

#: An exercise is called as the last ball before it leaves; none of its own leaves so soon after
#: (design value: half of the shortest interval of a drill).
FIRST_BALL_AFTER_S = 0.5


class PlannedExercise(msgspec.Struct, frozen=True):
    """An exercise of the plan: its title, and the feeds that it may send."""

    title: str
    feeds: frozenset[int]


def exercises_of(steps: Iterable[Any]) -> dict[str, PlannedExercise]:
    """The exercises among a plan's steps (as plain data), by their titles."""
    found = {}
    for step in steps:
        if isinstance(step, dict) and step.get("step") == "exercise":
            title = str(step.get("title", ""))
            found[title] = PlannedExercise(title, frozenset(_feeds(step.get("body"))))
    return found


def _feeds(value: Any) -> Iterator[int]:
    """The numbers of the feeds anywhere in a body."""
    if isinstance(value, list):
        for each in value:
            yield from _feeds(each)
    elif isinstance(value, dict):
        for feeds in (value.get("feeds"), value.get("left_feeds")):
            if isinstance(feeds, list):
                yield from (feed for feed in feeds if isinstance(feed, int))
        for inner in value.values():
            yield from _feeds(inner)


class Begun(msgspec.Struct, frozen=True):
    """The exercises that began in a lesson, in order, and when each was called."""

    at_utc_s: Sequence[float]
    exercises: Sequence[PlannedExercise]

    def of(self, left_utc_s: float, feed: int) -> str:
        """The title of the exercise of a ball; nothing where it was part of none."""
        at = bisect_right(self.at_utc_s, left_utc_s - FIRST_BALL_AFTER_S)
        if at == 0 or feed not in self.exercises[at - 1].feeds:
            return ""
        return self.exercises[at - 1].title


def begun(planned: dict[str, PlannedExercise], calls: Iterable[tuple[float, str]]) -> Begun:
    """Out of everything that was called (moment, words), in order, the exercises that began."""
    theirs = [(utc_s, planned[text]) for utc_s, text in calls if text in planned]
    return Begun([utc_s for utc_s, _ in theirs], [exercise for _, exercise in theirs])
