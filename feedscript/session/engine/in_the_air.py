"""How long a ball waits for another launcher's ball to come down.

The checker holds every two balls of different launchers that may fly at the same time against each
other. A person's jump brings balls near each other that the plan keeps apart, and of those nobody
knows whether their ways cross: the later one waits until the earlier one is down.
"""

from __future__ import annotations

from collections.abc import Iterator

import anyio

from feedscript.plan.interpreter.actions import SendBall, WatchSpeed
from feedscript.session.engine.live_run import LiveRun

#: Moments are whole milliseconds in the plan; a shortage below that is none.
_MOMENT_S = 0.001


def clear_s(lesson: LiveRun, action: SendBall | WatchSpeed) -> float:
    """The moment of the lesson from which no other launcher's ball may be in this one's way."""
    if len(lesson.launchers) < 2:
        return 0.0
    pace = lesson.timeline.pace
    waits = [
        (left_s, lesson.apart.needs_s(feed, action.feed, pace))
        for feed, left_s in _others(lesson, action.launcher)
    ]
    # Two that were judged whatever the moment need not even leave in this order: a ball may be
    # queued a minute ahead.
    return max((left_s + needs_s - _MOMENT_S for left_s, needs_s in waits if needs_s), default=0.0)


def _others(lesson: LiveRun, launcher: int) -> Iterator[tuple[int, float]]:
    """The balls of other launchers that may fly, or are queued: the feed, and when it leaves."""
    for other in lesson.launchers:
        for ball in other.balls.values():
            if other.index != launcher:
                yield ball.action.feed, ball.lesson_s
    longest_s = max(lesson.apart.down_s)
    for flown in reversed(list(lesson.state.left.values())):
        left_s = lesson.wall.host(flown.left_utc_s)
        if left_s + longest_s < anyio.current_time():
            return
        if flown.launcher != launcher:
            yield flown.feed_index, lesson.timeline.from_host(left_s)
