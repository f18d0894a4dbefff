"""What a journal holds of a lesson, looked through whole before any of it is believed.

A journal is a file, and a file may come from anywhere: SQLite lets any value stand in any column.
So every row is held against the shape in which it is written, and, before a lesson goes on, against
the plan it belongs to and the most that a lesson has.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from sqlite3 import Row
from typing import Annotated, Any, Literal, TypeAlias

import msgspec

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.schema import JOURNAL_UNUSABLE
from feedscript.journal.store import Journal
from feedscript.launcher.port import Outcome
from feedscript.plan.interpreter.actions import Jump
from feedscript.plan.model import Plan, Result
from feedscript.session.engine.plan_cursor import MAIN
from feedscript.session.group.records import LANDING_MOST_M
from feedscript.session.group.roster import roster_of
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.operator.phases import Phase
from feedscript.visible import HIDDEN

#: The most rows of a kind that a lesson is believed to have: days of balls and taps. Design values.
MOST_BALLS = 20_000
MOST_RESULTS = 20_000
MOST_DECISIONS = 20_000
MOST_CHANGES = 500
#: A launcher is asked for one or two balls ahead. More than this of which nobody knows what became
#: were never asked for by a lesson. Design value.
MOST_OPEN = 16

Utc: TypeAlias = Annotated[float, msgspec.Meta(ge=0.0, le=1e11)]  # to the year 5138
DeviceTime: TypeAlias = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]  # decades
Count: TypeAlias = Annotated[int, msgspec.Meta(ge=0, le=10_000_000)]
FeedId: TypeAlias = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]
Metres: TypeAlias = Annotated[float, msgspec.Meta(ge=-LANDING_MOST_M, le=LANDING_MOST_M)]
Name: TypeAlias = Annotated[str, msgspec.Meta(max_length=1000)]
YesOrNo: TypeAlias = Literal[0, 1]


class SessionRow(msgspec.Struct, frozen=True, kw_only=True):
    """The head of a lesson."""

    id: Count
    token: Annotated[int, msgspec.Meta(ge=1, le=2**32 - 1)]
    begun_utc_s: Utc
    ended_utc_s: Utc | None
    ending: Phase | None
    title: Name
    source: Annotated[str, msgspec.Meta(max_length=10_000)]
    rehearsal: YesOrNo
    plan: bytes
    profiles: bytes
    group_json: str


class BallRow(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that was intended, and what became of it."""

    feed_id: FeedId
    ball_no: Count
    launcher: Count
    feed: Name
    player: Name | None
    feed_index: Count
    station: Name
    lane: Name
    number: Count
    shown: YesOrNo
    leave_at_device_s: DeviceTime
    intent_utc_s: Utc
    outcome: Outcome | None
    outcome_utc_s: Utc | None
    left_device_s: DeviceTime | None
    left_utc_s: Utc | None
    reason: str


class ResultRow(msgspec.Struct, frozen=True, kw_only=True):
    """What a player made of a ball."""

    feed_id: FeedId
    result: Result
    utc_s: Utc
    taken_back: YesOrNo
    landing_x_m: Metres | None
    landing_y_m: Metres | None


class EntryRow(msgspec.Struct, frozen=True, kw_only=True):
    """Something that happened."""

    utc_s: Utc
    kind: str
    launcher: Count | None
    data: str


class _Place(msgspec.Struct, frozen=True, kw_only=True):
    lane: Name
    number: Count


class _Jumped(msgspec.Struct, frozen=True, kw_only=True):
    jump: Jump


class _Turn(msgspec.Struct, frozen=True, kw_only=True):
    player: Count
    left_handed: bool


class _Decision(_Place, frozen=True, kw_only=True):
    reply: bool | dict[str, Any] | None

    @property
    def answer(self) -> _Jumped | _Turn | None:
        """The reply, where it is more than a yes or no. Raises ValidationError for any other."""
        if not isinstance(self.reply, dict):
            return None
        if "jump" in self.reply:
            return msgspec.convert(self.reply, type=_Jumped)
        return msgspec.convert(self.reply, type=_Turn)


class _Change(msgspec.Struct, frozen=True, kw_only=True):
    change: RosterChange
    player: Annotated[str, msgspec.Meta(min_length=1, max_length=40)]
    left_handed: bool = False
    stage: Name | None = None
    level: Name | None = None

    @property
    def command(self) -> ChangeRoster:
        return ChangeRoster(**msgspec.structs.asdict(self))


#: The entries that a lesson that goes on is made of again.
_SHAPES: dict[str, type[msgspec.Struct]] = {
    "roster": _Change,
    "decision": _Decision,
    "said": _Place,
    "turn": _Place,
}


def see_rows(path: str, lesson: int, rows: Sequence[Row], shape: type[msgspec.Struct]) -> None:
    """Raises FeedscriptError for the first row that is not of this shape."""
    table = shape.__name__.removesuffix("Row").lower()
    for row in rows:
        try:
            msgspec.convert(dict(row), type=shape, builtin_types=(bytes,))
        except (msgspec.ValidationError, UnicodeEncodeError) as trouble:
            raise _odd(path, lesson, f"a {table} is not as one is written: {trouble}") from trouble


def see_that_it_may_go_on(journal: Journal, lesson: int, plan: Plan) -> None:
    """Look through all that stands of a lesson. Raises FeedscriptError for the first oddity."""
    found = next(_oddities(journal, lesson, plan), None)
    if found is not None:
        raise _odd(journal.path, lesson, found)


def _odd(path: str, lesson: int, what: str) -> FeedscriptError:
    return FeedscriptError(
        JOURNAL_UNUSABLE.report(
            f"lesson {lesson} cannot be believed: {what}",
            device=path,
            help="the file was changed by something else: keep it as it is, and read from a backup "
            "with --journal",
        )
    )


def _oddities(journal: Journal, lesson: int, plan: Plan) -> Iterator[str]:
    yield from _too_many(journal, lesson, len(plan.launchers))
    for text in _texts(msgspec.to_builtins(plan)):
        if HIDDEN.search(text):
            yield f"its plan holds a character that is not seen, in {text[:40]!r}"
    balls = _rows(journal, lesson, "ball", BallRow)
    for ball in balls:
        yield from _of_ball(ball, plan)
    yield from _of_results(_rows(journal, lesson, "result", ResultRow), balls)
    kinds = ", ".join(f"'{kind}'" for kind in _SHAPES)
    _rows(journal, lesson, "entry", EntryRow)
    entries = _rows(journal, lesson, "entry", EntryRow, f"AND kind IN ({kinds})")
    yield from _of_entries(entries, plan)


def _too_many(journal: Journal, lesson: int, launchers: int) -> Iterator[str]:
    decided = "kind IN ('decision', 'said', 'turn')"
    for what, table, which, most in (
        ("balls of which nobody knows what became", "ball",
         "outcome IS NULL OR outcome NOT IN ('left', 'not-sent')", launchers * MOST_OPEN),
        ("balls", "ball", "1", MOST_BALLS),
        ("results", "result", "1", MOST_RESULTS),
        ("decisions and calls", "entry", decided, MOST_DECISIONS),
        ("changes of the group", "entry", "kind = 'roster'", MOST_CHANGES),
    ):  # fmt: skip
        query = f"SELECT COUNT(*) FROM {table} WHERE session_id = ? AND ({which})"
        count = journal.rows(query, (lesson,))[0][0]
        if count > most:
            yield f"it has {count} {what}, and no lesson has more than {most}"


def _rows(
    journal: Journal, lesson: int, table: str, shape: type[msgspec.Struct], more: str = ""
) -> list[Row]:
    order = {"ball": "feed_id"}.get(table, "id")
    query = f"SELECT * FROM {table} WHERE session_id = ? {more} ORDER BY {order}"
    rows = journal.rows(query, (lesson,))
    see_rows(journal.path, lesson, rows, shape)
    return rows


def _of_ball(ball: Mapping[str, Any] | Row, plan: Plan) -> Iterator[str]:
    who = f"ball {ball['feed_id']}"
    if ball["feed_index"] >= len(plan.feeds):
        yield f"{who} is of feed {ball['feed_index']}, and the plan has {len(plan.feeds)}"
    elif plan.feeds[ball["feed_index"]].launcher != ball["launcher"]:
        yield f"{who} is of launcher {ball['launcher']}, and its feed is of another"
    if not _is_lane(ball["lane"]):
        yield f"{who} is of a lane {ball['lane']!r}"
    if ball["outcome"] == Outcome.LEFT and ball["outcome_utc_s"] is None:
        yield f"{who} left, and nobody wrote when it was known"
    for name in ("feed", "player", "station"):
        if HIDDEN.search(ball[name] or ""):
            yield f"{who} holds a character that is not seen, in its {name}"


def _is_lane(lane: str) -> bool:
    number, _, name = lane.partition("/")
    return lane == MAIN or (
        number.isascii() and number.isdigit() and len(number) < 9 and bool(name)
    )


def _of_results(results: Sequence[Row], balls: Sequence[Row]) -> Iterator[str]:
    known = {ball["feed_id"] for ball in balls}
    for row in results:
        if row["feed_id"] not in known:
            yield f"a result is of ball {row['feed_id']}, which it does not have"
        if (row["landing_x_m"] is None) != (row["landing_y_m"] is None):
            yield f"the landing of ball {row['feed_id']} is half there"


def _of_entries(entries: Sequence[Row], plan: Plan) -> Iterator[str]:
    """Those that the lesson is made of again, in their order."""
    roster = roster_of(plan.group, stations=1)
    for row in entries:
        try:
            said = msgspec.json.decode(row["data"], type=_SHAPES[row["kind"]])
            answer = said.answer if isinstance(said, _Decision) else None
        except (msgspec.MsgspecError, UnicodeError, RecursionError) as trouble:
            yield f"a {row['kind']} is not as one is written: {trouble}"
            return
        if isinstance(said, _Change):
            refused = roster.change(said.command)
            if refused is not None:
                yield f"the group changed as it could not: {refused.message}"
        elif isinstance(said, _Place) and not _is_lane(said.lane):
            yield f"a {row['kind']} is of a lane {said.lane!r}"
        if isinstance(answer, _Turn) and answer.player >= len(roster.players):
            yield f"player {answer.player} is on turn, and there are {len(roster.players)}"


def _texts(value: Any) -> Iterator[str]:
    """Every text in plain data."""
    stack = [value]
    while stack:
        one = stack.pop()
        if isinstance(one, str):
            yield one
        elif isinstance(one, dict):
            stack.extend([*one.keys(), *one.values()])
        elif isinstance(one, list | tuple):
            stack.extend(one)
