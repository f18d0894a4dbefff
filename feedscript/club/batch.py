"""What a court sends the club, in the shape in which both sides know it.

A lesson is known by its court and the name that the court gave it; an event by its number there,
counted from 1 in the order of the journal's entries.
"""

from __future__ import annotations

from typing import Annotated, TypeAlias

import msgspec

#: The most that is taken at once. Design values: a lesson's busiest minute is some hundred events
#: of a few hundred bytes; the largest shipped plan with its profiles is under 1 MB.
MOST_BODY_BYTES = 16_000_000
MOST_EVENTS = 1_000
MOST_LESSONS = 100

#: PostgreSQL keeps no NUL in a text.
Text: TypeAlias = Annotated[str, msgspec.Meta(max_length=100_000, pattern=r"\A[^\x00]*\Z")]
LongText: TypeAlias = Annotated[str, msgspec.Meta(max_length=8_000_000, pattern=r"\A[^\x00]*\Z")]
Utc: TypeAlias = Annotated[float, msgspec.Meta(ge=0.0, le=1e11)]  # to the year 5138
Number: TypeAlias = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]
Kind: TypeAlias = Annotated[str, msgspec.Meta(pattern=r"\A[a-z][a-z0-9-]{0,60}\Z")]
LauncherNumber: TypeAlias = Annotated[int, msgspec.Meta(ge=0, le=1000)]
#: The journal's number of the lesson, and its token, which no other journal has.
LessonName: TypeAlias = Annotated[str, msgspec.Meta(pattern=r"\A[0-9]{1,9}-[0-9a-f]{8}\Z")]


class Header(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a lesson is, as its journal has it; sent with its first events."""

    begun_utc_s: Utc
    title: Text
    source: Text
    rehearsal: bool
    plan: LongText  # canonical JSON
    profiles: LongText  # JSON list, one a launcher
    group_json: Text
    event_format: Annotated[int, msgspec.Meta(ge=0, le=1000)]


class Event(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An entry of the journal, byte for byte."""

    number: Number
    utc_s: Utc
    kind: Kind
    launcher: LauncherNumber | None
    data: Text  # a JSON object


class Mark(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """By what an event is known again: what no forgetting changes of it."""

    utc_s: Utc
    kind: Kind
    launcher: LauncherNumber | None


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Some of one lesson's events, in order. ``behind`` is the event before the first of them, as
    the court's journal has it: another one was put back from a copy, and went on from there."""

    lesson: LessonName
    header: Header | None = None
    behind: Mark | None = None
    events: Annotated[tuple[Event, ...], msgspec.Meta(max_length=MOST_EVENTS)]


class Batch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a court sends at once: kept whole, or not at all."""

    parts: Annotated[tuple[Part, ...], msgspec.Meta(max_length=MOST_LESSONS)]


class Held(msgspec.Struct, frozen=True):
    """The highest number that the club holds of each lesson named; 0 for none."""

    held: dict[str, int]


def lesson_name(session_id: int, token: int) -> str:
    """The name under which a journal's lesson is sent."""
    return f"{session_id}-{token:08x}"
