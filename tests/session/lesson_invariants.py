"""The five invariants for whole lessons: the journal and the certified plan against the truth."""

from __future__ import annotations

import sqlite3

from feedscript_drivers.wire.wire_launcher import setting_fields

from feedscript.launcher.port import Outcome
from feedscript.session.engine.guards import ceiling
from feedscript.session.operator.phases import Phase
from tests.drivers.faults.invariants import broken_by, dishonest
from tests.drivers.faults.witness import Gone
from tests.session.faulty_lesson import LessonWorld

#: Phases in which people walk about in front of launchers that were said to be safe or quiet.
_NOBODY_IS_FED = (
    Phase.SETTING_UP,
    Phase.COLLECTING,
    Phase.SHOWING,
    Phase.READY,
    Phase.FINISHED,
)
_ARRIVED_CDEG = 6


def violations(w: LessonWorld) -> list[str]:
    """Every way in which the truth breaks one of the five invariants."""
    found = [*w.trouble, *(trouble for far in w.far for trouble in far.trouble)]
    rows = {(row["token"], row["feed_id"]): row for row in w.rows()}
    seen: set[tuple[int, int]] = set()
    planned: set[tuple[int, int, int, int]] = set()
    for launcher, far in enumerate(w.far):
        for gone in far.truth:
            key = (gone.session, gone.ball.feed_id)
            if key in seen:
                found.append(f"1: feed {gone.ball.feed_id} left twice")
            seen.add(key)
            row = rows.get(key)
            if row is None:
                found.append(f"4: ball {gone.ball.feed_id} left and is not in the journal")
                continue
            ball = (gone.session, launcher, row["ball_no"], _wrong_before(w, row))
            if ball in planned:
                found.append(f"1: ball {row['ball_no']} of the plan was fed twice")
            planned.add(ball)
            found += _of_one_ball(w, launcher, gone, row)
    for key, row in rows.items():
        outcome = None if row["outcome"] is None else Outcome(row["outcome"])
        found += dishonest(key[1], outcome, left=key in seen)
        if key in seen and outcome is Outcome.UNKNOWN:
            found.append(f"4: ball {key[1]} left, was asked about, and stayed unknown")
    return found


def _wrong_before(w: LessonWorld, row: sqlite3.Row) -> int:
    """A ball to be watched comes once more each time that it was judged not as stated."""
    if not row["shown"]:
        return 0
    return len(w.judged_wrong(row["session_id"], row["intent_utc_s"]))


def _of_one_ball(w: LessonWorld, launcher: int, gone: Gone, row: sqlite3.Row) -> list[str]:
    far, feed_id = w.far[launcher], gone.ball.feed_id
    feed = w.plan.feeds[row["feed_index"]]
    wished = setting_fields(feed.setting)
    most = (*ceiling(w.plan, launcher, len(feed.setting.drives)), 0.0)
    found = broken_by(far, gone, wished, most)
    if row["launcher"] != launcher:
        found.append(f"1: ball {feed_id} left the wrong launcher")
    aside = [abs(at - wish) for at, wish in zip(gone.ball.pose_cdeg, wished[3:], strict=True)]
    if max(aside) > _ARRIVED_CDEG:
        found.append(f"5: ball {feed_id} left at {gone.ball.pose_cdeg}, wished {wished[3:]}")
    for phase in _phases_at(w, gone.at_s):
        if phase in _NOBODY_IS_FED:
            found.append(f"3: ball {feed_id} left while the lesson was {phase.value}")
    return found


def _phases_at(w: LessonWorld, at_s: float) -> list[Phase]:
    """The phase of every host that lived at this moment."""
    found = []
    for host in w.hosts:
        before = [phase for since_s, phase in host.phases if since_s < at_s]
        if before:
            found.append(before[-1])
    return found
