"""Nodes of the steps of a lesson."""

from __future__ import annotations

from typing import Any

from feedscript.language.parse.token import Token
from feedscript.language.parse.tree.values import (
    FeedRef,
    Name,
    Number,
    SyntaxNode,
    Text,
    Value,
)


class Block(SyntaxNode, frozen=True, gc=False):
    """The steps between braces."""

    steps: tuple[Any, ...]


class LevelFeed(SyntaxNode, frozen=True, gc=False):
    """What a level is sent; for ``otherwise`` every level that is not named."""

    level: Token
    feed: FeedRef


class RequestLimit(SyntaxNode, frozen=True, gc=False):
    """``at most 12``, or ``not before 3 s`` where it is the ``gap``."""

    gap: bool
    value: Value


class Request(SyntaxNode, frozen=True, gc=False):
    """``when coach taps``, with what limits it."""

    limits: tuple[RequestLimit, ...]


class SendSyntax(SyntaxNode, frozen=True, gc=False):
    """``feeds`` instead of a feed: one for each level. With a ``request``: balls on request."""

    feed: FeedRef | None
    feeds: tuple[LevelFeed, ...]
    after: Value | None
    vary: Value | None
    request: Request | None = None


class ShowSyntax(SyntaxNode, frozen=True, gc=False):
    feed: FeedRef


class RestSyntax(SyntaxNode, frozen=True, gc=False):
    value: Value


class SaySyntax(SyntaxNode, frozen=True, gc=False):
    text: Text


class CollectSyntax(SyntaxNode, frozen=True, gc=False):
    pass


class BreakSyntax(SyntaxNode, frozen=True, gc=False):
    value: Value
    text: Text | None


class WaitSyntax(SyntaxNode, frozen=True, gc=False):
    text: Text


class RepeatSyntax(SyntaxNode, frozen=True, gc=False):
    times: Value
    body: Block


class OptionSyntax(SyntaxNode, frozen=True, gc=False):
    weight: Number | Name
    body: Block


class ChooseSyntax(SyntaxNode, frozen=True, gc=False):
    seed: Token | None
    options: tuple[OptionSyntax, ...]


class ShuffleSyntax(SyntaxNode, frozen=True, gc=False):
    seed: Token | None
    body: Block


class ConditionSyntax(SyntaxNode, frozen=True, gc=False):
    """``share`` says whether ``count`` is a share of the ``last`` balls."""

    count: Number | Name
    share: bool
    outcome: Token
    in_a_row: bool
    last: Number | Name | None
    feed: FeedRef | None


class UntilSyntax(SyntaxNode, frozen=True, gc=False):
    condition: ConditionSyntax
    most: Value
    body: Block


class WhenSyntax(SyntaxNode, frozen=True, gc=False):
    """``player``: whose balls are asked about, where it is somebody by name."""

    player: Text | None
    condition: ConditionSyntax
    body: Block
    otherwise: Block | None


class MoveSyntax(SyntaxNode, frozen=True, gc=False):
    """``step up NAME`` or ``step down NAME``; of whoever is on turn, or of a player by name."""

    way: Token
    progression: Name
    player: Text | None

    @property
    def up(self) -> bool:
        return self.way.type == "STEP_UP"


class RotateSyntax(SyntaxNode, frozen=True, gc=False):
    """``collect``: the words ``collect between``, where they stand."""

    every: Value
    balls: bool
    collect: Token | None
    body: Block


class EachSyntax(SyntaxNode, frozen=True, gc=False):
    """``named``: turns for these players and subgroups; else for each player except these."""

    named: bool
    names: tuple[Text, ...]
    body: Block


class ForTimeSyntax(SyntaxNode, frozen=True, gc=False):
    value: Value
    body: Block


class RotateStationsSyntax(SyntaxNode, frozen=True, gc=False):
    every: Value
    collect: Token | None
    stations: tuple[StationSyntax, ...]


class WorkSyntax(SyntaxNode, frozen=True, gc=False):
    text: Text
    time: Value | None


class WorkTimeSyntax(SyntaxNode, frozen=True, gc=False):
    """``for 2 min`` with no work before it."""

    time: Value


class StationSyntax(SyntaxNode, frozen=True, gc=False):
    name: Text
    launcher: Token | None
    place: Any  # Place, PlaceAt or None
    body: Block


class TogetherSyntax(SyntaxNode, frozen=True, gc=False):
    stations: tuple[StationSyntax, ...]


class NoteSyntax(SyntaxNode, frozen=True, gc=False):
    """``aim``, ``watch``, ``easier``, ``harder`` or ``target`` with words: ``word`` says which."""

    word: Token
    text: Text


class Shot(SyntaxNode, frozen=True, gc=False):
    """``in``, ``in court``, ``in target`` or ``in "NAME"``: what a player's own shot shall do.

    ``where`` is the word or the name behind ``in``; ``word`` says ``in target`` as one.
    """

    word: Token
    where: Any  # Token, Text or None


class GoalSyntax(SyntaxNode, frozen=True, gc=False):
    """``goal …``; ``share`` says whether ``count`` is a share, ``of`` is of how many balls."""

    count: Number | Name
    share: bool
    in_a_row: bool
    of: Number | Name | None
    shot: Shot | None


class Points(SyntaxNode, frozen=True, gc=False):
    """One line of a score: what a shot or an error gives, to the player or the launcher."""

    word: Any  # Shot, or the Token of an error
    launcher: bool
    count: Number


class ScoreSyntax(SyntaxNode, frozen=True, gc=False):
    word: Token
    to: Number | Name | None
    pairs: bool
    properties: tuple[Points, ...]


class ExerciseSyntax(SyntaxNode, frozen=True, gc=False):
    """``notes`` stand at the head of ``body``, within its braces."""

    title: Text
    planned: Value | None
    repeats: Value | None
    notes: tuple[Any, ...]  # HEAD_LINES
    body: Block


class Slot(SyntaxNode, frozen=True, gc=False):
    """One argument of a call, after its parameter's name where that is written."""

    name: Token | None
    value: Any  # Value or Mirrored


class CallSyntax(SyntaxNode, frozen=True, gc=False):
    pattern: Name
    slots: tuple[Slot, ...]
    mirror: bool
