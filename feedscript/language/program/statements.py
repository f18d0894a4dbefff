"""The steps of a lesson, resolved."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program.goals import GoalDecl, ScoreDecl, TargetDecl
from feedscript.language.program.recorded import Recorded


class RecordCondition(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A question to the record of the turn (or of the lesson, outside a turn).

    ``share`` None: ``count`` balls with this record, in a row where ``in_a_row``. ``share`` given:
    at least this share of the last ``count`` balls. ``feed`` narrows it to one feed's balls;
    ``player`` makes it a question about all balls that this player has had in the lesson.
    """

    outcome: Recorded
    count: int
    in_a_row: bool = False
    share: float | None = None
    feed: str | None = None
    player: str | None = None
    span: Span


class StatementNode(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What every step has."""

    span: Span
    calls: tuple[Span, ...] = ()


class SendStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One ball, ``after_s`` past the one before, moved by at most ``vary_s`` either way.

    ``by_level``: the feed of each level that may be on turn here; everybody else gets ``feed``.
    ``at_most`` given: up to so many balls, each when the coach taps, and not before ``after_s``.
    """

    feed: str
    after_s: float
    vary_s: float = 0.0
    at_most: int | None = None
    by_level: Mapping[str, str] = {}

    def feed_of(self, level: str | None) -> str:
        """The feed for a player of this level."""
        return self.feed if level is None else self.by_level.get(level, self.feed)


class ShowSpeedStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One ball of the feed, watched from the side with nobody in front."""

    feed: str


class RestStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Nothing leaves for this long."""

    seconds: float


class SayStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Words for the players."""

    text: str


class CollectStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The launcher is made safe, balls are picked up, a person arms it again.

    A ``break`` has its time; a ``break`` and a ``wait for coach`` have words.
    """

    words: str = ""
    break_s: float | None = None


class RepeatStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body, so many times (at least once)."""

    times: int
    body: tuple[Statement, ...]


class ForTimeStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body, whole, as often as its longest run surely fits into this time; at least once."""

    seconds: float
    body: tuple[Statement, ...]


class OptionStatement(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One way of a choice and its weight (at least 1)."""

    weight: int
    body: tuple[Statement, ...]
    span: Span


class ChooseStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One of the options, drawn by weight each time the step is reached."""

    options: tuple[OptionStatement, ...]
    seed: int | None = None


class ShuffleStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Every item once, in an order drawn each time the step is reached."""

    items: tuple[tuple[Statement, ...], ...]
    seed: int | None = None


class UntilStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body again and again until the condition holds, at most ``most`` times.

    The condition is asked before each round; rounds recorded before the step do not count.
    """

    condition: RecordCondition
    most: int
    body: tuple[Statement, ...]


class WhenStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """``body`` if the condition holds when the step is reached, else ``otherwise``."""

    condition: RecordCondition
    body: tuple[Statement, ...]
    otherwise: tuple[Statement, ...] = ()


class MoveStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Whoever is on turn, or ``player``, goes one rung up or down the progression."""

    progression: str
    up: bool
    player: str | None = None


class RotateStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Every player of the group has one turn (at each station, where there are several).

    A turn repeats the body whole: as often as its longest run fits into ``every_s``, or as its
    most balls fit into ``every_balls``; at least once. Exactly one of the two is set. With
    ``collects`` all stations stop and balls are picked up between its rounds.
    """

    every_s: float | None
    every_balls: int | None
    collects: bool = False
    body: tuple[Statement, ...]


class EachPlayerStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body once for each player, who is then the one on turn.

    ``names``: for these players of the group only, in its order. ``named``: the program names
    them; else it leaves others out, and whoever comes late joins in.
    """

    body: tuple[Statement, ...]
    names: tuple[str, ...] | None = None
    named: bool = False


class WorkStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """What players do by themselves, for so long or as long as their station runs."""

    text: str
    seconds: float | None = None


class StationStatement(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One station of a ``together``: its own launcher, or None; its own clock.

    ``at_m``: the outline of the ground where the people of a station without a launcher are.
    """

    name: str
    launcher: str | None
    body: tuple[Statement, ...]
    span: Span
    at_m: tuple[tuple[float, float], ...] = ()


class TogetherStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Stations that run side by side; the step ends when the last of them has ended."""

    stations: tuple[StationStatement, ...]


class ExerciseStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """A named part of the lesson, which a person on court may skip, repeat and jump to.

    ``repeats``: so often at most it may be done once more. ``planned_s``: the time meant for it.
    """

    title: str
    aim: str = ""
    watch: str = ""
    easier: str = ""
    harder: str = ""
    planned_s: float | None = None
    repeats: int
    target: TargetDecl | None = None
    goals: tuple[GoalDecl, ...] = ()
    score: ScoreDecl | None = None
    body: tuple[Statement, ...]


Statement: TypeAlias = (
    SendStatement
    | ShowSpeedStatement
    | RestStatement
    | SayStatement
    | CollectStatement
    | RepeatStatement
    | ForTimeStatement
    | ChooseStatement
    | ShuffleStatement
    | UntilStatement
    | WhenStatement
    | MoveStatement
    | RotateStatement
    | EachPlayerStatement
    | WorkStatement
    | TogetherStatement
    | ExerciseStatement
)
