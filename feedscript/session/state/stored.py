"""The rows of a journal, each held against the shape in which it is written before it is believed.

A journal is a file, and a file may come from anywhere: SQLite lets any value stand in any column.
"""

from __future__ import annotations

from collections.abc import Sequence
from sqlite3 import Row
from typing import Annotated, Literal, TypeAlias

import msgspec

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.schema import JOURNAL_UNUSABLE
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Result
from feedscript.session.operator.phases import Phase
from feedscript.session.state.events import Count, DeviceTime, FeedId, Metres, Name, Utc

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
    event_format: Count


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


def see_rows(path: str, lesson: int, rows: Sequence[Row], shape: type[msgspec.Struct]) -> None:
    """Raises FeedscriptError for the first row that is not of this shape."""
    table = shape.__name__.removesuffix("Row").lower()
    for row in rows:
        try:
            msgspec.convert(dict(row), type=shape, builtin_types=(bytes,))
        except (msgspec.ValidationError, UnicodeEncodeError) as trouble:
            raise unbelievable(
                path, lesson, f"a {table} is not as one is written: {trouble}"
            ) from trouble


def unbelievable(path: str, lesson: int, what: str) -> FeedscriptError:
    """What is said of a lesson that something else than feedscript wrote."""
    return FeedscriptError(
        JOURNAL_UNUSABLE.report(
            f"lesson {lesson} cannot be believed: {what}",
            device=path,
            help="the file was changed by something else: keep it as it is, and read from a backup "
            "with --journal",
        )
    )
