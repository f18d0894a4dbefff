"""The rows of a journal, each held against the shape in which it is written before it is believed.

A journal is a file, and a file may come from anywhere: SQLite lets any value stand in any column.
"""

from __future__ import annotations

from collections.abc import Sequence
from sqlite3 import Row
from typing import Annotated, Literal, TypeAlias, TypeVar

import msgspec

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.schema import JOURNAL_UNUSABLE
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Result

#: The farthest a marked landing may lie from the middle of the net: a court of 36.6 m by 18.3 m
#: with its run-offs, and the fence behind it. Design value.
LANDING_MOST_M = 30.0

Utc: TypeAlias = Annotated[float, msgspec.Meta(ge=0.0, le=1e11)]  # to the year 5138
DeviceTime: TypeAlias = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]  # decades
Count: TypeAlias = Annotated[int, msgspec.Meta(ge=0, le=10_000_000)]
FeedId: TypeAlias = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]
Metres: TypeAlias = Annotated[float, msgspec.Meta(ge=-LANDING_MOST_M, le=LANDING_MOST_M)]
Name: TypeAlias = Annotated[str, msgspec.Meta(max_length=1000)]
#: "" for a lesson's own; that of a station has its fork's number there, and its name.
Lane: TypeAlias = Annotated[str, msgspec.Meta(max_length=1000, pattern=r"^([0-9]{1,8}/.+)?$")]
YesOrNo: TypeAlias = Literal[0, 1]
#: How a lesson ends, by the names of the phases after which nothing follows.
LessonEnd: TypeAlias = Literal["finished", "broken-off"]


class SessionRow(msgspec.Struct, frozen=True, kw_only=True):
    """The head of a lesson."""

    id: Count
    token: Annotated[int, msgspec.Meta(ge=1, le=2**32 - 1)]
    begun_utc_s: Utc
    ended_utc_s: Utc | None
    ending: LessonEnd | None
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
    lane: Lane
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

    @property
    def landing_m(self) -> tuple[float, float] | None:
        """Where the player's shot came down, in court axes, if somebody marked it."""
        if self.landing_x_m is None or self.landing_y_m is None:
            return None
        return self.landing_x_m, self.landing_y_m


class EntryRow(msgspec.Struct, frozen=True, kw_only=True):
    """Something that happened."""

    utc_s: Utc
    kind: str
    launcher: Count | None
    data: str


Shape = TypeVar("Shape", bound=msgspec.Struct)


def believed(path: str, lesson: int, rows: Sequence[Row], shape: type[Shape]) -> list[Shape]:
    """The rows in this shape. Raises FeedscriptError for the first that is not of it."""
    try:
        return [msgspec.convert(dict(row), type=shape, builtin_types=(bytes,)) for row in rows]
    except (msgspec.ValidationError, UnicodeEncodeError) as trouble:
        table = shape.__name__.removeprefix("Kept")
        for ending in ("Row", "Seen", "Kept"):
            table = table.removesuffix(ending)
        raise unbelievable(
            path, lesson, f"a {table.lower()} is not as one is written: {trouble}"
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
