"""What each ball became, and to which ball a tap belongs.

A coach taps after seeing how a player's shot ended, often when the next ball is already on its
way. A tap that names no ball therefore goes by time: to the newest ball whose outcome could have
been seen by then, and if that one is recorded already, to the oldest of the last few that is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.model import Result
from feedscript.plan.times import SEEN_AFTER_BOUNCE_S
from feedscript.tongues.text import _

NO_BALL_WAITS = Page(
    slug="no-ball-waits",
    title="A result was tapped and no ball waits for one",
    why=(
        "Each ball has one result. A tap that comes before a ball could have been played, or "
        "after every recent ball has its result, would have to be guessed, so it is refused."
    ),
)

NO_TARGET_THERE = Page(
    slug="no-target-there",
    title="A shot in a target was tapped, and there is no target",
    why=(
        "In target is a shot that came down in the target of the exercise that the ball was part "
        "of. Where the exercise has none, or there is no exercise, a good shot is In."
    ),
)

OFF_THE_PICTURE = Page(
    slug="off-the-picture",
    title="A landing was marked where no shot comes down",
    why=(
        "Landings are metres on court: to the side from the centre line, and along it from the "
        "net. Farther than 30 m from the middle of the net there is no court any more."
    ),
)

#: A late tap may still go to a ball this old. Design value: about four balls of a usual tempo.
STILL_REMEMBERED_S = 15.0


class Go(msgspec.Struct, frozen=True):
    """One go at an exercise: its number in the lesson and how often it was begun by then, both from
    1; 0 for no exercise."""

    exercise: int = 0
    play: int = 0


class FlownBall(msgspec.Struct, frozen=True):
    """A ball that left, as the record needs it; moments in seconds of UTC."""

    feed_id: int
    ball_no: int
    feed: str
    player: str | None
    left_utc_s: float
    flight_s: float
    launcher: int = 0
    station: str = ""
    feed_index: int = 0
    shown: bool = False  # a speed ball: watched from the side, played by nobody
    measured: bool = False  # the launcher itself said when it left
    go: Go = Go()

    @property
    def seen_utc_s(self) -> float:
        """The earliest moment at which its result can have been seen."""
        return self.left_utc_s + self.flight_s + SEEN_AFTER_BOUNCE_S


class Record(msgspec.Struct, frozen=True):
    """One result as it stands."""

    ball: FlownBall
    result: Result
    tapped_utc_s: float
    landing_m: tuple[float, float] | None = None  # where the player's shot came down, if marked


def ball_for_tap(
    balls: Sequence[FlownBall], recorded: Iterable[int], tapped_utc_s: float
) -> FlownBall | Diagnostic:
    """The ball that a tap at ``tapped_utc_s`` means. ``recorded`` holds feed ids with a result."""
    done = set(recorded)
    seen = [ball for ball in balls if ball.seen_utc_s <= tapped_utc_s and not ball.shown]
    if seen and seen[-1].feed_id not in done:
        return seen[-1]
    recent = [
        ball
        for ball in seen
        if ball.feed_id not in done and tapped_utc_s - ball.seen_utc_s <= STILL_REMEMBERED_S
    ]
    if recent:
        return recent[0]
    what = _("every recent ball has its result") if seen else _("no ball has been played yet")
    return NO_BALL_WAITS.report(
        what, help=_("take the last result back to change it, or wait for the next ball")
    )


def ball_by_number(balls: Iterable[FlownBall], feed_id: int) -> FlownBall | Diagnostic:
    """The ball a tap names."""
    for ball in balls:
        if ball.feed_id == feed_id:
            return ball
    return NO_BALL_WAITS.report(
        _("ball {n} has not left in this lesson", n=feed_id), help=_("tap a ball that is shown")
    )
