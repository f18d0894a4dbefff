"""Nodes of what stands at the top of a program, and of the lines in its blocks."""

from __future__ import annotations

from typing import Any

from feedscript.language.parse.token import Token
from feedscript.language.parse.tree.steps import Block, GoalSyntax, NoteSyntax, ScoreSyntax
from feedscript.language.parse.tree.values import FeedRef, Number, SyntaxNode, Text, Value


class Property(SyntaxNode, frozen=True, gc=False):
    """One line of a block: its word, and what follows without the commas."""

    word: Token
    parts: tuple[Any, ...]


class PlayerLine(Property, frozen=True, gc=False):
    """``player "…" { … }``: what is said of this one player."""

    properties: tuple[Property, ...]


class Spin(SyntaxNode, frozen=True, gc=False):
    """One part of a spin; no value for ``flat``."""

    words: tuple[Token, ...]
    value: Value | None


class Labelled(SyntaxNode, frozen=True, gc=False):
    """A word and a value: one part of a wind or of a variation."""

    word: Token
    value: Value


class Header(SyntaxNode, frozen=True, gc=False):
    version: Token


class Title(SyntaxNode, frozen=True, gc=False):
    text: Text


class Seed(SyntaxNode, frozen=True, gc=False):
    number: Token


class Use(SyntaxNode, frozen=True, gc=False):
    path: Text
    name: Token | None


class Allow(SyntaxNode, frozen=True, gc=False):
    rule: Token
    because: Text


class Require(SyntaxNode, frozen=True, gc=False):
    rule: Token
    value: Value


class Let(SyntaxNode, frozen=True, gc=False):
    name: Token
    value: Value


class Declaration(SyntaxNode, frozen=True, gc=False):
    """``suits``, ``court``, ``balls``, ``launcher``, ``group``, ``coach``, ``keep out`` or
    ``target``."""

    word: Token
    name: Any  # Token of a launcher, Text of a keep-out or target, else None
    properties: tuple[Property, ...]


#: What stands at the head of an exercise, before its steps.
HEAD_LINES = (NoteSyntax, Declaration, GoalSyntax, ScoreSyntax)


class Feed(SyntaxNode, frozen=True, gc=False):
    """A feed of its own (``base`` None) or one derived from another."""

    name: Token
    base: FeedRef | None
    properties: tuple[Property, ...]


class Progression(SyntaxNode, frozen=True, gc=False):
    """Feeds from the easiest to the hardest."""

    name: Token
    rungs: tuple[FeedRef, ...]


class Param(SyntaxNode, frozen=True, gc=False):
    name: Token
    kind: Token
    default: Any  # Value, Mirrored or None


class Pattern(SyntaxNode, frozen=True, gc=False):
    name: Token
    params: tuple[Param, ...]
    body: Block


class Lesson(SyntaxNode, frozen=True, gc=False):
    planned: Value | None
    body: Block


class SeasonTime(SyntaxNode, frozen=True, gc=False):
    """``every DAY, … at TIME for T in "ZONE"``."""

    days: tuple[Token, ...]
    at: Token
    length: Value | None
    zone: Text | None


class SeasonFrom(SyntaxNode, frozen=True, gc=False):
    date: Token


class Days(SyntaxNode, frozen=True, gc=False):
    """One day, or each from one to another."""

    first: Token
    last: Token | None


class NoLesson(SyntaxNode, frozen=True, gc=False):
    days: tuple[Days, ...]


class WeekLine(SyntaxNode, frozen=True, gc=False):
    """``use``, ``watch``, ``aim`` or a weekday, and what is said of it."""

    word: Token
    text: Text


class Week(SyntaxNode, frozen=True, gc=False):
    first: Number
    last: Number | None
    theme: Text
    properties: tuple[WeekLine, ...]


class Season(SyntaxNode, frozen=True, gc=False):
    title: Text
    properties: tuple[SeasonTime | SeasonFrom | NoLesson | Week, ...]


class Expect(SyntaxNode, frozen=True, gc=False):
    expectations: tuple[Any, ...]


class Tree(SyntaxNode, frozen=True, gc=False):
    """A whole text."""

    items: tuple[Any, ...]
