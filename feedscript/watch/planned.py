"""A program's balls without a journal: when each leaves by the plan's own times.

What people take is not counted in a plan: between a shown speed, a collect, or a break and what
comes after lies as long as somebody needed for it. So balls keep their times from one another only
between two such moments; a film is looked over for those of one stretch.
"""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.launcher.profile.model import Profile
from feedscript.plan.interpreter.actions import Action, Ask, PickUp, Reply, SendBall, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan
from feedscript.watch.asked import AskedBall, AskedLesson

NO_PLANNED_TIMES = Page(
    slug="no-planned-times",
    title="The program alone does not say which balls left, or when",
    why=(
        "Each ball is looked for in a film along the way that was asked of it, when it was to "
        "leave. Where the coach's taps of what became of shots, or a wish for the next ball, "
        "decide what comes and when, a program does not say it: the journal does, which has the "
        "lesson as it was."
    ),
)


def asked_by_plan(
    plan: Plan, profiles: tuple[Profile, ...], at_ball: int | None, source: str
) -> AskedLesson:
    """The balls of a plan's longest stretch, or of the one that has this ball.

    They are numbered from 1 through the whole lesson as written, and their times are seconds of the
    plan. Raises FeedscriptError (``no-planned-times``).
    """
    runs = _stretches(plan, source)
    having = [one for one in runs if at_ball is None or any(b.number == at_ball for b in one)]
    if not having:
        count = sum(map(len, runs))
        why = f"it has no ball {at_ball}" if count else "it sends no ball"
        raise FeedscriptError(_refused(why, source, f"its balls are 1 to {count}" if count else ""))
    balls = max(having, key=len)
    return AskedLesson(number=None, plan=plan, profiles=profiles, balls=tuple(balls))


def _stretches(plan: Plan, source: str) -> list[list[AskedBall]]:
    """All balls in order of time, parted where a person takes what time it takes."""
    if plan.progressions:
        why = "on which rung of a progression each player stands is not in it"
        raise FeedscriptError(_refused(why, source))
    runs: list[list[AskedBall]] = [[]]
    count = 0
    for action in run_through(plan, lambda one: _reply(one, source)):
        if isinstance(action, PickUp):
            runs.append([])
        if isinstance(action, SendBall | WatchSpeed):
            count += 1
            ball = AskedBall(number=count, left_utc_s=action.at_s, feed=plan.feeds[action.feed])
            runs[-1].append(ball)
        if isinstance(action, WatchSpeed):
            runs.append([])
    return [one for one in runs if one]


def _reply(action: Action, source: str) -> Reply:
    """None; raises where what comes is a person's matter."""
    if isinstance(action, Ask):
        why = f"what comes at line {action.line} hangs on how players' shots ended"
        raise FeedscriptError(_refused(why, source))
    if isinstance(action, SendBall) and action.request is not None:
        why = f"the ball at line {action.line} leaves when somebody asks for it"
        raise FeedscriptError(_refused(why, source))
    return None


def _refused(why: str, source: str, help_words: str = "") -> Diagnostic:
    by_journal = "name the lesson that was filmed: --lesson NUMBER (feedscript journal list)"
    return NO_PLANNED_TIMES.report(why, device=source, help=help_words or by_journal)
