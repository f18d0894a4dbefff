"""Balls on request whose time is counted: at a station, in a turn or a block by the clock.

The plan's clock goes on while nobody asks. A tap is followed as soon as the ball may leave; when
the time is over the lesson goes on, and a tap that comes too late for a ball is dropped, and that
is said.
"""

from __future__ import annotations

import anyio

from feedscript.plan.interpreter.actions import At, Jump, SendBall
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.state.events import TapDropped
from feedscript.session.state.run_state import Place
from feedscript.tongues.text import _

#: Moments of a plan are whole milliseconds: up to half of one after its time is within it.
_ROUNDED_S = 0.0005


def is_in_time(action: SendBall) -> bool:
    """Whether the time of this ball is counted."""
    return action.request is not None and action.request.until_s is not None


def reached_by(action: SendBall, reached_s: float) -> float:
    """The moment of the plan at which its lane stands, when the lesson has come that far."""
    return min(max(action.at_s - action.after_s, reached_s), over(action).at_s)


def over(action: SendBall) -> At:
    """No ball of these any more: their time is over."""
    assert action.request is not None
    assert action.request.until_s is not None
    return At(action.request.until_s, Jump.NEXT)


async def asked_in_time(lesson: LiveRun, place: Place, action: SendBall) -> bool:
    """Return when somebody has asked for the ball of this place; False where nobody has in time."""
    while lesson.state.asked != place:
        changed = lesson.changed
        over_s = lesson.timeline.host_s(lesson.timeline.at(over(action).at_s))
        if anyio.current_time() >= over_s:
            return False
        with anyio.move_on_at(over_s):
            await changed.wait()
    return True


def leaves_in_time(lesson: LiveRun, action: SendBall, leave_s: float) -> At | None:
    """When it leaves, by the plan; None where that would be after its time: the tap is dropped."""
    at_s, until_s = lesson.timeline.plan_s(leave_s), over(action).at_s
    if at_s <= until_s + _ROUNDED_S:
        return At(max(action.at_s, min(at_s, until_s)))
    why = _("the time of these balls is over before one could leave")
    lesson.log(TapDropped(by="", why=why))
    return None
