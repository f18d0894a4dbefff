"""Balls on request: a person taps, and one leaves as soon as the certificate lets it.

At most one tap is open at a time: from the tap until its ball has left. What is tapped meanwhile,
or while the lesson does not run, is dropped, and that is said; so taps never stack up. A tap whose
ball was taken back (a hold, a stop, a change of the group) is dropped with it.
"""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.interpreter.actions import SendBall
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.events import BallAsked, TapDropped
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.run_state import Place
from feedscript.tongues.text import _

TAP_DROPPED = Page(
    slug="tap-dropped",
    title="A tap of which no ball comes",
    why=(
        "A ball on request leaves when somebody taps. One tap is open at a time, so that a double "
        "tap sends one ball; a tap while the lesson is held, stopped or collecting, or where the "
        "lesson sends by time, is dropped. Nothing is kept for later: tap again when the button "
        "says so."
    ),
)


def ask_for_ball(lesson: LiveRun, by: str) -> Diagnostic | None:
    """Take a tap, or drop it and say why."""
    if why := why_no_ball(lesson):
        lesson.log(TapDropped(by=by, why=why))
        return TAP_DROPPED.report(
            _("that tap was dropped: {why}", why=why), help=_("tap again when one may")
        )
    refused = lesson.act(Act.SEND_ONE, by)
    if refused is None:
        key = asked_lane(lesson)
        lesson.log(BallAsked(lane=key, number=lesson.course.number(key), by=by))
    return refused


def asked_lane(lesson: LiveRun) -> str:
    """The lane in which balls come on request now."""
    found = lesson.on_request()
    return MAIN if found is None else found[0]


def why_no_ball(lesson: LiveRun) -> str:
    """Why nobody can ask for a ball now; "" where it can be done."""
    if lesson.phase is not Phase.RUNNING:
        return _("the lesson is at “{phase}”", phase=PHASES[lesson.phase].name)
    if lesson.state.asked is not None:
        return _("the ball asked for before has not left yet")
    if comes_next(lesson) is None:
        return _("no ball comes on request now")
    return ""


def comes_next(lesson: LiveRun) -> SendBall | None:
    """The ball on request that comes next on court, if one does. The way through the plan may be
    ahead of it: balls that are sent by time come before it as long as they are under way."""
    found = lesson.on_request()
    if found is None:
        return None
    key, ball = found
    balls = (one for each in lesson.launchers for one in each.balls.values())
    under_way = [one.action for one in balls if one.place[0] == key]
    by_time = any(getattr(action, "request", None) is None for action in under_way)
    return None if by_time else ball


async def asked_for(lesson: LiveRun, place: Place) -> None:
    """Return when somebody has asked for the ball of this place."""
    while lesson.state.asked != place:
        await lesson.changed.wait()
