"""What a person may tell a running lesson: plain frozen data, the same from keys and from a page.

Each command has a ``do`` tag, so that ``{"do": "record", "result": "long"}`` is what a page sends.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.plan.model import Result
from feedscript.session.operator.phases import Act


class SimpleCommand(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="act"):
    """An act that needs no more words: hold, go on, next, again, skip, slower, faster, stop, …"""

    act: Act


class ToExercise(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="exercise"):
    """Go to the exercise of this number, counted from 1, over a collect."""

    number: int


class SetRung(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="rung"):
    """A player begins on this rung of a progression, counted from 0."""

    player: str
    progression: str
    rung: int


class Confirm(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="confirm"):
    """One step of the set-up list was done."""

    key: str


class Answer(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="answer"):
    """What a person saw of a ball whose outcome the launcher does not know."""

    feed_id: int
    left: bool


class RecordResult(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="record"):
    """What a ball became. Without ``feed_id``, the ball that the time of the tap means; with a
    ``station``, of those that were played there.

    ``ago_s`` is how long before it reached the lesson the tap was made, as a page knows it.
    """

    result: Result
    feed_id: int | None = None
    ago_s: float = 0.0
    station: str = ""


class MarkLanding(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="landing"):
    """Where the shot of the newest record, or of ball ``feed_id``, came down (court axes, m)."""

    landing_m: tuple[float, float]
    feed_id: int | None = None


class SeenBy(StrEnum):
    """How a person knows where a feed came down, in a lesson that measures."""

    EYE = "eye"  # tapped on the picture of the court
    TAPE = "tape"  # measured from two of its lines
    FILM = "film"  # it will be, in a film named afterwards
    NOBODY = "nobody"  # the ball is left out


class MarkFeed(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="mark-feed"):
    """Where ball ``feed_id`` itself came down (court axes, m), where an eye or a tape tells it."""

    feed_id: int
    seen_by: SeenBy
    landing_m: tuple[float, float] | None = None


class UndoResult(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="take-back"):
    """Undo the newest record."""


class RosterChange(StrEnum):
    """How the group changes."""

    JOIN = "join"  # a new player, or one who comes back
    LEAVE = "leave"
    REST = "rest"


class ChangeRoster(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="roster"):
    """A player comes, goes or rests. ``stage`` and ``level`` of one who comes, where they differ
    from the group's."""

    change: RosterChange
    player: str
    left_handed: bool = False
    stage: str | None = None
    level: str | None = None


class EnterCode(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="arming-code"):
    """The number a person reads from the display of a launcher that shows one."""

    launcher: int
    code: str


class PlayedTone(msgspec.Struct, frozen=True, kw_only=True, tag_field="do", tag="played-tone"):
    """The sync tone for the video began ``ago_s`` before this reached the lesson.

    Negative where it is still on its way out of the loudspeaker, as a page knows it.
    """

    ago_s: float = 0.0


Command: TypeAlias = (
    SimpleCommand
    | ToExercise
    | SetRung
    | Confirm
    | Answer
    | RecordResult
    | MarkLanding
    | MarkFeed
    | UndoResult
    | ChangeRoster
    | EnterCode
    | PlayedTone
)
