"""What a running lesson shows, and what may be said to it: the contract of terminal and page.

A :class:`Snapshot` is the whole truth at one moment, immutable, numbered and rising; whoever shows
it keeps nothing of its own. A :class:`Command` is what a person asks for; it is answered with None
(accepted) or a Diagnostic (refused, and nothing changed). What belongs to the coach alone stands in
``private`` and is taken off before a snapshot goes to a viewer.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Protocol, TypeAlias

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Result
from feedscript.session.states import Act, Phase


class SetUpStep(msgspec.Struct, frozen=True, kw_only=True):
    """One thing a person looks at before the launcher may be armed."""

    key: str
    words: str
    done: bool


class LauncherView(msgspec.Struct, frozen=True, kw_only=True):
    """One launcher as the lesson knows it. ``linked`` is false from the moment its line is lost."""

    name: str
    state: LauncherState
    linked: bool
    hopper_balls: int | None
    mouth_m: tuple[float, float]
    reason: str = ""


class ComingBall(msgspec.Struct, frozen=True, kw_only=True):
    """The next ball of a launcher; ``leaves_in_s`` from the moment of the snapshot."""

    launcher: str
    feed: str
    player: str | None
    leaves_in_s: float
    landing_m: tuple[float, float]


class FedBall(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that left, where it was aimed, and what it became if that was recorded."""

    feed_id: int
    number: int
    feed: str
    player: str | None
    landing_m: tuple[float, float]
    result: Result | None


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """Words for everyone on court, spoken once by the page; numbered so that none repeats."""

    number: int
    words: str


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """One player's records so far."""

    player: str
    balls: int
    recorded: int
    made: int


class Ask(msgspec.Struct, frozen=True, kw_only=True):
    """A question the coach may put to one player, alone."""

    player: str | None
    noticed: str
    question: str


class Private(msgspec.Struct, frozen=True, kw_only=True):
    """For the coach alone; never on a viewer's screen."""

    ask: Ask | None = None
    tallies: tuple[Tally, ...] = ()


class Trouble(msgspec.Struct, frozen=True, kw_only=True):
    """What went wrong and what to do about it."""

    slug: str
    message: str
    help: str


class Snapshot(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson at one moment."""

    number: int
    title: str
    rehearsal: bool
    phase: Phase
    allowed: tuple[Act, ...]
    waits_for: str  # in plain words, what a person should do now; empty while it runs
    set_up: tuple[SetUpStep, ...]
    launchers: tuple[LauncherView, ...]
    balls_sent: int
    balls_most: int
    elapsed_s: float
    time_most_s: float
    tempo: float  # 1 as written; 0.8 is faster, 1.3 slower
    on_turn: tuple[str, ...]
    next_up: tuple[str, ...]
    players: tuple[str, ...]
    resting: tuple[str, ...]
    coming: tuple[ComingBall, ...]
    fed: tuple[FedBall, ...]  # the last twelve, newest last
    calls: tuple[Call, ...]  # the last few, newest last
    trouble: Trouble | None = None
    question_feed_id: int | None = None  # the ball of which it is asked whether it left
    private: Private = Private()


class Do(msgspec.Struct, frozen=True, kw_only=True, tag_field="say", tag="do"):
    """One of the acts of the table. ``step`` names a set-up step; ``left`` answers Act.ANSWER."""

    act: Act
    step: str | None = None
    left: bool | None = None


class Tap(msgspec.Struct, frozen=True, kw_only=True, tag_field="say", tag="tap"):
    """What a ball became; without ``feed_id`` it goes to the ball that the moment means."""

    result: Result
    feed_id: int | None = None


class Undo(msgspec.Struct, frozen=True, kw_only=True, tag_field="say", tag="undo"):
    """Take the last record back."""


class Roster(msgspec.Struct, frozen=True, kw_only=True, tag_field="say", tag="roster"):
    """Somebody joins, leaves, rests or is back."""

    player: str
    change: str  # "join", "leave", "rest", "back"


class PlayedTone(msgspec.Struct, frozen=True, kw_only=True, tag_field="say", tag="played-tone"):
    """The sync tone for the video was just played."""


Command: TypeAlias = Do | Tap | Undo | Roster | PlayedTone


class LessonControl(Protocol):
    """The running lesson as terminal and page see it."""

    @property
    def snapshot(self) -> Snapshot:
        """The latest one."""
        ...

    async def command(self, command: Command, by: str) -> Diagnostic | None:
        """Ask for something. ``by`` names the device for the journal. Stop never waits."""
        ...

    def changes(self) -> AsyncIterator[Snapshot]:
        """Every further snapshot, the latest first; one that comes too fast may be left out."""
        ...
