"""A lesson that was broken off, taken up again where it was, from the journal alone.

What left stays left and is not fed again. What was intended and never settled is asked of the
launcher first; where it does not know, a person is asked. The set-up steps, the arming and the
rules are gone through as at the beginning.
"""

from __future__ import annotations

from typing import Any

import anyio
import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.port import Outcome
from feedscript.launcher.profile import Profile
from feedscript.plan.actions import Jump, OnTurn, Reply, SendBall, WatchSpeed
from feedscript.plan.model import Plan, Result
from feedscript.session.attached import Ball
from feedscript.session.commands import ChangeRoster
from feedscript.session.course import stand_at
from feedscript.session.fences import Fences
from feedscript.session.journal import Journal
from feedscript.session.jumps import without_later
from feedscript.session.lesson import Lesson
from feedscript.session.opening import Setting, lesson_of
from feedscript.session.records import FlownBall, Record

NOTHING_TO_RESUME = Page(
    slug="nothing-to-resume",
    title="No lesson that could go on",
    why=(
        "A lesson can be resumed when it is in the journal, was broken off before its end and was "
        "no rehearsal. A lesson whose players were taken out of the journal cannot go on."
    ),
)


class Broken(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson that can go on, as the journal has it."""

    session_id: int
    token: int
    source: str
    plan: Plan
    profiles: tuple[Profile, ...]
    left_before: tuple[int, ...]  # the highest feed id that each launcher reported as left


def find_broken(journal: Journal, session_id: int | None = None) -> Broken:
    """The lesson of this number, or the newest that was broken off.

    Raises FeedscriptError when there is none that can go on.
    """
    chosen = "id = ?" if session_id is not None else "rehearsal = 0"
    values = (session_id,) if session_id is not None else ()
    rows = journal.rows(
        f"SELECT * FROM session WHERE {chosen} AND (ending IS NULL OR ending <> 'finished')"
        " ORDER BY id DESC LIMIT 1",
        values,
    )
    if not rows:
        which = "lesson" if session_id is None else f"lesson {session_id} that"
        raise _nothing(journal, f"the journal holds no {which} was broken off")
    row = rows[0]
    try:
        plan = msgspec.json.decode(row["plan"], type=Plan)
        profiles = msgspec.json.decode(row["profiles"], type=tuple[Profile, ...])
    except (msgspec.MsgspecError, UnicodeDecodeError) as trouble:
        raise _nothing(journal, f"lesson {row['id']} cannot be read: {trouble}") from trouble
    return Broken(
        session_id=row["id"],
        token=row["token"],
        source=row["source"],
        plan=plan,
        profiles=profiles,
        left_before=_left_before(journal, row["id"], len(plan.launchers)),
    )


def _left_before(journal: Journal, session_id: int, launchers: int) -> tuple[int, ...]:
    """What a person said left is no proof of a launcher's memory: only what it reported counts."""
    rows = journal.rows(
        "SELECT launcher, MAX(feed_id) AS highest FROM ball WHERE session_id = ?"
        " AND outcome = 'left' AND left_device_s IS NOT NULL GROUP BY launcher",
        (session_id,),
    )
    highest = {row["launcher"]: row["highest"] for row in rows}
    return tuple(highest.get(launcher, 0) for launcher in range(launchers))


def _nothing(journal: Journal, message: str) -> FeedscriptError:
    return FeedscriptError(
        NOTHING_TO_RESUME.report(
            message, device=journal.path, help="begin the lesson anew with `feedscript run FILE`"
        )
    )


def resume_lesson(broken: Broken, journal: Journal, fences: Fences, setting: Setting) -> Lesson:
    """The lesson where it was. To be called inside the event loop that will run it."""
    journal.reopen_session(broken.session_id)
    lesson = lesson_of(broken.plan, journal, broken.session_id, fences, setting)
    _recall_group(lesson)
    balls = journal.rows(
        "SELECT * FROM ball WHERE session_id = ? ORDER BY feed_id", (broken.session_id,)
    )
    _recall_balls(lesson, balls)
    _recall_records(lesson)
    decisions = _decisions(lesson)
    _recall_shown(lesson, balls, decisions)
    lesson.course = stand_at(lesson.plan, decisions, lesson.done)
    for place, reply in lesson.course.decisions.items():
        lesson.roster.remember_turn(place, reply)
    lesson.roster.only_turns_at(lesson.course.decisions)
    lesson.note("resumed", {"balls_left": len(lesson.recording.balls)})
    return lesson


def _entries(lesson: Lesson, kind: str) -> list[Any]:
    rows = lesson.journal.rows(
        "SELECT data FROM entry WHERE session_id = ? AND kind = ? ORDER BY id",
        (lesson.session_id, kind),
    )
    return [msgspec.json.decode(row["data"]) for row in rows]


def _recall_group(lesson: Lesson) -> None:
    for data in _entries(lesson, "roster"):
        lesson.roster.change(msgspec.convert(_wish(data), type=ChangeRoster))


def _wish(data: dict[str, Any]) -> dict[str, Any]:
    keys = ("change", "player", "left_handed", "stage", "level")
    return {key: data[key] for key in keys if key in data} | {"do": "roster"}


def _recall_balls(lesson: Lesson, rows: list[Any]) -> None:
    unsettled = []
    for row in rows:
        lesson.next_feed_id = row["feed_id"] + 1
        if row["outcome"] == Outcome.LEFT:
            _recall_flown(lesson, row)
        elif row["outcome"] != Outcome.NOT_SENT:
            unsettled.append(_unsettled(lesson.plan, row))
    lesson.unsettled = tuple(unsettled)


def _recall_flown(lesson: Lesson, row: Any) -> None:
    launcher, feed = row["launcher"], lesson.plan.feeds[row["feed_index"]]
    lesson.done[launcher] = max(lesson.done.get(launcher, 0), row["ball_no"])
    if not row["shown"]:
        lesson.last_place[row["lane"]] = (row["lane"], row["number"])
    left_utc_s = row["left_utc_s"] or row["outcome_utc_s"] or row["intent_utc_s"]
    left_s = left_utc_s - lesson.wall.utc(0.0)
    if lesson.first_left_host_s is None:
        lesson.first_left_host_s = left_s
    lesson.recording.ball_left(
        FlownBall(
            feed_id=row["feed_id"],
            ball_no=row["ball_no"],
            feed=row["feed"],
            player=row["player"],
            left_s=left_s,
            flight_s=feed.flight_s,
            launcher=launcher,
            station=row["station"],
            feed_index=row["feed_index"],
            shown=bool(row["shown"]),
        )
    )


def _recall_shown(lesson: Lesson, rows: list[Any], decisions: dict[tuple[str, int], Reply]) -> None:
    """The fastest ball of each launcher that a person watched and found as stated."""
    for row in rows:
        seen = decisions.get((row["lane"], row["number"])) is True
        if row["shown"] and seen and row["outcome"] == Outcome.LEFT:
            speed_mps = lesson.plan.feeds[row["feed_index"]].speed_mps
            before_mps = lesson.shown_mps.get(row["launcher"], 0.0)
            lesson.shown_mps[row["launcher"]] = max(speed_mps, before_mps)


def _unsettled(plan: Plan, row: Any) -> Ball:
    """A ball of which it is not known what became, as the engine keeps it."""
    where = {"at_s": 0.0, "line": 0, "station": row["station"], "ball": row["ball_no"]}
    what = {"feed": row["feed_index"], "launcher": row["launcher"]}
    action: SendBall | WatchSpeed
    if row["shown"]:
        action = WatchSpeed(**where, **what)
    else:
        action = SendBall(**where, **what, player=None, after_s=0.0, series=0)
    return Ball(
        feed_id=row["feed_id"],
        action=action,
        place=(row["lane"], row["number"]),
        setting=plan.feeds[row["feed_index"]].setting,
        lesson_s=0.0,
        device_s=row["leave_at_device_s"],
        host_s=anyio.current_time(),
        player=row["player"],
    )


def _recall_records(lesson: Lesson) -> None:
    flown = {ball.feed_id: ball for ball in lesson.recording.balls}
    rows = lesson.journal.rows(
        "SELECT * FROM result WHERE session_id = ? AND taken_back = 0 ORDER BY id",
        (lesson.session_id,),
    )
    lesson.recording.recall(
        [
            Record(
                number,
                flown[row["feed_id"]],
                Result(row["result"]),
                row["utc_s"] - lesson.wall.utc(0.0),
                None if row["landing_x_m"] is None else (row["landing_x_m"], row["landing_y_m"]),
            )
            for number, row in enumerate(rows, start=1)
            if row["feed_id"] in flown
        ]
    )


def _decisions(lesson: Lesson) -> dict[tuple[str, int], Reply]:
    """What was decided, each overruling what was decided further ahead before it."""
    decisions: dict[tuple[str, int], Reply] = {}
    for data in _entries(lesson, "decision"):
        place = (data["lane"], data["number"])
        decisions = without_later(decisions, place)
        decisions[place] = _reply(data["reply"])
    said = {(data["lane"], data["number"]): True for data in _entries(lesson, "said")}
    return {**said, **decisions}


def _reply(data: Any) -> Reply:
    """The reply that ``reply_as_data`` wrote."""
    if isinstance(data, dict) and "jump" in data:
        return Jump(data["jump"])
    if isinstance(data, dict):
        return OnTurn(data["player"], data["left_handed"])
    return bool(data) if data is not None else None
