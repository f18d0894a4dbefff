"""The record of a running lesson: balls that left, results, and what is offered to the coach."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from feedscript.diagnostics import Diagnostic
from feedscript.plan.interpreter.conditions import BallResult
from feedscript.plan.model import Result
from feedscript.session.group.questions import QUESTIONS, question_for
from feedscript.session.group.records import (
    LANDING_MOST_M,
    NO_BALL_WAITS,
    OFF_THE_PICTURE,
    FlownBall,
    Record,
    ball_by_number,
    ball_for_tap,
)
from feedscript.session.group.tally import NoticeKind, notice_after


@dataclass(frozen=True, slots=True)
class Offered:
    """A question that is on offer, and what was noticed."""

    number: int
    player: str | None
    noticed: str
    question: str


@dataclass(slots=True)
class Recording:
    """Balls as they left and records as they stand, oldest tap first."""

    questions: dict[str, tuple[str, ...]] = field(default_factory=lambda: dict(QUESTIONS))
    balls: list[FlownBall] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    offer: Offered | None = None
    taps: int = 0  # of any kind
    _numbers: int = 0
    _offers: int = 0

    def ball_left(self, ball: FlownBall) -> None:
        self.balls.append(ball)

    def recall(self, records: list[Record]) -> None:
        """Records from the journal; nothing is offered about them any more."""
        self.records = records
        self._numbers = len(records)

    def take_down(
        self, result: Result, feed_id: int | None, tapped_s: float
    ) -> Record | Diagnostic:
        """A result for the ball named, or for the one the tap's time means."""
        recorded = {record.ball.feed_id for record in self.records}
        if feed_id is None:
            ball = ball_for_tap(self.balls, recorded, tapped_s)
        else:
            ball = ball_by_number(self.balls, feed_id)
        if isinstance(ball, Diagnostic):
            return ball
        self.taps += 1
        self._numbers += 1
        record = Record(self._numbers, ball, result, tapped_s)
        self.records = [r for r in self.records if r.ball.feed_id != ball.feed_id] + [record]
        self._notice(ball.player)
        return record

    def mark_landing(
        self, landing_m: tuple[float, float], feed_id: int | None
    ) -> Record | Diagnostic:
        """Where the shot of a recorded ball came down; of the newest record when none is named."""
        if not math.hypot(*landing_m) <= LANDING_MOST_M:
            return OFF_THE_PICTURE.report(
                f"({landing_m[0]:g} m, {landing_m[1]:g} m) is no place on court",
                help="tap the court where the ball came down",
            )
        wanted = (
            feed_id if feed_id is not None or not self.records else self.records[-1].ball.feed_id
        )
        for place, record in enumerate(self.records):
            if record.ball.feed_id == wanted:
                self.taps += 1
                self.records[place] = replace(record, landing_m=landing_m)
                return self.records[place]
        return NO_BALL_WAITS.report(
            "no result waits for a landing", help="tap what the ball became first, then where"
        )

    def take_back(self) -> Record | Diagnostic:
        """The newest record is undone, and the landing that was marked for it."""
        if not self.records:
            return NO_BALL_WAITS.report(
                "nothing was recorded that could be taken back", help="tap a result first"
            )
        self.taps += 1
        record = self.records.pop()
        self._notice(record.ball.player)
        return record

    def _notice(self, player: str | None) -> None:
        notice = notice_after(self.records, player)
        if notice is None:
            if self.offer is not None and self.offer.player == player:
                self.offer = None
            return
        self._offers += 1
        streak = notice.kind is NoticeKind.STREAK
        words = f"{notice.running} in a row {'in' if streak else notice.result.value}"
        question = question_for(notice, self.questions)
        self.offer = Offered(self._offers, player, words, question)

    def result_of(self, feed_id: int) -> Result | None:
        for record in self.records:
            if record.ball.feed_id == feed_id:
                return record.result
        return None

    def judged(self) -> list[BallResult]:
        """The recorded balls in the order they left, as conditions look at them."""
        results = {record.ball.feed_id: record.result for record in self.records}
        return [
            BallResult(ball.launcher, ball.ball_no, ball.feed_index, results[ball.feed_id])
            for ball in self.balls
            if ball.feed_id in results
        ]
