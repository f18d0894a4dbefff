"""The balls and records of a lesson as they stand, and what a tap means among them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.journal.stored import LANDING_MOST_M
from feedscript.plan.interpreter.conditions import BallResult
from feedscript.plan.model import Result
from feedscript.session.group.questions import QUESTIONS, question_for
from feedscript.session.group.records import (
    NO_BALL_WAITS,
    OFF_THE_PICTURE,
    FlownBall,
    Record,
    ball_by_number,
    ball_for_tap,
)
from feedscript.session.group.tally import Notice, notice_after
from feedscript.tongues.text import _


class Offered(msgspec.Struct, frozen=True):
    """A question that is on offer, and what was noticed."""

    number: int
    player: str | None
    noticed: str
    question: str


class Recording(msgspec.Struct, frozen=True):
    """Balls in the order in which they left; records, the oldest tap first."""

    balls: tuple[FlownBall, ...] = ()
    records: tuple[Record, ...] = ()
    offer: Offered | None = None

    def tapped(
        self, feed_id: int | None, tapped_utc_s: float, station: str = ""
    ) -> FlownBall | Diagnostic:
        """The ball that a tap names, or that its time means, of one station or of all."""
        if feed_id is not None:
            return ball_by_number(self.balls, feed_id)
        recorded = {record.ball.feed_id for record in self.records}
        balls = [ball for ball in self.balls if not station or ball.station == station]
        return ball_for_tap(balls, recorded, tapped_utc_s)

    def landed(self, landing_m: tuple[float, float], feed_id: int | None) -> Record | Diagnostic:
        """The record that a marked landing belongs to; the newest when no ball is named."""
        off = off_the_picture(landing_m)
        if off is not None:
            return off
        for record in reversed(self.records):
            if feed_id is None or record.ball.feed_id == feed_id:
                return record
        return NO_BALL_WAITS.report(
            _("no result waits for a landing"),
            help=_("tap what the ball became first, then where"),
        )

    def newest(self) -> Record | Diagnostic:
        """What an undo takes back."""
        if self.records:
            return self.records[-1]
        return NO_BALL_WAITS.report(
            _("nothing was recorded that could be taken back"), help=_("tap a result first")
        )

    def result_of(self, feed_id: int) -> Result | None:
        """A ball has one record at most; it is mostly asked of the newest."""
        newest_first = reversed(self.records)
        return next((one.result for one in newest_first if one.ball.feed_id == feed_id), None)

    def judged(self, names: Sequence[str] = ()) -> list[BallResult]:
        """The recorded balls in the order they left, as conditions look at them; whose they are by
        number among these names."""
        results = {record.ball.feed_id: record.result for record in self.records}
        number = {name: index for index, name in enumerate(names)}
        return [
            BallResult(
                ball.launcher,
                ball.ball_no,
                ball.feed_index,
                results[ball.feed_id],
                None if ball.player is None else number.get(ball.player),
            )
            for ball in self.balls
            if ball.feed_id in results
        ]


def off_the_picture(landing_m: tuple[float, float]) -> Diagnostic | None:
    """Why a place is none on court; None where it is one."""
    if math.hypot(*landing_m) <= LANDING_MOST_M:
        return None
    return OFF_THE_PICTURE.report(
        _("({x:g} m, {y:g} m) is no place on court", x=landing_m[0], y=landing_m[1]),
        help=_("tap the court where the ball came down"),
    )


def _in_a_row(notice: Notice) -> str:
    """The same result so often, in words."""
    match notice.result:
        case Result.IN | Result.TARGET:
            return _("{n} in a row in", n=notice.running)
        case Result.NET:
            return _("{n} in a row net", n=notice.running)
        case Result.LONG:
            return _("{n} in a row long", n=notice.running)
        case Result.LEFT:
            return _("{n} in a row left", n=notice.running)
        case _:
            return _("{n} in a row right", n=notice.running)


class Offers(msgspec.Struct):
    """The question that is on offer to the coach, if any."""

    questions: dict[str, tuple[str, ...]] = msgspec.field(default_factory=lambda: dict(QUESTIONS))
    offer: Offered | None = None
    made: int = 0

    def notice(self, records: tuple[Record, ...], player: str | None) -> None:
        """After a record of this player was made or taken back."""
        notice = notice_after(records, player)
        if notice is None:
            if self.offer is not None and self.offer.player == player:
                self.offer = None
            return
        self.made += 1
        words = _in_a_row(notice)
        question = question_for(notice, self.questions)
        self.offer = Offered(self.made, player, words, question)
