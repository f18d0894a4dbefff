"""What a person sees of balls on request: how many are left, and when the next may leave."""

from __future__ import annotations

from feedscript.session.engine.by_hand.on_request import comes_next
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import RequestView
from feedscript.tongues import terms

#: Phases in which it is of interest that balls come on request.
_PLAYS = (Phase.READY, Phase.RUNNING, Phase.REGROUPING, Phase.HELD)


def request_now(lesson: LiveRun) -> RequestView | None:
    """The balls on request that the lesson has come to, if any."""
    ball = comes_next(lesson)
    if ball is None or ball.request is None or lesson.phase not in _PLAYS:
        return None
    feed = lesson.plan.feeds[ball.feed]
    running, until_s = lesson.phase is Phase.RUNNING, ball.request.until_s
    return RequestView(
        feed=terms.feed_in_words(feed.wish or feed.name),
        player=lesson.roster.name(ball.player),
        left=ball.request.at_most - ball.request.number + 1,
        at_most=ball.request.at_most,
        may_leave_utc_s=_host_utc_s(lesson, ball.at_s) if running else None,
        asked=lesson.state.asked is not None,
        came_to_nothing=lesson.tap_came_to_nothing,
        station=ball.station,
        ends_utc_s=_host_utc_s(lesson, until_s) if running and until_s is not None else None,
    )


def _host_utc_s(lesson: LiveRun, plan_s: float) -> float:
    return lesson.wall.utc(lesson.timeline.host_s(lesson.timeline.at(plan_s)))
