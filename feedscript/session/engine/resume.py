"""A lesson that was broken off, taken up again where it was, from the journal alone.

What left stays left and is not fed again. What was intended and never settled is asked of the
launcher first; where it does not know, a person is asked. The set-up steps, the arming and the
rules are gone through as at the beginning.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.journal.store import Journal
from feedscript.launcher.port import Outcome
from feedscript.launcher.profile.model import Profile
from feedscript.plan.interpreter.actions import Jump, OnTurn, Reply, SendBall, TakeTurn, WatchSpeed
from feedscript.plan.model import Plan, Result
from feedscript.session.engine.guards import Fences
from feedscript.session.engine.launcher_handle import Ball
from feedscript.session.engine.lesson import Lesson
from feedscript.session.engine.plan_cursor import fork_of, is_later, stand_at
from feedscript.session.engine.start import Setting, lesson_of
from feedscript.session.engine.stored import SessionRow, see_rows, see_that_it_may_go_on
from feedscript.session.group.records import FlownBall, Record
from feedscript.session.operator.commands import ChangeRoster

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

    Raises FeedscriptError when there is none that can go on, or what stands of it is not whole.
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
    see_rows(journal.path, row["id"], rows, SessionRow)
    try:
        plan = msgspec.json.decode(row["plan"], type=Plan)
        profiles = msgspec.json.decode(row["profiles"], type=tuple[Profile, ...])
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise _nothing(journal, f"lesson {row['id']} cannot be read: {trouble}") from trouble
    see_that_it_may_go_on(journal, row["id"], plan)
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
    balls = journal.rows(
        "SELECT * FROM ball WHERE session_id = ? ORDER BY feed_id", (broken.session_id,)
    )
    _recall_balls(lesson, balls)
    _recall_records(lesson)
    happened = happened_in(journal, lesson.session_id)
    decisions = decisions_of(happened)
    _recall_shown(lesson, balls, decisions)
    lesson.course = stand_at(lesson.plan, decisions, lesson.done)
    _recall_group(lesson, happened)
    _recall_calls(lesson, happened)
    lesson.note("resumed", {"balls_left": len(lesson.recording.balls)})
    return lesson


#: What is recalled of a lesson's entries, in the order in which it happened: who came and went,
#: what was decided, which calls were made and which turns began on court.
_RECALLED = ("roster", "decision", "said", "turn")


class _Entry(msgspec.Struct, frozen=True):
    """One entry of the journal; its place in the course, where it has one."""

    kind: str
    data: dict[str, Any]

    @property
    def place(self) -> tuple[str, int]:
        return self.data["lane"], self.data["number"]


def happened_in(journal: Journal, session_id: int) -> list[_Entry]:
    """What happened, without decisions and calls that a later decision overruled."""
    rows = journal.rows(
        f"SELECT kind, data FROM entry WHERE session_id = ?"
        f" AND kind IN ({', '.join('?' * len(_RECALLED))}) ORDER BY id",
        (session_id, *_RECALLED),
    )
    happened: list[_Entry] = []
    for row in rows:
        entry = _Entry(row["kind"], msgspec.json.decode(row["data"]))
        if entry.kind == "decision":
            happened = [one for one in happened if not _overruled(one, entry.place)]
        happened.append(entry)
    return happened


def _overruled(entry: _Entry, place: tuple[str, int]) -> bool:
    """Whether a decision at this place makes anew what this entry says."""
    return entry.kind != "roster" and (entry.place == place or is_later(entry.place, place))


def _recall_group(lesson: Lesson, happened: list[_Entry]) -> None:
    """Changes of the group and turns, each in its order: so nobody is owed what was missed."""
    turns = {
        place: action
        for place, action in lesson.course.announced
        if isinstance(action, TakeTurn) and place in lesson.course.decisions
    }
    for entry in happened:
        if entry.kind == "roster":
            lesson.roster.change(msgspec.convert(_wish(entry.data), type=ChangeRoster))
        elif entry.kind == "decision" and entry.place in turns:
            action = turns[entry.place]
            stations = _stations_at(lesson, entry.place)
            station = stations.index(action.station) if action.station in stations else 0
            reply = lesson.course.decisions[entry.place]
            lesson.roster.recall_turn(entry.place, reply, station, action.slot)


def _stations_at(lesson: Lesson, place: tuple[str, int]) -> tuple[str, ...]:
    """The stations side by side at this place; one without a name outside of forks."""
    fork = fork_of(place[0])
    return ("",) if fork is None else lesson.course.forks[fork]


def _recall_calls(lesson: Lesson, happened: list[_Entry]) -> None:
    """Who is on; and what was still to be called when the lesson was broken off is due again."""
    begun = {entry.place for entry in happened if entry.kind == "turn"}
    for place, action in lesson.course.announced:
        if isinstance(action, TakeTurn):
            _recall_turn_on_court(lesson, place, action, place in begun)
        elif place not in lesson.course.decisions and not _is_past(lesson, place):
            lesson.when_due(action.at_s, place, partial(lesson.speak, place, action.text))


def _recall_turn_on_court(
    lesson: Lesson, place: tuple[str, int], action: TakeTurn, begun: bool
) -> None:
    player = getattr(lesson.course.decisions.get(place), "player", None)
    if not begun and not _is_past(lesson, place):
        begins = partial(lesson.turn_begins, place, action.station, player)
        lesson.when_due(action.called_s, place, begins)
        return
    in_progress = place[0] in lesson.course.lanes
    name = lesson.roster.name(player) if in_progress else None
    lesson.roster.begins(place, action.station, name)


def _is_past(lesson: Lesson, place: tuple[str, int]) -> bool:
    """Whether a ball after this place has left, or its stations are over: it was said then."""
    lane, number = place
    if lane not in lesson.course.lanes:
        return True
    return lane in lesson.last_place and lesson.last_place[lane][1] > number


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
            unsettled.append(_unsettled(lesson, row, _planned_utc_s(row, rows)))
    lesson.unsettled = tuple(unsettled)


def _planned_utc_s(row: Any, rows: list[Any]) -> float:
    """When this ball was to leave; by the launcher's last ball whose leaving was measured."""
    for other in reversed(rows):
        if other["launcher"] == row["launcher"] and other["left_device_s"] and other["left_utc_s"]:
            ahead_s = row["leave_at_device_s"] - other["left_device_s"]
            return float(max(other["left_utc_s"] + ahead_s, row["intent_utc_s"]))
    return float(row["intent_utc_s"])


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


def _unsettled(lesson: Lesson, row: Any, planned_utc_s: float) -> Ball:
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
        setting=lesson.plan.feeds[row["feed_index"]].setting,
        lesson_s=0.0,
        device_s=row["leave_at_device_s"],
        host_s=lesson.wall.host(planned_utc_s),
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


def decisions_of(happened: list[_Entry]) -> dict[tuple[str, int], Reply]:
    """What was decided, and which calls were made: those are not made again."""
    said: dict[tuple[str, int], Reply] = {e.place: True for e in happened if e.kind == "said"}
    decided = {e.place: _reply(e.data["reply"]) for e in happened if e.kind == "decision"}
    return said | decided


def _reply(data: Any) -> Reply:
    """The reply that ``reply_as_data`` wrote."""
    if isinstance(data, dict) and "jump" in data:
        return Jump(data["jump"])
    if isinstance(data, dict):
        return OnTurn(data["player"], data["left_handed"])
    return bool(data) if data is not None else None
